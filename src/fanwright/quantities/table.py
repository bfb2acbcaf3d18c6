"""The closed table of units and dimensions, read once from ``units.toml``."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:  # numpy is not needed to read a typed quantity, and costs a tenth of a second
    import numpy as np
    from numpy.typing import NDArray

Numbers = TypeVar("Numbers", float, "NDArray[np.float64]")


@dataclass(frozen=True)
class Unit:
    """One unit: ``si = (value + offset) * factor``.

    Args:
        name: Its name in the table, which is also how it is printed unless ``printed`` says otherwise.
        dimensions: What it can measure.
        factor: Factor to SI [SI unit per unit].
        offset: Added before the factor; other than 0 only for temperatures [unit].
        spellings: All ways it may be typed; the first is how it is printed.
        source: Where the factor comes from.
        step: The finest difference people read of it when nothing better is known [unit].
        trim: Whether trailing zeros are left away then.
    """

    name: str
    dimensions: tuple[str, ...]
    factor: float
    offset: float
    spellings: tuple[str, ...]
    source: str
    step: float
    trim: bool

    @property
    def printed(self) -> str:
        """How the unit is written."""
        return self.spellings[0]

    def to_si(self, value: Numbers) -> Numbers:
        """Turn numbers in this unit into SI."""
        return (value + self.offset) * self.factor

    def from_si(self, si: Numbers) -> Numbers:
        """Turn SI numbers into this unit."""
        return si / self.factor - self.offset


@dataclass(frozen=True)
class Dimension:
    """One kind of quantity: its name for people, its shown unit, and how its JSON keys end.

    Args:
        key: Its id, such as ``pressure`` (always gauge) or ``pressure_absolute``.
        name: Its name for people.
        show: The unit shown unless the shop says otherwise.
        json_ending: Ending of the JSON keys we write, such as ``kpa``.
        json_factor: SI per JSON unit.
        json_offset: SI value of the JSON zero.
    """

    key: str
    name: str
    show: str
    json_ending: str
    json_factor: float
    json_offset: float = 0.0

    def to_json(self, si: float) -> float:
        """Turn an SI value into the number we write."""
        return round((si - self.json_offset) / self.json_factor, 9)

    def spread_to_json(self, si: float) -> float:
        """Turn an SI difference, such as a standard uncertainty, into the number we write."""
        return round(si / self.json_factor, 9)


@cache
def units() -> MappingProxyType[str, Unit]:
    """Give all units by name."""
    return MappingProxyType(
        {
            name: Unit(
                name,
                tuple(entry["dimensions"]),
                float(entry["factor"]),
                float(entry.get("offset", 0.0)),
                tuple(entry["spellings"]),
                entry["source"],
                float(entry["step"]),
                bool(entry.get("trim", False)),
            )
            for name, entry in _data()["unit"].items()
        }
    )


@cache
def dimensions() -> MappingProxyType[str, Dimension]:
    """Give all dimensions by key."""
    return MappingProxyType(
        {
            key: Dimension(
                key,
                entry["name"],
                entry["show"],
                entry["json"],
                float(entry["json_factor"]),
                float(entry.get("json_offset", 0.0)),
            )
            for key, entry in _data()["dimension"].items()
        }
    )


def dimension(key: str) -> Dimension:
    """Give one dimension.

    Example:
        >>> dimension("pressure").to_json(689475.7293168)
        689.475729317
    """
    return dimensions()[key]


@cache
def units_of(dimension_key: str) -> tuple[Unit, ...]:
    """Give the units that measure a dimension, in the order of the table."""
    return tuple(unit for unit in units().values() if dimension_key in unit.dimensions)


@cache
def _data() -> dict[str, dict[str, dict[str, str]]]:
    found: dict[str, dict[str, dict[str, str]]] = tomllib.loads(
        resources.files(__package__).joinpath("units.toml").read_text("utf-8")
    )
    return found
