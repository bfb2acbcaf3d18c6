"""From typed text such as ``11/32 in`` to SI: sign, number, thousands, decimal, fraction, one unit.

quantity = [sign] number [blank] unit
number   = whole ["." digits] | "." digits | whole "," digits (Spanish and French only)
         | digits "/" digits | digits ("-" | blank) digits "/" digits
whole    = digits | 1-3 digits, then full groups of three, all set apart by "," or all by a blank
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from fanwright.errors import QuantityError
from fanwright.quantities.table import Unit, dimension, units, units_of
from fanwright.words import Message, text

COMMA_LANGUAGES = ("es", "fr")

_BLANKS = str.maketrans(
    {"\u00a0": " ", "\u202f": " ", "\u2009": " ", "\t": " ", "\u2212": "-", "\u2044": "/"}
)
_WHOLE = r"(?:[1-9]\d{0,2}(?:,\d{3})+|[1-9]\d{0,2}(?: \d{3})+|\d+)"
_SHAPE = re.compile(
    rf"(?P<sign>[+-]?) ?(?:"
    rf"(?:(?P<units>\d+)(?:-| ))?(?P<top>\d+)/(?P<bottom>\d+)"
    rf"|(?P<comma>\d+,(?!\d{{3}}(?!\d))\d+)"
    rf"|(?P<decimal>{_WHOLE}(?:\.\d+)?|\.\d+)"
    rf")(?![\d.,]|/\d) ?(?P<unit>\S.*)?",
    re.ASCII,
)
MOST_DIGITS = 15


@dataclass(frozen=True)
class Quantity:
    """A typed quantity in SI, with how finely it was written.

    Args:
        si: The value in SI.
        dimension: What it measures.
        unit: The unit it was typed in.
        step_si: The last place typed, in SI: 0.1 s for ``2.1 s``, 1/64 in for ``19/64 in`` [SI].
        fraction: Whether it was typed as a fraction.
        typed: The text as given.
    """

    si: float
    dimension: str
    unit: Unit
    step_si: float
    fraction: bool
    typed: str


def read(typed: object, dimension_key: str, language: str = "en") -> Quantity:
    """Read a typed quantity of a known dimension.

    Args:
        typed: What was typed; anything but text is refused.
        dimension_key: What is asked for, such as ``pressure`` (gauge).
        language: ``en``, ``es`` or ``fr``; a decimal comma counts only in the last two.

    Returns:
        The quantity in SI.

    Raises:
        QuantityError: One message saying what is wrong and which units would do.

    Example:
        >>> round(read("11/32 in", "length").si * 1000, 5)
        8.73125
    """
    if not isinstance(typed, str):
        raise _refuse(
            "{typed} has no unit: {what} wants {units}, for example {example}", typed, dimension_key
        )
    cleaned = " ".join(typed.translate(_BLANKS).split())
    shape = _SHAPE.fullmatch(cleaned)
    if shape is None or _digits(shape) > MOST_DIGITS:
        raise _refuse(
            "{typed} is not a number with a unit: {what} wants {units}, for example {example}",
            typed,
            dimension_key,
        )
    if shape["comma"] and language not in COMMA_LANGUAGES:
        raise _refuse(
            "{typed} has a decimal comma: write a point; {what} wants {units}, for example {example}",
            typed,
            dimension_key,
        )
    number, step, fraction = _number(shape, typed, dimension_key)
    unit = _unit(shape["unit"], typed, dimension_key)
    signed = -number if shape["sign"] == "-" else number
    return Quantity(unit.to_si(signed), dimension_key, unit, step * unit.factor, fraction, typed)


def _digits(shape: re.Match[str]) -> int:
    """Count the digits of the number; more than a float holds would be changed silently."""
    number = "".join(shape[part] or "" for part in ("units", "top", "bottom", "comma", "decimal"))
    return sum(character.isdigit() for character in number)


def _number(shape: re.Match[str], typed: str, dimension_key: str) -> tuple[float, float, bool]:
    if shape["top"]:
        top, bottom = int(shape["top"]), int(shape["bottom"])
        if not 0 < bottom <= 1000 or (shape["units"] and top >= bottom):
            raise _refuse(
                "{typed} is not a proper fraction: {what} is written like {example} ({units})",
                typed,
                dimension_key,
            )
        return int(shape["units"] or 0) + top / bottom, 1 / bottom, True
    plain = shape["comma"].replace(",", ".") if shape["comma"] else re.sub(r"[, ]", "", shape["decimal"])
    return float(plain), 10.0 ** -len(plain.partition(".")[2]), False


def _unit(spelling: str | None, typed: str, dimension_key: str) -> Unit:
    if not spelling:
        raise _refuse(
            "{typed} has no unit: {what} wants {units}, for example {example}", typed, dimension_key
        )
    found = find_unit(spelling, dimension_key)
    if found is not None:
        return found
    known = any(spelling in unit.spellings for unit in units().values())
    raise _refuse(
        "{typed} does not measure {what}, which wants {units}, for example {example}"
        if known
        else "{typed} has a unit that is not in the table: {what} wants {units}, for example {example}",
        typed,
        dimension_key,
    )


def find_unit(spelling: str, dimension_key: str) -> Unit | None:
    """Find the unit of a dimension that is spelled so; upper and lower case are forgiven where one fits.

    Example:
        >>> find_unit("PSI", "pressure").name
        'psi'
    """
    wanted = units_of(dimension_key)
    for unit in wanted:
        if spelling in unit.spellings:
            return unit
    lower = spelling.casefold()
    close = [unit for unit in wanted if lower in {known.casefold() for known in unit.spellings}]
    return close[0] if len(close) == 1 else None


EXAMPLES = {
    "pressure": "118 psi",
    "pressure_absolute": "14.7 psia",
    "length": "11/32 in",
    "distance": "412,300 mi",
    "time": "0.8 s",
    "temperature": "-40 °F",
    "resistance": "14 ohm",
    "share": "98 %",
}


def _refuse(template: str, typed: object, dimension_key: str) -> QuantityError:
    spellings = ", ".join(unit.printed for unit in units_of(dimension_key))
    example = EXAMPLES.get(dimension_key) or "12 " + units_of(dimension_key)[0].printed
    shown = typed if isinstance(typed, str) else repr(typed)
    return QuantityError(
        Message(
            template,
            {
                "typed": text(f"«{shown[:60]}»"),
                "what": text(dimension(dimension_key).name),
                "units": text(spellings),
                "example": text(example),
            },
        )
    )
