"""Thin the rows of an episode to what a fit needs: fine where the drive moves, coarse where it stands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.signal import PSI, Grain, Series
from fanwright.virtual.story import Spans, Story

BUSY_PER_S, QUIET_PER_S = 160.0, 6.0
BUSY_PA_PER_S = 4.0 * PSI
BUSY_LOOK_S, BUSY_MARGIN_S = 0.04, 0.06
LONGEST_BUSY_S = 20.0
REOPENED_S = 1.5


@dataclass(frozen=True, eq=False)
class Thinned:
    """How rows are joined to points.

    Args:
        row_time_s: Times of the rows [s], shape (rows,).
        drive_pa: Pressure at the drive, a row each [Pa], shape (rows,).
        which: The point each row belongs to, shape (rows,).
        counts: Rows of each point, shape (points,).
        kept: Which points are used, shape (points,).
    """

    row_time_s: Series
    drive_pa: Series
    which: NDArray[np.intp]
    counts: Series
    kept: NDArray[np.bool_]

    @property
    def time_s(self) -> Series:
        """Times of the points used [s]."""
        return self.mean(self.row_time_s)

    def mean(self, rows: Series) -> Series:
        """Give the mean of the rows of each point used."""
        return (np.bincount(self.which, rows) / self.counts)[self.kept]

    def sd(self, grain: Grain, model_pa: float) -> Series:
        """Give the standard uncertainty of each point [Pa]; a division averages out where noise stirs it."""
        fixed = grain.division_pa**2 / 12.0
        stirred = grain.noise_pa > 0.4 * grain.division_pa
        shared = grain.noise_pa**2 + (fixed if stirred else 0.0)
        found: Series = np.sqrt(shared / self.counts + (0.0 if stirred else fixed) + model_pa**2)
        return found[self.kept]

    @property
    def top_pa(self) -> float:
        """The highest the drive stood [Pa]."""
        return float((np.bincount(self.which, self.drive_pa) / self.counts).max())

    def rows_rising(self, send_s: float) -> int:
        """Count the rows in which a fill rises through the middle of its way."""
        part = self.drive_pa[int(np.searchsorted(self.row_time_s, send_s)) :]
        full = int(np.argmax(part >= 0.9 * self.top_pa)) if part.size else 0
        below = np.flatnonzero(part[:full] <= 0.1 * self.top_pa)
        return full - (int(below[-1]) + 1 if below.size else 0)

    def rows_falling(self, cut_s: float) -> int:
        """Count the rows in which a vent falls through the middle of its way."""
        first = int(np.searchsorted(self.row_time_s, cut_s))
        part = self.drive_pa[first:]
        if part.size < 2:
            return 0
        stood = self._stood(first)
        empty = part <= 0.1 * stood
        end = int(np.argmax(empty)) if empty.any() else part.size
        above = np.flatnonzero(part[:end] >= 0.9 * stood)
        return end - (int(above[-1]) + 1 if above.size else 0)

    def fell_pa(self, cut_s: float) -> float:
        """Say how far the drive fell after a moment [Pa]."""
        first = min(int(np.searchsorted(self.row_time_s, cut_s)), self.row_time_s.size - 1)
        points = np.bincount(self.which, self.drive_pa) / self.counts
        return self._stood(first) - float(points[self.which[first] :].min())

    def _stood(self, row: int) -> float:
        mine = self.which == self.which[max(row - 1, 0)]
        return float(self.drive_pa[mine].mean())


def thin(time_s: Series, drive: Series, grain: Grain, story: Story, cut: float | None) -> Thinned:
    """Join rows to points.

    Args:
        time_s: Times of the rows [s], shape (n,).
        drive: Pressure at the drive [Pa], shape (n,).
        grain: Noise and division of its gauge.
        story: What was done; no point reaches over a switch.
        cut: When air was cut off [s], or None.
    """
    marks = [moment for pair in (*story.sent, *story.shut) for moment in pair]
    which = _points(time_s, _busy(time_s, drive, grain), marks)
    counts = np.bincount(which).astype(float)
    step = float(np.median(np.diff(time_s)))
    return Thinned(
        time_s, drive, which, counts, _kept(np.bincount(which, time_s) / counts, story.shut, cut, step)
    )


def _busy(time_s: Series, drive: Series, grain: Grain) -> NDArray[np.bool_]:
    """Say where the drive moves faster than noise would let it seem to."""
    usual = max(float(np.median(np.diff(time_s))), 1e-9)
    width = max(1, round(BUSY_LOOK_S / usual))
    if time_s.size <= 2 * width:
        return np.ones(time_s.size, bool)
    total = np.cumsum(np.concatenate(([0.0], drive)))
    mean = (total[width:] - total[:-width]) / width
    rate = np.abs(mean[width:] - mean[:-width]) / (width * usual)
    noise = grain.row_sd_pa * math.sqrt(2.0 / width) / (width * usual)
    busy = np.zeros(time_s.size, bool)
    busy[np.flatnonzero(rate > BUSY_PA_PER_S + 4.0 * noise) + width] = True
    reach = round(BUSY_MARGIN_S / usual) + width
    near = np.cumsum(np.concatenate((np.zeros(reach + 1, int), busy, np.zeros(reach, int))))
    wide: NDArray[np.bool_] = near[2 * reach + 1 :] > near[: -2 * reach - 1]
    return wide


def _points(time_s: Series, busy: NDArray[np.bool_], marks: Sequence[float]) -> NDArray[np.intp]:
    steps = np.diff(time_s, prepend=time_s[0])
    spent = np.cumsum(np.where(busy, steps, 0.0))
    density = np.where(busy & (spent < LONGEST_BUSY_S), BUSY_PER_S, QUIET_PER_S)
    place = np.floor(np.cumsum(density * steps)).astype(np.intp)
    for mark in marks:
        place[np.searchsorted(time_s, mark) :] += 1
    which: NDArray[np.intp] = np.cumsum(np.diff(place, prepend=place[0]) > 0)
    return which


def _kept(moments: Series, shut: Spans, cut: float | None, step_s: float) -> NDArray[np.bool_]:
    """Leave out points where it matters at what moment within a row the shut-off was turned."""
    kept = np.ones(moments.size, bool)
    for begin, until in shut:
        kept &= np.abs(moments - begin) > step_s
        later = until + REOPENED_S if cut is None or cut < until else min(until + REOPENED_S, cut)
        kept &= (moments < until - step_s) | (moments > later)
    return kept if kept.any() else np.ones(moments.size, bool)
