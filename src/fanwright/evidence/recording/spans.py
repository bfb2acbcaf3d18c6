"""Stretches of time as pairs of arrays: which moments lie in them, what two of them share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Times = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Spans:
    """Stretches in order that do not overlap.

    Args:
        start_us: Where each begins [us].
        end_us: Where each ends [us].
    """

    start_us: Times
    end_us: Times

    @staticmethod
    def of(time_us: Times, longest_us: int) -> Spans:
        """Give the stretches in which no two moments in order are further apart than given.

        Example:
            >>> found = Spans.of(np.array([0, 1, 2, 9, 10]), 3)
            >>> found.start_us.tolist(), found.end_us.tolist()
            ([0, 9], [2, 10])
        """
        if not len(time_us):
            return Spans(time_us, time_us)
        cuts = np.flatnonzero(np.diff(time_us) > longest_us)
        return Spans(time_us[np.append(0, cuts + 1)], time_us[np.append(cuts, len(time_us) - 1)])

    @staticmethod
    def union(several: list[Spans]) -> Spans:
        """Give the stretches that lie in any of several."""
        start = np.concatenate([one.start_us for one in several])
        end = np.concatenate([one.end_us for one in several])
        if not len(start):
            return Spans(start, end)
        order = np.argsort(start, kind="stable")
        start, furthest = start[order], np.maximum.accumulate(end[order])
        first = np.append(True, start[1:] > furthest[:-1])
        return Spans(start[first], furthest[np.append(np.flatnonzero(first)[1:] - 1, len(start) - 1)])

    @property
    def total_us(self) -> int:
        """How long they last together [us]."""
        return int((self.end_us - self.start_us).sum())

    def hold(self, time_us: Times) -> NDArray[np.bool_]:
        """Say which moments lie in them, ends included."""
        if not len(self.start_us):
            return np.zeros(len(time_us), np.bool_)
        place = np.searchsorted(self.start_us, time_us, side="right") - 1
        inside: NDArray[np.bool_] = (place >= 0) & (time_us <= self.end_us[np.maximum(place, 0)])
        return inside

    def common(self, other: Spans) -> Spans:
        """Give the stretches that lie in both.

        Example:
            >>> one = Spans(np.array([0, 20]), np.array([10, 30]))
            >>> one.common(Spans(np.array([5]), np.array([25]))).total_us
            10
        """
        edges = np.unique(np.concatenate([self.start_us, self.end_us, other.start_us, other.end_us]))
        start, end = edges[:-1], edges[1:]
        both = self._open_after(start) & other._open_after(start)
        return Spans(start[both], end[both])

    def _open_after(self, moment_us: Times) -> NDArray[np.bool_]:
        """Say behind which moments a stretch goes on."""
        begun = np.searchsorted(self.start_us, moment_us, side="right")
        over = np.searchsorted(self.end_us, moment_us, side="right")
        return np.asarray(begun > over)
