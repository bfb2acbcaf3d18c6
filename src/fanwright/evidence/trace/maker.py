"""Make evidence out of a pressure trace: read, put right, cut into phases, time, measure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fanwright.evidence.reading import Evidence
from fanwright.evidence.trace.exhibit import Stroke, TraceExhibit
from fanwright.evidence.trace.levels import Level, hold, line, lowest, settled, together
from fanwright.evidence.trace.phases import Phase, find_phases
from fanwright.evidence.trace.reader import SLOWEST_INTERVAL_S, RawTrace, read_file
from fanwright.evidence.trace.readings import level_readings, time_readings
from fanwright.evidence.trace.result import Levels, Times, TraceResult, times
from fanwright.evidence.trace.signal import Coarse, Grain, Series, coarse, despike, grain, stuck
from fanwright.evidence.trace.strokes import Signal, time_strokes
from fanwright.evidence.trace.zero import Zeroing, judge_zero
from fanwright.words import Message, count, quantity

LONGEST_REST_S = 5.0
BEFORE_CYCLE_S = 0.5


@dataclass(frozen=True, eq=False)
class _Gauge:
    series: Series
    grain: Grain
    spikes: int


def read_trace(path: Path, columns: Mapping[str, str] | None = None) -> TraceResult:
    """Read a pressure trace and say what it shows.

    Args:
        path: The file: columns ``time [s]``, ``drive [psi]`` and, where there are such, ``supply [psi]``,
            ``command`` (1 = air sent) and ``shut`` (1 = drive shut off); psi, bar and kPa alike.
        columns: What the file calls a column, by role, such as ``{"drive": "P2[psi]"}``.

    Returns:
        The times, levels and readings, each with its uncertainty, and what cannot be told.

    Raises:
        FileError: The file cannot be read as a trace; every mistake found.
    """
    return examine(read_file(path, columns))


def examine(raw: RawTrace) -> TraceResult:
    """Say what a trace shows.

    Args:
        raw: The trace as read.
    """
    drive, supply = _gauge(raw.drive_gauge_pa), None
    if raw.supply_gauge_pa is not None:
        supply = _gauge(raw.supply_gauge_pa)
    course = coarse(raw.time_s, drive.series, raw.interval_s, drive.grain.noise_pa)
    phases = find_phases(raw, drive.series, course)
    zeroing = judge_zero(raw, phases, drive.series, drive.grain)
    signal = _put_right(raw, drive, supply, course, zeroing)
    strokes = time_strokes(signal, phases)
    fills, vents = times(strokes, "fill"), times(strokes, "vent")
    levels = _levels(raw, signal, phases, strokes)
    place = Path(raw.place).name
    readings = (
        *level_readings(levels, drive.grain, signal.supply_grain, zeroing, place),
        *time_readings(fills, vents, zeroing, place),
    )
    notes = (*raw.notes, *_spikes(drive, supply), *zeroing.notes)
    exhibit = TraceExhibit(
        raw.place,
        raw.sha256,
        raw.time_s,
        signal.supply_pa,
        signal.drive_pa,
        raw.air_sent,
        raw.shut,
        strokes,
        zeroing.zero,
    )
    told = (*zeroing.cannot_tell, *_cannot_tell(raw, signal, fills, vents, levels))
    return TraceResult(
        Evidence(readings, (exhibit,), notes, told),
        fills,
        vents,
        levels,
        raw.oddities,
        phases,
        drive.grain,
        signal.supply_grain,
    )


def _gauge(series: Series) -> _Gauge:
    found = grain(series)
    clean, spikes = despike(series, found.noise_pa)
    return _Gauge(clean, found, spikes)


def _spikes(drive: _Gauge, supply: _Gauge | None) -> Iterator[Message]:
    number = drive.spikes + (0 if supply is None else supply.spikes)
    if number:
        yield Message(
            "{number} single rows stood far from their neighbours and were smoothed over",
            {"number": count(number)},
        )


def _put_right(
    raw: RawTrace, drive: _Gauge, supply: _Gauge | None, course: Coarse, zeroing: Zeroing
) -> Signal:
    """Take the zeros off the gauges."""
    zero = zeroing.zero
    return Signal(
        raw.time_s,
        drive.series - zero.drive_pa if zero.drive_pa else drive.series,
        None if supply is None else (supply.series - zero.supply_pa if zero.supply_pa else supply.series),
        Coarse(course.step, course.time_s, course.value_pa - zero.drive_pa, course.sd_pa),
        drive.grain,
        None if supply is None else supply.grain,
        zeroing.sd_pa,
        raw.air_sent is not None,
        stuck(raw.drive_gauge_pa, raw.interval_s, drive.grain),
    )


def _levels(raw: RawTrace, signal: Signal, phases: Sequence[Phase], strokes: Sequence[Stroke]) -> Levels:
    sent = [phase for phase in phases if phase.air_sent]
    cut_off = [phase for phase in phases if not phase.air_sent]
    after_vent = [phase for phase in cut_off if phase.start_seen]
    held = None if raw.shut is None else hold(raw.time_s, signal.drive_pa, raw.shut, signal.grain)
    return Levels(
        _supply_at_rest(raw, signal, phases),
        *_supply_cycling(signal, strokes, phases),
        _settled_in(signal, sent),
        _settled_in(signal, after_vent) or _settled_in(signal, cut_off),
        held,
    )


def _settled_in(signal: Signal, phases: Sequence[Phase]) -> Level | None:
    found = [settled(signal.time_s, signal.drive_pa, phase, signal.grain) for phase in phases]
    return together([level for level in found if level is not None])


def _supply_at_rest(raw: RawTrace, signal: Signal, phases: Sequence[Phase]) -> Level | None:
    """Give the inlet before anything was switched, or at the end of the phases if the trace has no before."""
    if signal.supply_pa is None or signal.supply_grain is None:
        return None
    switched = [phase.first for phase in phases if phase.start_seen]
    stop = min(switched, default=raw.time_s.size)
    first = int(np.searchsorted(raw.time_s, float(raw.time_s[stop - 1]) - LONGEST_REST_S)) if stop else 0
    if stop - first >= 5 and raw.time_s[stop - 1] - raw.time_s[first] >= 0.3:
        mean, slope, _ = line(raw.time_s[first:stop], signal.supply_pa[first:stop], 0.0)
        drift = abs(slope) * float(raw.time_s[stop - 1] - raw.time_s[first]) / 12.0**0.5
        noise = signal.supply_grain.noise_pa / (stop - first) ** 0.5
        return Level(mean, (noise**2 + drift**2) ** 0.5)
    found = [settled(raw.time_s, signal.supply_pa, phase, signal.supply_grain) for phase in phases]
    return together([level for level in found if level is not None])


def _supply_cycling(
    signal: Signal, strokes: Sequence[Stroke], phases: Sequence[Phase]
) -> tuple[Level | None, Level | None]:
    """Give the lowest inlet while cycling, and the middle of the dips of the cycles."""
    supply, noise = signal.supply_pa, signal.supply_grain
    if supply is None or noise is None or not strokes:
        return None, None
    first = int(np.searchsorted(signal.time_s, strokes[0].start_s))
    stop = phases[-1].stop
    dips = []
    for phase in phases:
        before = signal.rows(phase.start_s - BEFORE_CYCLE_S, phase.start_s)
        if not (phase.air_sent and phase.start_seen) or before.stop - before.start < 1:
            continue
        level = float(supply[before].mean())
        low = lowest(signal.time_s, supply, phase.first, phase.stop, noise)
        if low is not None:
            rows = before.stop - before.start
            sd = (low.sd_pa**2 + noise.noise_pa**2 / rows) ** 0.5
            dips.append(Level(max(level - low.value_pa, 0.0), sd))
    return lowest(signal.time_s, supply, first, stop, noise), together(dips)


def _cannot_tell(
    raw: RawTrace, signal: Signal, fills: Times, vents: Times, levels: Levels
) -> Iterator[Message]:
    if raw.interval_s > SLOWEST_INTERVAL_S:
        yield Message(
            "The rows are {step} apart: times cannot be told more finely than that; log at least ten rows a "
            "second",
            {"step": quantity(raw.interval_s, "time")},
        )
    if not fills.seen and not vents.seen:
        template = (
            "The drive gauge never moved: no fill and no vent can be timed"
            if raw.air_sent is None
            else "The trace shows neither the beginning of a fill nor of a vent"
        )
        yield Message(template)
    if signal.supply_pa is None:
        yield Message("There is no inlet gauge: whether a fill may be judged cannot be told")
    yield from _about_hold(raw, levels)
    if signal.stuck is not None:
        yield Message(
            "The drive gauge stands at exactly one value from {start} to {stop}: the logger may have "
            "been stuck",
            {
                "start": quantity(float(signal.time_s[signal.stuck[0]]), "time"),
                "stop": quantity(float(signal.time_s[signal.stuck[1] - 1]), "time"),
            },
        )


def _about_hold(raw: RawTrace, levels: Levels) -> Iterator[Message]:
    held = levels.hold
    if held is not None and held.warm:
        yield Message(
            "What the drive lost was watched for {time} without 30 s to settle first: air cooling down may "
            "look like a leak",
            {"time": quantity(held.watched_s, "time")},
        )
    elif held is None and raw.shut is not None and raw.shut.any():
        yield Message("What the drive loses cannot be told: it was not shut off full of air for long enough")
    elif held is None:
        yield Message(
            "What the drive loses cannot be told: while air is sent the supply hides a leak; "
            "log a minute with the drive shut off"
        )
