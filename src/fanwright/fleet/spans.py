"""Arithmetic of stretches of time: union, common part, difference, cut at midnight."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

DAY_US = 86_400_000_000
Moments = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Spans:
    """Stretches of time.

    Args:
        start_us: Where each begins [us].
        end_us: Where each ends [us].
    """

    start_us: Moments
    end_us: Moments

    @staticmethod
    def of(pairs: Iterable[tuple[int, int]]) -> Spans:
        """Take them from pairs of start and end."""
        table = np.array(list(pairs), np.int64).reshape(-1, 2)
        return Spans(table[:, 0], table[:, 1])

    def pairs(self) -> list[tuple[int, int]]:
        """Give them as pairs of start and end."""
        return list(zip(self.start_us.tolist(), self.end_us.tolist(), strict=True))

    def __len__(self) -> int:
        return len(self.start_us)

    def where(self, chosen: Any) -> Spans:
        """Give some of them."""
        return Spans(self.start_us[chosen], self.end_us[chosen])

    @property
    def total_us(self) -> int:
        """How long they last together, overlaps counted as often as they are there."""
        return int((self.end_us - self.start_us).sum())


def behind(parts: Iterable[Spans]) -> Spans:
    """Put stretches one behind the other as they are, overlaps and all.

    Example:
        >>> behind([Spans.of([(3, 5)]), Spans.of([(0, 4)])]).pairs()
        [(3, 5), (0, 4)]
    """
    held = [Spans.of([]), *parts]
    return Spans(
        np.concatenate([part.start_us for part in held]), np.concatenate([part.end_us for part in held])
    )


def union(*parts: Spans) -> Spans:
    """Join what overlaps or touches; the result is in order.

    Example:
        >>> union(Spans.of([(0, 5), (9, 12)]), Spans.of([(4, 7)])).pairs()
        [(0, 7), (9, 12)]
    """
    whole = behind(parts)
    start, end = whole.start_us, whole.end_us
    real = end > start
    order = np.argsort(start[real], kind="stable")
    start, end = start[real][order], end[real][order]
    if not len(start):
        return Spans(start, end)
    reach = np.maximum.accumulate(end)
    first = np.append(True, start[1:] > reach[:-1])
    starts = np.flatnonzero(first)
    last = np.append(starts[1:], len(start)) - 1
    return Spans(start[starts], reach[last])


def common(many: Spans, disjoint: Spans) -> tuple[Spans, Moments]:
    """Give the parts of stretches that lie in others, and which stretch each part is of.

    Args:
        many: Stretches in any order; they may overlap.
        disjoint: Stretches in order that do not overlap, as ``union`` gives them.

    Returns:
        The parts, in the order of ``many``, and for each the place of its stretch.

    Example:
        >>> parts, of = common(Spans.of([(0, 10), (20, 30)]), Spans.of([(5, 8), (9, 22)]))
        >>> parts.pairs(), of.tolist()
        ([(5, 8), (9, 10), (20, 22)], [0, 0, 1])
    """
    first = np.searchsorted(disjoint.end_us, many.start_us, side="right")
    last = np.searchsorted(disjoint.start_us, many.end_us, side="left")
    times = np.maximum(last - first, 0)
    of = np.repeat(np.arange(len(many)), times)
    within = (
        np.arange(int(times.sum())) - np.repeat(np.cumsum(times) - times, times) + np.repeat(first, times)
    )
    start = np.maximum(many.start_us[of], disjoint.start_us[within])
    end = np.minimum(many.end_us[of], disjoint.end_us[within])
    real = end > start
    return Spans(start[real], end[real]), of[real]


def without(many: Spans, disjoint: Spans) -> tuple[Spans, Moments]:
    """Give the parts of stretches that lie in none of others, and which stretch each part is of.

    Example:
        >>> parts, of = without(Spans.of([(0, 10), (20, 30)]), Spans.of([(5, 8), (9, 22)]))
        >>> parts.pairs(), of.tolist()
        ([(0, 5), (8, 9), (22, 30)], [0, 0, 1])
    """
    edge = np.iinfo(np.int64)
    gaps = Spans(np.append(edge.min, disjoint.end_us), np.append(disjoint.start_us, edge.max))
    return common(many, gaps)


def by_day(many: Spans) -> tuple[Spans, Moments, Moments]:
    """Cut stretches at midnight.

    Returns:
        The pieces, the place of the stretch each is of, and the day of each, counted from 1970-01-01.

    Example:
        >>> pieces, of, day = by_day(Spans.of([(DAY_US - 5, DAY_US + 7)]))
        >>> pieces.total_us, of.tolist(), day.tolist()
        (12, [0, 0], [0, 1])
    """
    first = many.start_us // DAY_US
    last = np.maximum((many.end_us - 1) // DAY_US, first)
    times = last - first + 1
    of = np.repeat(np.arange(len(many)), times)
    day = np.arange(int(times.sum())) - np.repeat(np.cumsum(times) - times, times) + np.repeat(first, times)
    start = np.maximum(many.start_us[of], day * DAY_US)
    end = np.minimum(many.end_us[of], (day + 1) * DAY_US)
    return Spans(start, end), of, day
