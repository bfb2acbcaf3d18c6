"""Cut a trace into episodes that begin at rest, and thin each to the points a fit needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.identify_thin import thin
from fanwright.evidence.trace.phases import Phase, runs
from fanwright.evidence.trace.signal import PSI, Grain, Series
from fanwright.virtual.story import Story

BEFORE_S = 0.3
MOST_EPISODES = 4
LONGEST_S, MOST_ROWS = 400.0, 400_000
EMPTY_PA, MOST_LEFT_PA, STILL_PA = 12.0 * PSI, 60.0 * PSI, 0.5 * PSI
SETTLE_S = 2.0
MODEL_SD_PA, INLET_MODEL_SD_PA = 0.03 * PSI, 0.06 * PSI


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
        fill_rows: Rows of the trace between a tenth and nine tenths of what the fill reached [-].
        vent_rows: The same of the vent [-].
        top_pa: The highest the drive stood [Pa].
        fell_pa: How far it fell once air was cut off [Pa].
        half_row_s: Half the usual step between two rows [s].
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
    fill_rows: int
    vent_rows: int
    top_pa: float
    fell_pa: float
    half_row_s: float

    @property
    def shut_off(self) -> Series:
        """1 at the points at which the drive was shut off, else 0 [-], shape (n,)."""
        inside = np.zeros(self.time_s.size)
        for begin, until in self.story.shut:
            inside[(self.time_s > begin) & (self.time_s < until)] = 1.0
        return inside

    def told(self, reopened: float = 0.0) -> Story:
        """Give the story with the last shut-off opened some half rows later [-]."""
        if not self.story.shut or reopened == 0.0:
            return self.story
        begin, until = self.story.shut[-1]
        moved = max(until + reopened * self.half_row_s, begin + 1e-6)
        return replace(self.story, shut=(*self.story.shut[:-1], (begin, moved)))


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


def find_episodes(gauges: Gauges, phases: Sequence[Phase], most: int = MOST_EPISODES) -> tuple[Episode, ...]:
    """Find a few episodes: two with a drive shut off, which show a leak best, then the earliest.

    Args:
        gauges: The trace.
        phases: Its phases.
        most: How many at most [-].
    """
    spans = [span for span in _spans(gauges, phases) if _begins_at_rest(gauges, span)]
    shut = [span for span in spans if gauges.shut is not None and gauges.shut[span.first : span.stop].any()]
    rest = [span for span in spans if span not in shut]
    return tuple(_episode(gauges, span) for span in (shut[:2] + rest + shut[2:])[:most])


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
    return min(stop, begin + MOST_ROWS, int(np.searchsorted(gauges.time_s, gauges.time_s[begin] + LONGEST_S)))


def _begins_at_rest(gauges: Gauges, span: _Span) -> bool:
    """Say whether the drive was empty, or stood still, before the first switch."""
    time_s = gauges.time_s
    phase = span.send or span.cut
    assert phase is not None
    stop = max(span.first + 1, int(np.searchsorted(time_s, phase.start_s)))
    before = gauges.drive_pa[span.first : stop]
    level, part = float(before.mean()), max(1, before.size // 3)
    moved = abs(float(before[:part].mean()) - float(before[-part:].mean()))
    still = moved < STILL_PA + 3.0 * gauges.drive.row_sd_pa * (2.0 / part) ** 0.5
    return level < EMPTY_PA or (still and (span.send is None or level < MOST_LEFT_PA))


def _episode(gauges: Gauges, span: _Span) -> Episode:
    """Put an episode together: what was done, and the points of both gauges."""
    rows = slice(span.first, span.stop)
    start = float(gauges.time_s[span.first])
    time_s, drive = gauges.time_s[rows] - start, gauges.drive_pa[rows].astype(np.float64, copy=False)
    send, send_late = _switch(gauges, span.send, start)
    cut, cut_late = _switch(gauges, span.cut, start)
    story = _story(gauges, span, time_s, send, cut)
    thinned = thin(time_s, drive, gauges.drive, story, cut)
    inlet = None if gauges.inlet_pa is None else gauges.inlet_pa[rows].astype(np.float64, copy=False)
    before = int(np.searchsorted(time_s, send if send is not None else cut or 0.0))
    return Episode(
        start,
        story,
        send_late,
        cut_late,
        thinned.time_s,
        thinned.mean(drive),
        thinned.sd(gauges.drive, MODEL_SD_PA),
        None if inlet is None else thinned.mean(inlet),
        None if gauges.inlet is None else thinned.sd(gauges.inlet, INLET_MODEL_SD_PA),
        send is not None,
        cut is not None,
        thinned.top_pa if inlet is None else float(inlet[: before + 1].mean()),
        0 if send is None else thinned.rows_rising(send),
        0 if cut is None else thinned.rows_falling(cut),
        thinned.top_pa,
        0.0 if cut is None else thinned.fell_pa(cut),
        float(np.median(np.diff(time_s))) / 2.0,
    )


def _story(gauges: Gauges, span: _Span, time_s: Series, send: float | None, cut: float | None) -> Story:
    end = float(time_s[-1]) + 1e-6
    shut = None if gauges.shut is None else gauges.shut[span.first : span.stop]
    return Story(
        end,
        (_sent(send, cut, end),),
        shut=() if shut is None else tuple(_shut_spans(time_s, shut, end)),
        shut_at="drive" if gauges.has_line else "valve",
        settle_s=SETTLE_S,
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
