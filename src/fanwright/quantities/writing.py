"""From SI to text in the units of a shop, as finely as the instrument resolves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from types import MappingProxyType

from fanwright.quantities.table import Unit, dimension, units

FINEST_INCH = 64
METRIC = {
    "pressure": "kPa",
    "pressure_absolute": "kPa",
    "length": "mm",
    "distance": "km",
    "power": "kW",
    "pressure_rate": "kPa/min",
}


@dataclass(frozen=True)
class Units:
    """Which unit a reader sees for each dimension.

    Args:
        chosen: Dimension key to unit name; what is not named keeps the table's unit.
        comma: Whether decimals are set off by a comma (Spanish, French).

    Example:
        >>> Units({"pressure": "bar"}).write(811000.0, "pressure", step_si=10000.0)
        '8.1 bar'
    """

    chosen: Mapping[str, str] = field(default_factory=dict)
    comma: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "chosen", MappingProxyType(dict(self.chosen)))

    def unit(self, dimension_key: str) -> Unit:
        """Give the unit this reader sees for a dimension."""
        return units()[self.chosen.get(dimension_key, dimension(dimension_key).show)]

    def write(self, si: float, dimension_key: str, step_si: float | None = None) -> str:
        """Write a quantity.

        Args:
            si: The value in SI.
            dimension_key: What it measures.
            step_si: The finest difference that is known, in SI; decides the decimals. Without it the
                finest difference people read of the unit counts [SI].

        Returns:
            Text that :func:`fanwright.quantities.read` reads back to within half a step.
        """
        unit = self.unit(dimension_key)
        number = _decimal(unit.from_si(si), step_si / unit.factor if step_si else unit.step)
        if step_si is None and unit.trim and "." in number:
            number = number.rstrip("0").rstrip(".")
        return f"{number.replace('.', ',') if self.comma else number} {unit.printed}"


def _decimal(value: float, step: float) -> str:
    places = max(0, math.ceil(-math.log10(step) - 1e-9)) if step > 0 else 0
    rounded = round(value, places)
    whole, _, after = f"{abs(rounded):.{places}f}".partition(".")
    if len(whole) > 3:
        whole = f"{int(whole):,}"
    sign = "-" if rounded < 0 else ""
    return sign + whole + ("." + after if after else "")


def write_fraction(si: float, finest: int = FINEST_INCH) -> str:
    """Write a length as the trade reads it off a rule: to the nearest fraction of an inch.

    Args:
        si: Length [m].
        finest: The smallest division, as its denominator [-].

    Returns:
        Text such as ``19/64 in``, ``5-1/2 in`` or ``2 in``.

    Example:
        >>> write_fraction(0.00873125)
        '11/32 in'
    """
    parts = Fraction(round(si / 0.0254 * finest), finest)
    sign, parts = ("-", -parts) if parts < 0 else ("", parts)
    whole, rest = divmod(parts, 1)
    if not rest:
        return f"{sign}{whole} in"
    lead = f"{whole}-" if whole else ""
    return f"{sign}{lead}{rest.numerator}/{rest.denominator} in"
