"""80 % intervals of what a truck's days add up to, by drawing days anew.

The day is the block: what happens within one day hangs together, two days of one truck are taken as
independent. Days are drawn with replacement (Efron 1979), 2 000 times from a fixed seed; the ends are the
10th and 90th percentile, moved away from the estimate by the square root of n/(n - 1) since a drawn sum of n
days spreads too little by that factor. With fewer than 5 days no interval is given.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from fanwright.fleet.model import Numbers

LEAST_DAYS = 5
DRAWS = 2_000
SEED = 20_260_414
TRIANGLE_80 = 1.354
"""Half the middle 80 % of a symmetric triangle, in its standard deviations: (1 - sqrt(0.2)) sqrt(6)."""


@dataclass(frozen=True)
class Interval:
    """A value with the ends of its 80 % interval, which are None where too few days were seen.

    Args:
        value: The value.
        low: Lower end, or None.
        high: Upper end, or None.
        sd: Standard deviation of the drawn values, or None.
    """

    value: float
    low: float | None = None
    high: float | None = None
    sd: float | None = None


@cache
def draws_of(days: int) -> Numbers:
    """Give how often each day is drawn: a row for each draw.

    Example:
        >>> draws_of(30).shape, int(draws_of(30).sum(axis=1).min())
        ((2000, 30), 30)
    """
    chance = np.random.default_rng(SEED)
    return chance.multinomial(days, np.full(days, 1.0 / days), DRAWS).astype(np.float64)


def ratio(above: Numbers, below: Numbers, draws: Numbers | None) -> Interval | None:
    """Give a ratio of sums over days, such as time told on over known time.

    Args:
        above: What is summed above, a value a day.
        below: What is summed below, a value a day.
        draws: Days drawn as ``draws_of`` gives them; None for no interval.

    Returns:
        The ratio and its interval; None where the sum below is nothing.

    Example:
        >>> found = ratio(np.full(10, 6.0), np.full(10, 60.0), draws_of(10))
        >>> found is not None and (found.value, found.low, found.high)
        (0.1, 0.1, 0.1)
    """
    whole = float(below.sum())
    if whole <= 0.0:
        return None
    value = float(above.sum()) / whole
    if draws is None or len(above) < LEAST_DAYS:
        return Interval(value)
    bottom = draws @ below
    drawn = (draws @ above)[bottom > 0.0] / bottom[bottom > 0.0]
    return _interval(value, drawn, len(above))


def total(each: Numbers, draws: Numbers | None) -> Interval:
    """Give a sum over days, with the interval of what as many days like these add up to."""
    value = float(each.sum())
    if draws is None or len(each) < LEAST_DAYS:
        return Interval(value)
    return _interval(value, draws @ each, len(each))


def _interval(value: float, drawn: Numbers, days: int) -> Interval:
    wider = math.sqrt(days / (days - 1.0))
    low, high = (value + wider * (float(end) - value) for end in np.percentile(drawn, [10.0, 90.0]))
    return Interval(value, max(min(low, value), 0.0), max(high, value), wider * float(drawn.std()))


def least(length_s: Numbers, sd_s: Numbers) -> Interval | None:
    """Give the shortest of some lengths; its interval is how finely its two ends were seen.

    Each end lies anywhere between two messages, so the length is a triangle.

    Args:
        length_s: The lengths [s].
        sd_s: Their standard uncertainties [s].

    Example:
        >>> least(np.array([61.0, 75.0]), np.array([0.41, 0.41])).value
        61.0
    """
    if not len(length_s):
        return None
    place = int(length_s.argmin())
    value, half = float(length_s[place]), TRIANGLE_80 * float(sd_s[place])
    return Interval(value, max(value - half, 0.0), value + half, float(sd_s[place]))
