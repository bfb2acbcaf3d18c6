"""How a part of the machine refuses impossible numbers: every wrong field, the bound and the value given."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fanwright.errors import InputError
from fanwright.words import Message, Value, listing, number, quantity, text


@dataclass(frozen=True)
class Bound:
    """A value and the range it must lie in, both ends included.

    Args:
        name: Its name for people.
        value: The value [SI].
        least: Least allowed [SI].
        most: Most allowed [SI].
        dimension: Key of ``quantities``; empty for a bare number.
    """

    name: str
    value: float
    least: float
    most: float
    dimension: str = ""


@dataclass(frozen=True)
class Order:
    """Two bounded values of which the first must be the smaller."""

    lower: Bound
    upper: Bound


def check_part(part: str, bounds: Iterable[Bound], orders: Iterable[Order] = (), *others: Message) -> None:
    """Refuse a part with all its mistakes at once.

    Args:
        part: Its name for people.
        bounds: What must lie in a range.
        orders: What must be smaller than what; looked at only where both lie in their ranges.
        others: Mistakes found elsewhere.

    Raises:
        InputError: One message for each mistake.

    Example:
        >>> check_part("belt", [Bound("ribs", 8, 1, 24)])
    """
    mistakes = [*others, *_outside(part, bounds), *_out_of_order(part, orders)]
    if mistakes:
        raise InputError(mistakes)


def not_one_of(name: str, given: object, allowed: tuple[object, ...]) -> tuple[Message, ...]:
    """Give the mistake of a word or number that is none of those allowed, or nothing.

    Example:
        >>> not_one_of("valve", "nc", ("nc", "no"))
        ()
    """
    if given in allowed and not isinstance(given, bool):
        return ()
    choices = listing(tuple(text(one) for one in allowed))
    return (
        Message(
            "{name} is {given}; allowed: {allowed}",
            {"name": text(name), "given": text(given), "allowed": choices},
        ),
    )


def _fits(bound: Bound) -> bool:
    return bound.least <= bound.value <= bound.most


def _outside(part: str, bounds: Iterable[Bound]) -> Iterator[Message]:
    for bound in bounds:
        if not _fits(bound):
            yield Message(
                "{part}: {name} is {given}, allowed is {least} to {most}; correct the number",
                {
                    "part": text(part),
                    "name": text(bound.name),
                    "given": _shown(bound.value, bound.dimension),
                    "least": _shown(bound.least, bound.dimension),
                    "most": _shown(bound.most, bound.dimension),
                },
            )


def _out_of_order(part: str, orders: Iterable[Order]) -> Iterator[Message]:
    for order in orders:
        lower, upper = order.lower, order.upper
        if _fits(lower) and _fits(upper) and not lower.value < upper.value:
            yield Message(
                "{part}: {lower} is {low} and {upper} is {high}, but {lower} must be smaller; correct one",
                {
                    "part": text(part),
                    "lower": text(lower.name),
                    "low": _shown(lower.value, lower.dimension),
                    "upper": text(upper.name),
                    "high": _shown(upper.value, upper.dimension),
                },
            )


def _shown(value: float, dimension: str) -> Value:
    if not math.isfinite(value):
        return text(value)
    return quantity(value, dimension) if dimension else number(value)
