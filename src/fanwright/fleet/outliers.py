"""Trucks that stand apart from the others on their route in the same month.

Each truck is set against the middle and the spread of the *others*: the median, and 1.4826 times the median
distance from it, which for a bell curve is its standard deviation. Shares and rates are compared by their
logarithm, since trucks differ by factors. Beyond 3.5 of these (Iglewicz and Hoaglin 1993, from memory), the
truck's own uncertainty added in, it is called out. With fewer than 4 others nothing is said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fanwright.fleet.intervals import Interval

LEAST_PEERS = 4
APART = 3.5
SIGMA = 1.4826
LEAST_SPREAD = math.log(1.1)
"""Trucks closer than a tenth are never apart (assumption): a fleet of equals has hardly any spread."""


@dataclass(frozen=True)
class Outlier:
    """A truck that stands apart.

    Args:
        measure: What stands apart, such as ``fan_share``.
        more: Whether it has more than the others, else less.
        value: The truck's own value.
        peers: Middle of the others, with the ends of the middle 80 % of them.
        apart: How far apart, in spreads.
        of: How many others there are.
    """

    measure: str
    more: bool
    value: float
    peers: Interval
    apart: float
    of: int


def find_outliers(measure: str, values: Sequence[Interval | None], least: float) -> dict[int, Outlier | None]:
    """Set each truck of one route and month against the others.

    Args:
        measure: What is compared.
        values: The trucks' values; None where one has none.
        least: Values under this are taken as this: below it differences mean nothing.

    Returns:
        For each truck with a value and enough others its place, and the outlier or None.
    """
    places = [place for place, one in enumerate(values) if one is not None]
    known = [one for one in values if one is not None]
    logs = np.log(np.maximum(np.array([one.value for one in known]), least))
    found: dict[int, Outlier | None] = {}
    if len(known) <= LEAST_PEERS:
        return found
    for number, (place, one) in enumerate(zip(places, known, strict=True)):
        others = np.delete(logs, number)
        middle = float(np.median(others))
        spread = max(SIGMA * float(np.median(np.abs(others - middle))), LEAST_SPREAD)
        own = (one.sd or 0.0) / max(one.value, least)
        apart = (float(logs[number]) - middle) / math.hypot(spread, own)
        found[place] = None
        if abs(apart) > APART:
            low, high = (math.exp(float(end)) for end in np.percentile(others, [10.0, 90.0]))
            found[place] = Outlier(
                measure,
                apart > 0.0,
                one.value,
                Interval(math.exp(middle), low, high),
                abs(apart),
                len(others),
            )
    return found
