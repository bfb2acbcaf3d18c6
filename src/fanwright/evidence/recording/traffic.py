"""Kept frames sorted out: one stretch of clock, copies dropped, one sender chosen for each signal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.recording.intake import Border, Columns
from fanwright.evidence.recording.loops.frames import FAN_STREAM
from fanwright.evidence.recording.signals import Layout

COPY_US = 2_000
"""The same frame within this on another channel, or as an echo of a sent one, is a copy (assumption)."""
DIFFERENT_SHARE = 0.1


@dataclass(frozen=True, eq=False)
class Series:
    """The valid values of one signal from one sender.

    Args:
        time_us: Time stamps [us].
        value: Values [SI, or a code].
        sender: Source address of the sender.
    """

    time_us: NDArray[np.int64]
    value: NDArray[np.float64]
    sender: int

    def at(self, moments_us: NDArray[np.int64], most_age_us: int) -> NDArray[np.float64]:
        """Give the last value at or before each moment, else the first soon after; NaN where none is near."""
        if not len(self.time_us):
            return np.full(len(moments_us), np.nan)
        place = np.searchsorted(self.time_us, moments_us, side="right")
        before, after = np.maximum(place - 1, 0), np.minimum(place, len(self.time_us) - 1)
        old = np.abs(moments_us - self.time_us[before]) <= most_age_us
        soon = np.abs(self.time_us[after] - moments_us) <= most_age_us
        use_before = (place > 0) & old
        found = np.where(use_before, self.value[before], self.value[after])
        return np.where(use_before | soon, found, np.nan)

    def first_from(self, moments_us: NDArray[np.int64], within_us: int) -> NDArray[np.float64]:
        """Give the first value at or after each moment; NaN where none comes within the time."""
        if not len(self.time_us):
            return np.full(len(moments_us), np.nan)
        place = np.searchsorted(self.time_us, moments_us, side="left")
        after = np.minimum(place, len(self.time_us) - 1)
        near = (place < len(self.time_us)) & (self.time_us[after] - moments_us <= within_us)
        return np.where(near, self.value[after], np.nan)

    def between(self, start_us: int, end_us: int) -> Series:
        """Give the part between two moments, ends included."""
        first, last = np.searchsorted(self.time_us, [start_us, end_us + 1])
        return Series(self.time_us[first:last], self.value[first:last], self.sender)


class Traffic:
    """The frames of one stretch of clock, sorted by message and time.

    Args:
        columns: The frames.
        layout: What is in them.
        series: Signals that are already known, by key, and come from no frame.
    """

    def __init__(self, columns: Columns, layout: Layout, series: Mapping[str, Series] | None = None) -> None:
        order = np.argsort(columns.stream, kind="stable")
        self._columns = columns.rows(order)
        self._layout = layout
        self._first = np.searchsorted(self._columns.stream, np.arange(66))
        self._series: dict[str, Series | None] = dict(series or {})

    def frames(self, group: int) -> Columns:
        """Give the frames of a message, in order of time."""
        stream = self._layout.streams.get(group)
        if stream is None:
            return self._columns.rows(slice(0, 0))
        return self._columns.rows(slice(self._first[stream.number], self._first[stream.number + 1]))

    def senders(self, key: str) -> tuple[int, ...]:
        """Give the senders of a signal's message, the preferred one first."""
        signal = self._layout.signals[key]
        columns = self.frames(signal.group)
        if not len(columns.ident):
            return ()
        _, valid = signal.raw(columns)
        addresses, many = np.unique(columns.ident[valid] & 0xFF, return_counts=True)
        ranked = sorted(zip(addresses, many, strict=True), key=lambda pair: (pair[0] != 0, -pair[1], pair[0]))
        return tuple(int(address) for address, _ in ranked)

    def series(self, key: str) -> Series | None:
        """Give the valid values of a signal from its best sender: the engine, else who says most."""
        if key not in self._series:
            self._series[key] = self._read(key)
        return self._series[key]

    def _read(self, key: str) -> Series | None:
        signal = self._layout.signals[key]
        columns = self.frames(signal.group)
        value, valid = signal.read(columns)
        sender = (columns.ident & 0xFF).astype(np.uint8)
        if not valid.any():
            return None
        best = 0 if (valid & (sender == 0)).any() else int(np.bincount(sender[valid]).argmax())
        chosen = valid & (sender == best)
        if chosen.all():
            return Series(columns.time_us, value, best)
        return Series(columns.time_us[chosen], value[chosen], best)

    @cached_property
    def last_us(self) -> int:
        """The last time stamp [us]."""
        return int(self._columns.time_us.max())


def stretches_of_clock(columns: Columns, borders: Sequence[Border]) -> list[Columns]:
    """Cut the frames where the clock steps back, and sort each part by time."""
    cuts = [border.row for border in borders if border.after_us < border.before_us]
    edges = [0, *cuts, len(columns.time_us)]
    parts = []
    for first, last in pairwise(edges):
        part = columns.rows(slice(first, last))
        if len(part.time_us) and (np.diff(part.time_us) < 0).any():
            part = part.rows(np.argsort(part.time_us, kind="stable"))
        if len(part.time_us):
            parts.append(part)
    return parts


def without_copies(columns: Columns) -> tuple[Columns, int]:
    """Drop frames that another channel or an echo brought a second time; give how many."""
    order = np.lexsort((columns.time_us, columns.payload, columns.ident))
    ident, payload, time = columns.ident[order], columns.payload[order], columns.time_us[order]
    same = (ident[1:] == ident[:-1]) & (payload[1:] == payload[:-1]) & (np.diff(time) <= COPY_US)
    keep = np.ones(len(order), np.bool_)
    keep[order[1:][same]] = False
    return columns.rows(keep), int(same.sum())


def best_channel(counts: NDArray[np.int64]) -> int:
    """Find the channel that says most of the fan drive, else most of the engine, else most.

    Args:
        counts: Frames by channel and message.
    """
    ranked: list[Any] = [
        tuple(row) for row in np.stack([counts[:, FAN_STREAM], counts[:, 1], counts.sum(1)], 1)
    ]
    return max(range(len(ranked)), key=lambda place: ranked[place])


def channels_differ(columns: Columns) -> bool:
    """Say whether two channels tell different things of one fan drive: two trucks, or two unlike copies."""
    fan = columns.rows(columns.stream == FAN_STREAM)
    channels, many = np.unique(fan.channel, return_counts=True)
    if len(channels) < 2:
        return False
    shared = np.intersect1d(
        *(fan.ident[fan.channel == channel] for channel in channels[np.argsort(-many)[:2]])
    )
    return len(shared) > 0
