"""The one way a law refuses what lies outside its range: all mistakes together, each with what would do."""

from __future__ import annotations

import math

from fanwright.errors import OutOfRange
from fanwright.words import Message, Value, number, quantity, text

Asked = tuple[str, float, float, float, str]


def check(*asked: Asked) -> None:
    """Refuse values that lie outside a law's range.

    Args:
        asked: For each argument its plain name, its value, the lowest and the highest allowed value, and its
            dimension (key of ``quantities``; empty for a bare number).

    Raises:
        OutOfRange: One message for each value outside, with the nearest value that would do.

    Example:
        >>> check(("critical ratio", 0.3, 0.0, 0.9, ""))
    """
    wrong = [_refusal(*one) for one in asked if not one[2] <= one[1] <= one[3]]
    if wrong:
        raise OutOfRange(wrong)


def _refusal(what: str, given: float, low: float, high: float, dimension: str) -> Message:
    bounds = {"what": text(what), "low": _shown(low, dimension), "high": _shown(high, dimension)}
    if math.isnan(given):
        return Message("{what} is not a number: give one from {low} to {high}", bounds)
    nearest = min(max(given, low), high)
    return Message(
        "{what} of {given} lies outside {low} to {high}: the nearest possible is {nearest}",
        {**bounds, "given": _shown(given, dimension), "nearest": _shown(nearest, dimension)},
    )


def _shown(value: float, dimension: str) -> Value:
    return quantity(value, dimension) if dimension else number(value)
