"""Cut a trace into episodes that begin at rest, and thin each to the points a fit needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.phases import Phase, runs
from fanwright.evidence.trace.signal import PSI, Grain, Series
from fanwright.virtual.story import Story

BEFORE_S = 0.3
MOST_EPISODES = 4
LONGEST_S = 400.0
EMPTY_PA = 12.0 * PSI
BUSY_PER_S, QUIET_PER_S = 160.0, 6.0
BUSY_PA_PER_S = 4.0 * PSI
BUSY_MARGIN_S = 0.06
LONGEST_BUSY_S = 20.0
SETTLE_S = 2.0
MODEL_SD_PA, INLET_MODEL_SD_PA = 0.03 * PSI, 0.06 * PSI
REOPENED_S = 1.5


@dataclass(frozen=True, eq=False)
class Episode:
    """One fill and one vent, or one of both, beginning from rest, thinned; times count from its first row.

    Args:
        start_s: Time of its first row [s on the trace's clock].
        story: What was done, each switch at the row before it was seen.
        sends_late_s: How much later than in the story air may have been sent [s]; 0 where it is not sent.
        cuts_late_s: The same for cutting off [s].
        time_s: Mean time of the rows of each point [s], shape (n,).
        drive_pa: Mean pressure at the drive, gauge [Pa], shape (n,).
        drive_sd_pa: Its standard uncertainty [Pa], shape (n,).
        inlet_pa: Mean pressure at the inlet, gauge [Pa], shape (n,), or None.
        inlet_sd_pa: Its standard uncertainty [Pa], shape (n,), or None.
        fills: Whether it shows the beginning of a fill.
        vents: Whether it shows the beginning of a vent.
        supply_pa: Inlet before the first switch, or the highest the drive stood [Pa].
    """

    start_s: float
    story: Story
    sends_late_s: float
    cuts_late_s: float
    time_s: Series
    drive_pa: Series
    drive_sd_pa: Series
    inlet_pa: Series | None
    inlet_sd_pa: Series | None
    fills: bool
    vents: bool
    supply_pa: float


@dataclass(frozen=True, eq=False)
class Gauges:
    """What episodes are cut from.

    Args:
        time_s: Times [s], shape (n,).
        drive_pa: At the drive, gauge [Pa], shape (n,).
        inlet_pa: At the inlet, gauge [Pa], shape (n,), or None.
        shut: Whether the drive was shut off, shape (n,), or None.
        drive: Noise and division of the drive gauge.
        inlet: Noise and division of the inlet gauge, or None.
        commanded: Whether the trace says when air was sent.
        has_line: Whether the drive line is apart from the drive, so that the shut-off stands between them.
    """

    time_s: Series
    drive_pa: Series
    inlet_pa: Series | None
    shut: NDArray[np.bool_] | None
    drive: Grain
    inlet: Grain | None
    commanded: bool
    has_line: bool


@dataclass(frozen=True)
class _Span:
    first: int
    stop: int
    send: Phase | None
    cut: Phase | None


def find_episodes(gauges: Gauges, phases: Sequence[Phase]) -> tuple[Episode, ...]:
    """Find up to four episodes, those with a drive shut off first, else the earliest.

    Args:
        gauges: The trace.
        phases: Its phases.
    """
    spans = [span for span in _spans(gauges, phases) if _begins_at_rest(gauges, span)]
    if len(spans) > MOST_EPISODES:
        shut = [
            span for span in spans if gauges.shut is not None and gauges.shut[span.first : span.stop].any()
        ]
        rest = [span for span in spans if span not in shut]
        chosen = (shut[:2] + rest)[:MOST_EPISODES]
        spans = sorted(chosen, key=lambda span: span.first)
    return tuple(_episode(gauges, span) for span in spans)


def _spans(gauges: Gauges, phases: Sequence[Phase]) -> list[_Span]:
    """Join each fill with the vent that follows; a vent without its fill stands alone."""
    found: list[_Span] = []
    number = 0
    rows = gauges.time_s.size
    while number < len(phases):
        phase = phases[number]
        after = phases[number + 1] if number + 1 < len(phases) else None
        last = phases[number + 2].first if number + 2 < len(phases) else rows
        vent = after if after is not None and not after.air_sent and after.start_seen else None
        if phase.air_sent and phase.start_seen:
            begin = _before(gauges, phases[number - 1].first if number else 0, phase.start_s)
            found.append(_Span(begin, _until(gauges, begin, last), phase, vent))
            number += 2 if vent is not None else 1
        elif phase.air_sent and vent is not None:
            begin = _before(gauges, phase.first, vent.start_s)
            found.append(_Span(begin, _until(gauges, begin, last), None, vent))
            number += 2
        else:
            number += 1
    return found


def _before(gauges: Gauges, least: int, moment_s: float) -> int:
    return max(least, int(np.searchsorted(gauges.time_s, moment_s - BEFORE_S)))


def _until(gauges: Gauges, begin: int, stop: int) -> int:
    return min(stop, int(np.searchsorted(gauges.time_s, gauges.time_s[begin] + LONGEST_S)))


def _begins_at_rest(gauges: Gauges, span: _Span) -> bool:
    """Say whether the drive was empty before a fill, or stood still before a vent."""
    time_s = gauges.time_s
    phase = span.send or span.cut
    assert phase is not None
    stop = max(span.first + 1, int(np.searchsorted(time_s, phase.start_s)))
    level = float(gauges.drive_pa[span.first : stop].mean())
    if span.send is not None:
        return level < EMPTY_PA
    tolerance = 3.0 * gauges.drive.row_sd_pa + 1.0 * PSI
    return bool(abs(float(gauges.drive_pa[span.first]) - level) < tolerance)


def _episode(gauges: Gauges, span: _Span) -> Episode:
    rows = slice(span.first, span.stop)
    start = float(gauges.time_s[span.first])
    time_s, drive = gauges.time_s[rows] - start, gauges.drive_pa[rows]
    shut = None if gauges.shut is None else gauges.shut[rows]
    send, send_late = _switch(gauges, span.send, start)
    cut, cut_late = _switch(gauges, span.cut, start)
    end = float(time_s[-1]) + 1e-6
    spans = () if shut is None else tuple(_shut_spans(time_s, shut, end))
    shut_at: Literal["drive", "valve"] = "drive" if gauges.has_line else "valve"
    story = Story(end, (_sent(send, cut, end),), shut=spans, shut_at=shut_at, settle_s=SETTLE_S)
    marks = [
        moment for moment in (send, cut, *(each for pair in spans for each in pair)) if moment is not None
    ]
    which, counts = _bins(time_s, drive, gauges.drive, marks)
    moments = np.bincount(which, time_s) / counts
    kept = _away_from_shut_off(moments, spans, cut, float(np.median(np.diff(time_s))))
    inlet = inlet_sd = None
    if gauges.inlet_pa is not None and gauges.inlet is not None:
        inlet = (np.bincount(which, gauges.inlet_pa[rows]) / counts)[kept]
        inlet_sd = _point_sd(gauges.inlet, counts[kept], INLET_MODEL_SD_PA)
    before = int(np.searchsorted(time_s, send if send is not None else cut or 0.0))
    supply = (
        float(drive.max()) if gauges.inlet_pa is None else float(gauges.inlet_pa[rows][: before + 1].mean())
    )
    return Episode(
        start,
        story,
        send_late,
        cut_late,
        moments[kept],
        (np.bincount(which, drive) / counts)[kept],
        _point_sd(gauges.drive, counts[kept], MODEL_SD_PA),
        inlet,
        inlet_sd,
        span.send is not None,
        span.cut is not None,
        supply,
    )


def _switch(gauges: Gauges, phase: Phase | None, start_s: float) -> tuple[float | None, float]:
    """Give the earliest moment a switch can have been at, and by how much it may have been later."""
    if phase is None:
        return None, 0.0
    room = phase.half_width_s if gauges.commanded else phase.half_width_s + 0.05
    return max(phase.start_s - room - start_s, 1e-6), 2.0 * room


def _sent(send: float | None, cut: float | None, end: float) -> tuple[float, float]:
    first = -2.0 * SETTLE_S if send is None else send
    return first, max(end + 1.0 if cut is None else cut, first + 1e-6)


def _shut_spans(time_s: Series, shut: NDArray[np.bool_], end: float) -> list[tuple[float, float]]:
    found = []
    for first, stop, is_shut in runs(shut):
        if is_shut:
            begin = float(time_s[first - 1] + time_s[first]) / 2.0 if first else 0.0
            until = float(time_s[stop - 1] + time_s[stop]) / 2.0 if stop < time_s.size else end
            found.append((begin, max(until, begin + 1e-6)))
    return found


def _away_from_shut_off(
    moments: Series, spans: Sequence[tuple[float, float]], cut: float | None, step_s: float
) -> NDArray[np.bool_]:
    """Leave out points where it matters at what moment within a row the shut-off was turned."""
    kept = np.ones(moments.size, bool)
    for begin, until in spans:
        kept &= np.abs(moments - begin) > step_s
        later = until + REOPENED_S if cut is None or cut < until else min(until + REOPENED_S, cut)
        kept &= (moments < until - step_s) | (moments > later)
    return kept if kept.any() else np.ones(moments.size, bool)


def _bins(
    time_s: Series, drive: Series, grain: Grain, marks: Sequence[float]
) -> tuple[NDArray[np.int64], Series]:
    """Say for each row which point it belongs to: fine where the drive moves, coarse where it stands."""
    steps = np.diff(time_s, prepend=time_s[0])
    usual = float(np.median(steps[1:])) if steps.size > 1 else 1.0
    width = max(1, round(0.04 / max(usual, 1e-9)))
    busy = np.zeros(time_s.size, bool)
    if time_s.size > 2 * width:
        total = np.cumsum(np.concatenate(([0.0], drive)))
        mean = (total[width:] - total[:-width]) / width
        moved = np.abs(mean[width:] - mean[:-width])
        rate = moved / (width * max(usual, 1e-9))
        noise = grain.row_sd_pa * math.sqrt(2.0 / width) / (width * max(usual, 1e-9))
        places = np.flatnonzero(rate > BUSY_PA_PER_S + 4.0 * noise) + width
        busy[places] = True
    else:
        busy[:] = True
    reach = round(BUSY_MARGIN_S / max(usual, 1e-9)) + width
    busy = _widened(busy, reach)
    spent = np.cumsum(np.where(busy, steps, 0.0))
    density = np.where(busy & (spent < LONGEST_BUSY_S), BUSY_PER_S, QUIET_PER_S)
    place = np.floor(np.cumsum(density * steps)).astype(np.int64)
    for mark in marks:
        place[np.searchsorted(time_s, mark) :] += 1
    which = np.cumsum(np.diff(place, prepend=place[0]) > 0)
    return which, np.bincount(which).astype(float)


def _widened(flags: NDArray[np.bool_], reach: int) -> NDArray[np.bool_]:
    """Set all flags within reach of one that is set."""
    total = np.cumsum(np.concatenate((np.zeros(reach + 1, int), flags, np.zeros(reach, int))))
    wide: NDArray[np.bool_] = total[2 * reach + 1 :] > total[: -2 * reach - 1]
    return wide


def _point_sd(grain: Grain, counts: Series, model_pa: float) -> Series:
    fixed = grain.division_pa**2 / 12.0
    if grain.noise_pa > 0.4 * grain.division_pa:
        rows = (grain.noise_pa**2 + fixed) / counts
    else:
        rows = grain.noise_pa**2 / counts + fixed
    return np.sqrt(rows + model_pa**2)
