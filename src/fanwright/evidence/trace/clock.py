"""Put the time stamps of a logger in order: midnight, stamps that repeat or run backwards, gaps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

BLOCK = 1 << 18
MOST_STEPS = 1 << 20
DAY_S = 86400.0
GAP_INTERVALS = 5.0


@dataclass(frozen=True, eq=False)
class Order:
    """Which rows can stand in time order.

    Args:
        keep: Rows whose stamp is later than all before, shape (n,).
        repeated: Rows that repeat a stamp.
        backward: Rows whose stamp lies before an earlier row's, or far ahead of the next.
    """

    keep: NDArray[np.bool_]
    repeated: int
    backward: int


@dataclass(frozen=True)
class Gaps:
    """How the rows follow each other.

    Args:
        interval_s: The usual step between two rows [s].
        gaps: Steps of more than five usual ones.
        longest_s: The longest of them [s].
    """

    interval_s: float
    gaps: int
    longest_s: float


def unroll_days(time_s: NDArray[np.float64]) -> None:
    """Add a day, in place, after each step back of more than half a day: a clock that passed midnight."""
    steps = np.flatnonzero(np.diff(time_s) < -DAY_S / 2)
    for place in steps:
        time_s[place + 1 :] += DAY_S


def order(time_s: NDArray[np.float64]) -> Order:
    """Find the rows that stand in time order.

    Args:
        time_s: Time stamps as logged [s], shape (n,).

    Returns:
        The rows to keep, and the others counted. A single stamp far ahead is dropped itself, not all
        rows after it.

    Example:
        >>> order(np.array([0.0, 1.0, 99.0, 2.0, 2.0, 1.5, 3.0])).backward
        2
    """
    keep = np.ones(time_s.size, bool)
    if time_s.size > 2:
        middle = time_s[1:-1]
        keep[1:-1] = ~((middle > time_s[2:]) & (time_s[2:] > time_s[:-2]))
    ahead = int(time_s.size - keep.sum())
    latest, repeated, backward = -np.inf, 0, ahead
    for start in range(0, time_s.size, BLOCK):
        part = slice(start, start + BLOCK)
        stamps = np.where(keep[part], time_s[part], -np.inf)
        before = np.maximum.accumulate(np.concatenate(([latest], stamps)))
        late, same = stamps > before[:-1], stamps == before[:-1]
        repeated += int((same & keep[part]).sum())
        backward += int((~late & ~same & keep[part]).sum())
        keep[part] &= late
        latest = before[-1]
    return Order(keep, repeated, backward)


def gaps(time_s: NDArray[np.float64]) -> Gaps:
    """Measure the usual step and the gaps.

    Args:
        time_s: Time stamps in order [s], shape (n,), at least two.

    Example:
        >>> gaps(np.array([0.0, 1.0, 2.0, 3.0, 10.0])).gaps
        1
    """
    stride = max(1, time_s.size // MOST_STEPS)
    usual = float(np.median(time_s[1::stride] - time_s[:-1:stride][: time_s[1::stride].size]))
    found, longest = 0, 0.0
    for start in range(0, time_s.size - 1, BLOCK):
        steps = np.diff(time_s[start : start + BLOCK + 1])
        wide = steps > GAP_INTERVALS * usual
        found += int(wide.sum())
        longest = max(longest, float(steps[wide].max(initial=0.0)))
    return Gaps(usual, found, longest)
