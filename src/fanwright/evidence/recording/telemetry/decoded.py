"""Decoded signals of an MDF 4 file as a table of telemetry, a row a second."""

from __future__ import annotations

import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import FileError
from fanwright.evidence.recording.formats import LOCAL
from fanwright.evidence.recording.formats._mdf import (
    MASTER,
    VIRTUAL_MASTER,
    Channel,
    Group,
    Mdf,
    open_mdf,
)
from fanwright.evidence.recording.formats._mdf_values import times_us, values
from fanwright.evidence.recording.source import Source
from fanwright.evidence.recording.telemetry.columns import find_columns, looks_like
from fanwright.evidence.recording.telemetry.roles import Naming
from fanwright.evidence.recording.told import FAN_GAP_US
from fanwright.words import Message, text

SECOND_US = 1_000_000
MOST_SECONDS = 400 * 86_400
TIME = "time"


def is_decoded(source: Source, naming: Naming | None) -> bool:
    """Say whether a file holds no frames of a bus, but signals that make telemetry.

    Raises:
        FileError: The file is damaged.
    """
    mdf = open_mdf(source)
    return not mdf.bus_groups() and looks_like((TIME, *_signals(mdf)), naming)


def _signals(mdf: Mdf) -> dict[str, tuple[Group, Channel]]:
    """Give the signals by their name with the unit in brackets."""
    found: dict[str, tuple[Group, Channel]] = {}
    for group in mdf.groups:
        for channel in group.channels:
            if channel.kind not in (MASTER, VIRTUAL_MASTER):
                named = "".join((channel.name, " [", channel.unit, "]")) if channel.unit else channel.name
                found.setdefault(named, (group, channel))
    return found


def open_decoded(source: Source, naming: Naming) -> tuple[Any, tuple[str, ...]]:
    """Give a lazy table of the signals that are wanted, and the names of its columns.

    Each second has the last value of each signal, if that is at most 3 s old.

    Raises:
        FileError: Every mistake of the signals' names and units, or the file is damaged.
    """
    import polars

    mdf = open_mdf(source)
    known = _signals(mdf)
    layout = find_columns((TIME, *known), naming, str(source.path), dated=True)
    names = [column.name for column in layout.columns.values() if column.name in known]
    try:
        signals = {name: _read(mdf, *known[name]) for name in names}
    except (ValueError, struct.error) as error:
        raise FileError(
            Message("{file} is damaged: {reason}", {"file": text(source.path), "reason": text(error)})
        ) from error
    clock = mdf.start[1]
    stamps = {name: time for name, (time, _) in signals.items()}
    there = [one for one in stamps.values() if len(one)]
    first = min((int(one[0]) for one in there), default=0)
    last = max((int(one[-1]) for one in there), default=-1)
    if last - first > MOST_SECONDS * SECOND_US:
        raise FileError(Message("{file} is damaged: its times span years", {"file": text(source.path)}))
    grid = np.arange(first, last + 1, SECOND_US)
    zone = None if clock == LOCAL else "UTC"
    columns = {TIME: polars.Series(grid).cast(polars.Datetime("us")).dt.replace_time_zone(zone)}
    for name, (time, samples) in signals.items():
        columns[name] = polars.Series(_held(time, samples, grid), nan_to_null=True)
    return polars.LazyFrame(columns), tuple(columns)


def _read(mdf: Mdf, group: Group, channel: Channel) -> tuple[NDArray[np.int64], NDArray[Any]]:
    records = mdf.records(group)
    time, value = times_us(mdf, group, records), values(channel, records)
    order = np.argsort(time, kind="stable")
    return time[order], value[order]


def _held(time_us: NDArray[np.int64], samples: NDArray[Any], moments_us: NDArray[np.int64]) -> NDArray[Any]:
    """Give the last value at each moment; NaN, or empty text, where there is none fresh enough."""
    words = samples.dtype.kind in "SU"
    value = np.char.decode(samples, "latin-1") if samples.dtype.kind == "S" else samples
    if not words:
        value = value.astype(np.float64)
    nothing = np.full(len(moments_us), "" if words else np.nan, value.dtype)
    if not len(time_us):
        return nothing
    place = np.searchsorted(time_us, moments_us, side="right") - 1
    before = np.maximum(place, 0)
    fresh = (place >= 0) & (moments_us - time_us[before] <= FAN_GAP_US)
    return np.where(fresh, value[before], nothing)
