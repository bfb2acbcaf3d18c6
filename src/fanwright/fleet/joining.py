"""All recordings of one truck joined: where they overlap each second is counted once.

A moment that several recordings tell of belongs to the one that begins first (of equals, the one whose key
comes first). A run that one recording breaks off and another takes up within 3 s is one run with one grip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fanwright.fleet.model import Days, FileDuty, Flags, Names, Numbers
from fanwright.fleet.spans import DAY_US, Moments, Spans, behind, by_day, common, union, without

TAKEN_UP_US = 3_000_000
"""Three periods of the fan drive's message, over which a recording does not bridge a gap either."""


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Runs of all recordings, cut to the moments that count, in order of time."""

    spans: Spans
    file: Moments
    starts: Flags
    start_seen: Flags
    end_seen: Flags
    reason: Names
    sd_s: Numbers
    slip_j: Numbers
    fan_j: Numbers


def joined(files: Sequence[FileDuty]) -> Days:
    """Join the recordings of one truck, whose clocks all tell the date.

    Args:
        files: The recordings, in any order.

    Returns:
        Its days.
    """
    ordered = sorted((one for one in files if len(one.known)), key=lambda one: (one.first_us, one.key))
    counted = _counted(ordered)
    overlap_us = sum(one.known.total_us - own.total_us for one, own in zip(ordered, counted, strict=True))
    engine = union(*(one.engine_on for one in files))
    told, reasons = _told(ordered, counted)
    pieces = _pieces(ordered, counted)
    runs = _runs(pieces)
    spans = (engine, union(*counted), told)
    days = np.unique(np.concatenate([by_day(one)[2] for one in (*spans, pieces.spans)]))
    engine_s, known_s, on_s = (_seconds(one, days) for one in spans)
    grip = runs.starts
    start_day = np.searchsorted(days, runs.spans.start_us // DAY_US)
    whole_ac = runs.start_seen & runs.end_seen & (runs.reason == "air_conditioning")
    return Days(
        days,
        engine_s,
        known_s,
        on_s,
        _sum(start_day[grip], np.ones(int(grip.sum())), len(days)),
        _sum(start_day, runs.slip_j, len(days)),
        _work(pieces, days),
        {name: _seconds(told.where(reasons == name), days) for name in _known(reasons)},
        {
            name: _sum(start_day[chosen], np.ones(int(chosen.sum())), len(days))
            for name in _known(runs.reason)
            for chosen in [grip & (runs.reason == name)]
        },
        runs.spans.start_us[whole_ac] // DAY_US,
        (runs.spans.end_us - runs.spans.start_us)[whole_ac] / 1e6,
        runs.sd_s[whole_ac],
        overlap_us / 1e6,
    )


def _known(names: Names) -> list[str]:
    return [str(name) for name in np.unique(names)] if len(names) else []


def _counted(ordered: Sequence[FileDuty]) -> list[Spans]:
    """Give for each recording the stretches that are counted from it."""
    counted: list[Spans] = []
    claimed, reach = Spans.of([]), np.iinfo(np.int64).min
    for one in ordered:
        if one.first_us >= reach:
            claimed, own = Spans.of([]), one.known
        else:
            own, _ = without(one.known, claimed)
        claimed, reach = union(claimed, own), max(reach, one.last_us)
        counted.append(own)
    return counted


def _told(ordered: Sequence[FileDuty], counted: Sequence[Spans]) -> tuple[Spans, Names]:
    parts, names = [Spans.of([])], [np.empty(0, object)]
    for one, own in zip(ordered, counted, strict=True):
        part, of = common(one.told_on, own)
        parts.append(part)
        names.append(one.told_for[of].astype(object))
    return behind(parts), np.concatenate(names)


def _pieces(ordered: Sequence[FileDuty], counted: Sequence[Spans]) -> _Pieces:
    found = [_cut(place, one, own) for place, (one, own) in enumerate(zip(ordered, counted, strict=True))]
    nothing = _Pieces(Spans.of([]), *_nothing())
    parts = [nothing, *found]
    spans = behind([part.spans for part in parts])
    order = np.lexsort((np.concatenate([part.file for part in parts]), spans.start_us))
    names = ("file", "starts", "start_seen", "end_seen", "reason", "sd_s", "slip_j", "fan_j")
    columns = [np.concatenate([getattr(part, name) for part in parts])[order] for name in names]
    return _Pieces(spans.where(order), *columns)


def _nothing() -> tuple[Moments, Flags, Flags, Flags, Names, Numbers, Numbers, Numbers]:
    flags, numbers = np.empty(0, np.bool_), np.empty(0)
    return np.empty(0, np.int64), flags, flags, flags, np.empty(0, object), numbers, numbers, numbers


def _cut(place: int, one: FileDuty, own: Spans) -> _Pieces:
    """Cut the runs of one recording to what is counted from it; a run of no length counts where it stands."""
    runs = one.runs
    spans = runs.spans
    if own is one.known:
        parts, of = spans, np.arange(len(runs))
    else:
        parts, of = common(spans, own)
    starts = parts.start_us == spans.start_us[of]
    ends = parts.end_us == spans.end_us[of]
    whole = np.maximum(spans.end_us - spans.start_us, 1)[of]
    share = np.where(starts & ends, 1.0, (parts.end_us - parts.start_us) / whole)
    slip, fan = (np.nan_to_num(runs.numbers[name][of]) * 1e6 for name in ("slip_energy_mj", "fan_energy_mj"))
    return _Pieces(
        parts,
        np.full(len(parts), place),
        starts,
        starts & ~runs.open_start[of],
        ends & ~runs.open_end[of],
        runs.reason[of].astype(object),
        np.nan_to_num(runs.numbers["duration_sd_s"][of]),
        np.where(starts, slip, 0.0),
        fan * share,
    )


def _runs(pieces: _Pieces) -> _Pieces:
    """Join pieces of different recordings that are one run; work of the fan is summed by piece elsewhere."""
    if not len(pieces.spans):
        return pieces
    start, end = pieces.spans.start_us, pieces.spans.end_us
    follows = (
        (pieces.file[1:] != pieces.file[:-1])
        & (start[1:] - end[:-1] <= TAKEN_UP_US)
        & ~pieces.end_seen[:-1]
        & ~pieces.start_seen[1:]
    )
    first = np.flatnonzero(np.append(True, ~follows))
    last = np.append(first[1:], len(start)) - 1
    return _Pieces(
        Spans(start[first], end[last]),
        pieces.file[first],
        pieces.starts[first],
        pieces.start_seen[first],
        pieces.end_seen[last],
        pieces.reason[first],
        np.hypot(pieces.sd_s[first], np.where(last > first, pieces.sd_s[last], 0.0)),
        pieces.slip_j[first],
        np.add.reduceat(pieces.fan_j, first),
    )


def _work(pieces: _Pieces, days: Moments) -> Numbers:
    """Share the work of each piece out over the days it lies in, by time."""
    cut, of, day = by_day(pieces.spans)
    whole = np.maximum(pieces.spans.end_us - pieces.spans.start_us, 1)[of]
    long = pieces.spans.end_us[of] > pieces.spans.start_us[of]
    share = np.where(long, (cut.end_us - cut.start_us) / whole, 1.0)
    return _sum(np.searchsorted(days, day), pieces.fan_j[of] * share, len(days))


def _seconds(spans: Spans, days: Moments) -> Numbers:
    cut, _, day = by_day(spans)
    return _sum(np.searchsorted(days, day), (cut.end_us - cut.start_us) / 1e6, len(days))


def _sum(place: Moments, value: Numbers, many: int) -> Numbers:
    return np.bincount(place, weights=value, minlength=many).astype(np.float64)
