"""When a truck's use of its fan changed: a date, as an interval of days.

Each day's share (or grips an hour) is first set against the middle of the other trucks on its route on that
day, so that a warm week moves nobody. The best place to cut the days in two is the one with the smallest
spread within both parts (weighted by known time). It counts as a change when cuts of the same days in
shuffled order hardly ever do as well: the chance of one false alarm in a whole fleet is held at 5 % (beyond
500 rows of days at 1 in 10 000 a row). Neighbouring days stay together, in blocks of up to 3 where there are
at least 40 blocks: with fewer, shuffling cannot tell anything. The dates are those of the smallest set of
neighbouring places that holds 80 % of the likelihood, the spread unknown (Smith 1975, a change at an unknown
point, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.fleet.model import Numbers
from fanwright.fleet.spans import Moments

LEAST_PART = 5
"""Fewest days on either side."""
FALSE_ALARM = 0.05
LONGEST_BLOCK, LEAST_BLOCKS = 3, 40
MOST_SHUFFLES = 19_999
FIRST_SHUFFLES = 199
MOST_CHANGES = 4
SEED = 20_260_415


@dataclass(frozen=True)
class Change:
    """A change.

    Args:
        first_day: First day it can have been, counted from 1970-01-01: the first day of the new way.
        last_day: Last day it can have been.
        day: The likeliest.
        before: Level before it.
        after: Level after it.
        chance: Chance of so clear a cut without any change.
    """

    first_day: int
    last_day: int
    day: int
    before: float
    after: float
    chance: float


def find_changes(day: Moments, value: Numbers, weight: Numbers, tested: int) -> tuple[Change, ...]:
    """Find the changes in one row of days.

    Args:
        day: The days, in order, counted from 1970-01-01.
        value: What was seen each day, set against the peers.
        weight: Known time of each day [s].
        tested: How many rows are looked at in the whole fleet.

    Returns:
        The changes, in order of time.
    """
    found: list[Change] = []
    waiting = [(0, len(day))]
    while waiting and len(found) < MOST_CHANGES:
        first, last = waiting.pop(0)
        part = slice(first, last)
        change = _one(day[part], value[part], weight[part], tested)
        if change is not None:
            found.append(change)
            cut = first + int(np.searchsorted(day[part], change.day))
            waiting += [(first, cut), (cut, last)]
    return tuple(sorted(found, key=lambda one: one.day))


def _one(day: Moments, value: Numbers, weight: Numbers, tested: int) -> Change | None:
    if len(day) < 2 * LEAST_PART or float(np.ptp(value)) == 0.0:
        return None
    spread = _spread(value[None, :], weight[None, :])[0]
    best = int(spread.argmin())
    allowed = max(FALSE_ALARM / max(tested, 1), 2.0 / (MOST_SHUFFLES + 1))
    chance = _chance(value, weight, float(spread[best]), allowed)
    if chance > allowed:
        return None
    low, high = _eighty(_likelihood(spread, weight))
    cut = best + LEAST_PART
    return Change(
        int(day[low + LEAST_PART - 1]) + 1,
        int(day[high + LEAST_PART]),
        int(day[cut]),
        float(np.average(value[:cut], weights=weight[:cut])),
        float(np.average(value[cut:], weights=weight[cut:])),
        chance,
    )


def _spread(rows: Numbers, weights: Numbers) -> Numbers:
    """Give the weighted square sum within both parts for each place to cut, a row for each row of values."""
    sums, squares, heavy = (
        np.cumsum(one, axis=-1) for one in (weights * rows, weights * rows * rows, weights)
    )
    cut = slice(LEAST_PART - 1, rows.shape[-1] - LEAST_PART)
    left, left_weight = sums[:, cut], heavy[:, cut]
    right, right_weight = sums[:, -1:] - left, heavy[:, -1:] - left_weight
    within: Numbers = squares[:, -1:] - left**2 / left_weight - right**2 / right_weight
    return np.maximum(within, 1e-300)


def _chance(value: Numbers, weight: Numbers, best: float, allowed: float) -> float:
    """Give the chance that shuffled days are cut as well; shuffles stop early where it is clearly large."""
    chance = np.random.default_rng(SEED)
    done = as_good = 0
    wanted = min(MOST_SHUFFLES, int(10.0 / allowed))
    while done < wanted:
        many = min(FIRST_SHUFFLES if not done else 2_000, wanted - done)
        order = _shuffled(len(value), many, chance)
        rows = np.take(value, order)
        least = _spread(rows, np.take(weight, order)).min(axis=1)
        as_good += int((least <= best * (1.0 + 1e-12)).sum())
        done += many
        if as_good >= 5 and (as_good + 1) / (done + 1) > 2.0 * allowed:
            break
    return (as_good + 1) / (done + 1)


def _shuffled(days: int, many: int, chance: np.random.Generator) -> NDArray[np.int64]:
    """Give orders of the days in which blocks of neighbours stay together, beginning anywhere."""
    block = min(max(days // LEAST_BLOCKS, 1), LONGEST_BLOCK)
    blocks = -(-days // block)
    ranks = chance.random((many, blocks))
    turn = chance.integers(0, days, (many, 1))
    place = np.arange(days)
    key = np.repeat(ranks, block, axis=1)[:, :days] + place * 1e-12
    order: NDArray[np.int64] = (np.argsort(key, axis=1, kind="stable") + turn) % days
    return order


def _likelihood(spread: Numbers, weight: Numbers) -> Numbers:
    """Give how likely each place is, the levels and the spread unknown: both integrated out."""
    days = len(weight)
    left = np.arange(LEAST_PART, days - LEAST_PART + 1, dtype=np.float64)
    log = -0.5 * (days - 2) * np.log(spread) - 0.5 * np.log(left * (days - left))
    chance: Numbers = np.exp(log - log.max())
    chance /= chance.sum()
    return chance


def _eighty(chance: Numbers) -> tuple[int, int]:
    """Give the shortest stretch of neighbouring places that holds 80 %."""
    reach = np.append(0.0, np.cumsum(chance))
    last = np.searchsorted(reach, reach[:-1] + 0.8 - 1e-12)
    fits = last < len(reach)
    first = np.flatnonzero(fits)
    place = int(first[(last[fits] - first).argmin()])
    return place, int(last[place]) - 1
