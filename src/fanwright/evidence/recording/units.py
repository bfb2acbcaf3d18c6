"""A wrong unit of time noticed from the messages that come once a second."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np

from fanwright.evidence.recording.formats import Format
from fanwright.evidence.recording.intake import Columns, Fill, Intake
from fanwright.evidence.recording.signals import Layout
from fanwright.evidence.recording.source import Source

PROBE_BYTES = 384 * 1024
LEAST_INTERVALS = 3
NEAR = 0.25
FACTORS = (1_000, 1_000_000)


class _Beginning(Source):
    """Only the first stretch of a file."""

    @contextmanager
    def opened(self, silent: bool = False) -> Iterator[Fill]:
        """Open the file; what is given fills memory with its first bytes only."""
        with super().opened(silent=True) as fill:
            left = PROBE_BYTES

            def some(room: memoryview) -> int:
                nonlocal left
                fresh = fill(room[:left]) if left else 0
                left -= fresh
                return fresh

            yield some


def find_ratio(source: Source, kind: Format, layout: Layout) -> tuple[int, int]:
    """Find by what the file's time stamps must be multiplied, as a whole number over a whole number.

    Messages that come once a second and seem to come every 1000 s, or every millisecond, show that the stamps
    are in another unit than the file says.
    """
    if not getattr(kind, "PROBE", True):
        return 1, 1
    intake = Intake(layout.numbers)
    kind.read(_Beginning(source.path), intake)
    period_us = _period_us(intake.columns(), layout)
    if period_us is None:
        return 1, 1
    for factor in FACTORS:
        if abs(math.log(period_us / (1e6 * factor))) < NEAR:
            return 1, factor
        if abs(math.log(period_us * factor / 1e6)) < NEAR:
            return factor, 1
    return 1, 1


def _period_us(columns: Columns, layout: Layout) -> float | None:
    periods = []
    for stream in layout.streams.values():
        if not stream.period_us:
            continue
        mine = columns.rows(columns.stream == stream.number)
        for ident in np.unique(mine.ident):
            for channel in np.unique(mine.channel):
                time = mine.time_us[(mine.ident == ident) & (mine.channel == channel)]
                steps = np.diff(time)
                if len(steps) >= LEAST_INTERVALS and np.median(steps) > 0:
                    periods.append(float(np.median(steps)))
    return float(np.median(periods)) if periods else None
