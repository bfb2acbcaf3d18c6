"""Numbers of the paper: values as finely as they were read, limits as the trade writes them."""

from __future__ import annotations

from fanwright.evidence.reading import Reading
from fanwright.quantities import Units, write_fraction
from fanwright.quantities.writing import FINEST_INCH
from fanwright.report.say import Reader, say
from fanwright.words import Message, outcome

_INCH = 0.0254
_NEARLY = 1e-3  # of the value; limits are stated with two or three digits


def plain(si: float, dimension: str, units: Units) -> str:
    """Write a stated number, such as a limit, with the fewest digits that keep it to a thousandth.

    Args:
        si: The number [SI].
        dimension: What it measures.
        units: The reader's units.

    Returns:
        Text such as ``90 psi``, ``1.5 s`` or, for lengths read off a rule, ``1/4 in``.

    Example:
        >>> plain(0.00635, "length", Units()), plain(0.007112, "length", Units())
        ('1/4 in', '0.280 in')
    """
    unit = units.unit(dimension)
    if dimension == "length" and unit.printed == "in":
        return write_fraction(si) if _is_fraction(si) else units.write(si, dimension)
    value = unit.from_si(si)
    places = next((n for n in range(6) if abs(round(value, n) - value) <= _NEARLY * abs(value)), 6)
    return units.write(si, dimension, step_si=unit.factor * 10.0**-places)


def _is_fraction(si: float) -> bool:
    parts = si / _INCH * FINEST_INCH
    return abs(parts - round(parts)) < 1e-6 * max(1.0, parts)


def measured(si: float, dimension: str, units: Units, division_si: float, sd_si: float = 0.0) -> str:
    """Write a reading as finely as its instrument resolves.

    Args:
        si: The value [SI].
        dimension: What it measures.
        units: The reader's units.
        division_si: Its scale division, or 0 [SI].
        sd_si: Its standard uncertainty, taken where there is no division [SI].

    Returns:
        Text such as ``2.1 s``; a length read off a rule in parts of an inch stays a fraction.

    Example:
        >>> measured(0.0254 * 19 / 64, "length", Units(), 0.0254 / 64)
        '19/64 in'
    """
    inches = dimension == "length" and units.unit(dimension).printed == "in"
    if inches and division_si > 0.0 and _is_fraction(division_si) and _is_fraction(si):
        return write_fraction(si)
    if inches:
        return units.write(si, dimension, step_si=0.001 * _INCH)
    return units.write(si, dimension, step_si=division_si or sd_si or None)


def reading_words(reading: Reading, reader: Reader) -> str:
    """Write what a reading says: its value, else its outcome in words.

    Args:
        reading: The reading.
        reader: Who reads.

    Returns:
        Text such as ``118 psi`` or ``clear and points down``.
    """
    test = reader.catalogue.tests.get(reading.test)
    if reading.measured is not None and test is not None and test.dimension:
        value = reading.measured
        return measured(value.si, test.dimension, reader.units, 2.0 * value.half_width_si, value.normal_sd_si)
    return say(Message("{word}", {"word": outcome(reading.test, reading.outcome)}), reader)
