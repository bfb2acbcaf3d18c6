"""A change of the wear rate in the past: whether, between which readings, by how much."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.life.history import History, Noted
from fanwright.life.nodes import Nodes

SURE = 0.7
HOLDS = 0.8
"""A change is told when it is this probable, and dated to the fewest readings that hold this share of it."""

LEAST_RATIO = 1.5


@dataclass(frozen=True)
class Change:
    """A change of the wear rate.

    Args:
        after: Usage of the last reading surely before it [m or s].
        before: Usage of the first reading surely after it [m or s].
        after_date: Date of the former, or None.
        before_date: Date of the latter, or None.
        chance: Chance that the rate changed by half or more within the readings [-].
        ratio: New rate over old, in the middle [-].
        noted: What was done to the truck in that time: only this can name a day.
    """

    after: float
    before: float
    after_date: dt.date | None
    before_date: dt.date | None
    chance: float
    ratio: float
    noted: tuple[Noted, ...] = ()


def find_change(mixture: Nodes, row: int, history: History) -> Change | None:
    """Look for a change of rate in one truck's nodes.

    Args:
        mixture: The nodes of a batch.
        row: The truck in it.
        history: The readings of that truck.

    Returns:
        The change, or None where none is probable enough to be told.
    """
    if len(history.readings) < 3:
        return None
    ratio = np.log(mixture.rate[row].clip(1e-6) / mixture.before[row].clip(1e-6))
    weight = np.where(np.abs(ratio) >= np.log(LEAST_RATIO), mixture.weight[row], 0.0)
    told = float(weight[mixture.interval >= 0].sum())
    if told < SURE:
        return None
    by_interval = np.array([weight[mixture.interval == at].sum() for at in range(len(history.readings) - 1)])
    first, last = _fewest(by_interval / told)
    middle = float(np.exp(np.sum(weight * ratio) / told))
    start, end = history.readings[first], history.readings[last + 1]
    return Change(
        start.usage, end.usage, start.date, end.date, told, middle, _between(history, start.date, end.date)
    )


def _between(history: History, after: dt.date | None, before: dt.date | None) -> tuple[Noted, ...]:
    if after is None or before is None:
        return ()
    return tuple(one for one in history.noted if after <= one.date < before)


def _fewest(share: NDArray[np.float64]) -> tuple[int, int]:
    """Give the shortest run of intervals that holds enough of the change."""
    wide = len(share)
    runs = [(first, last) for length in range(wide) for first, last in _runs(wide, length)]
    return next(run for run in runs if share[run[0] : run[1] + 1].sum() >= HOLDS)


def _runs(wide: int, length: int) -> list[tuple[int, int]]:
    return [(first, first + length) for first in range(wide - length)]
