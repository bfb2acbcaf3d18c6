"""Time each fill from air sent to 90 psi at the drive, and each vent from 90 psi to zero.

"Zero" is at or below 2 psi, gauge (common practice, no source; it is the finest a bay gauge is read).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.crossing import Crossing, Stretch, cross, cross_tail, leave_floor, window
from fanwright.evidence.trace.exhibit import Stroke
from fanwright.evidence.trace.levels import Level, settled
from fanwright.evidence.trace.phases import FULL_PA, Phase
from fanwright.evidence.trace.signal import PSI, Coarse, Grain, Series
from fanwright.words import Message, quantity

CHANGED_PA = 90.0 * PSI
ZERO_PA = 2.0 * PSI
LEAST_INLET_PA = 115.0 * PSI
NOT_EMPTY_PA = 10.0 * PSI
WATCHED_ENOUGH_S = 3.0
STEADY_S = 0.4
FAR_PA = 3.0 * PSI
BEFORE_S = 1.0
LONGEST_TAIL_S = 30.0


@dataclass(frozen=True, eq=False)
class Signal:
    """What the strokes are timed on: gauges put right.

    Args:
        time_s: Times [s], shape (n,).
        drive_pa: At the drive, gauge [Pa], shape (n,).
        supply_pa: At the inlet, gauge [Pa], shape (n,), or None.
        course: The drive, smoothed.
        grain: Noise and division of the drive gauge.
        supply_grain: Noise and division of the inlet gauge, or None.
        zero_sd_pa: Standard uncertainty of the drive gauge's zero [Pa].
        commanded: Whether the trace says when air was sent.
        stuck: Rows in which a gauge was stuck, first and the row after the last, or None.
    """

    time_s: Series
    drive_pa: Series
    supply_pa: Series | None
    course: Coarse
    grain: Grain
    supply_grain: Grain | None
    zero_sd_pa: float
    commanded: bool
    stuck: tuple[int, int] | None = None

    def rows(self, first_s: float, stop_s: float) -> slice:
        """Give the rows between two times."""
        return slice(int(np.searchsorted(self.time_s, first_s)), int(np.searchsorted(self.time_s, stop_s)))

    def stretch(self, first: int, stop: int) -> Stretch:
        """Give the rows of a stretch; a gauge's division and zero do not average out."""
        fixed = math.hypot(self.zero_sd_pa, self.grain.division_pa / math.sqrt(12.0))
        rows = slice(first, stop)
        pressure = self.drive_pa[rows].astype(np.float64, copy=False)
        return Stretch(self.time_s[rows], pressure, self.grain.row_sd_pa, fixed)

    def points(self, phase: Phase) -> tuple[int, int]:
        """Give the points of the smooth course that belong to a phase."""
        return self.course.at(phase.first), self.course.at(phase.stop - 1) + 1

    def half_interval_s(self, moment_s: float) -> float:
        """Half the step between the two rows about a moment [s]."""
        after = min(max(int(np.searchsorted(self.time_s, moment_s)), 1), self.time_s.size - 1)
        return float(self.time_s[after] - self.time_s[after - 1]) / 2.0


@dataclass(frozen=True)
class _Begin:
    crossing: Crossing
    half_width_s: float
    inlet_pa: float | None
    not_timed: Message | None


def time_strokes(signal: Signal, phases: Sequence[Phase]) -> tuple[Stroke, ...]:
    """Time the fills and vents of a trace.

    Args:
        signal: The gauges put right.
        phases: The phases of the trace.

    Returns:
        A stroke for each phase whose beginning the trace shows, in order.
    """
    strokes = []
    for phase in phases:
        if phase.air_sent and phase.start_seen:
            strokes.append(_fill(signal, phase))
        elif not phase.air_sent and (phase.start_seen or _full_at_start(signal, phase)):
            strokes.append(_vent(signal, phase))
    return tuple(strokes)


def _full_at_start(signal: Signal, phase: Phase) -> bool:
    """Say whether a phase without a beginning shows a whole vent: from above 90 psi to below."""
    start, stop = signal.points(phase)
    value = signal.course.value_pa[start:stop]
    return bool(value[0] > FULL_PA and (value < CHANGED_PA).any())


def _fill(signal: Signal, phase: Phase) -> Stroke:
    inlet = _inlet_before(signal, phase)
    start = Crossing(phase.start_s, 0.0) if signal.commanded else _left_floor(signal, phase)
    half = phase.half_width_s if signal.commanded else signal.half_interval_s(start.time_s)
    not_timed = _not_timed_fill(signal, phase, inlet)
    end = None if _floor(signal, phase) > NOT_EMPTY_PA else _reached_full(signal, phase)
    return _stroke(signal, phase, _Begin(start, half, inlet, not_timed), end)


def _vent(signal: Signal, phase: Phase) -> Stroke:
    inlet = _inlet_before(signal, phase)
    start = _left_full(signal, phase)
    if start is None:
        why = Message("the drive never stood at {pressure}", {"pressure": quantity(CHANGED_PA, "pressure")})
        return _stroke(signal, phase, _Begin(Crossing(phase.start_s, 0.0), 0.0, inlet, why), None)
    end = _reached_zero(signal, phase, start)
    half = signal.half_interval_s(start.time_s)
    return _stroke(signal, phase, _Begin(start, half, inlet, None), end)


def _stroke(signal: Signal, phase: Phase, start: _Begin, end: Crossing | None) -> Stroke:
    """Put a stroke together: when it began, when it arrived, or why that is not known."""
    begin, half, not_timed = start.crossing, start.half_width_s, start.not_timed
    watched = max(float(signal.time_s[phase.stop - 1]) - begin.time_s, 0.0)
    arrived = end is not None and end.time_s > begin.time_s
    stuck = _stuck(signal, phase)
    never = not arrived and not_timed is None and stuck is None and _watched_enough(signal, phase, watched)
    if not arrived and not never and not_timed is None:
        not_timed = stuck or _cut_short(phase, watched)
    sd = None
    if arrived and end is not None:
        half = max(half, signal.half_interval_s(end.time_s))
        sd = math.hypot(half / math.sqrt(3.0), begin.sd_s, end.sd_s)
    return Stroke(
        "fill" if phase.air_sent else "vent",
        begin.time_s,
        end.time_s if arrived and end is not None else None,
        sd,
        start.inlet_pa,
        half,
        watched,
        never,
        stuck or not_timed,
    )


def _watched_enough(signal: Signal, phase: Phase, watched_s: float) -> bool:
    """Say whether a stroke that did not arrive was watched long enough, or had settled elsewhere."""
    if watched_s > WATCHED_ENOUGH_S:
        return True
    level = settled(signal.time_s, signal.drive_pa, phase, signal.grain)
    wanted = CHANGED_PA if phase.air_sent else ZERO_PA
    return watched_s > 1.0 and level is not None and abs(level.value_pa - wanted) > FAR_PA


def _cut_short(phase: Phase, watched_s: float) -> Message:
    about = {"time": quantity(watched_s, "time")}
    if phase.ending == "shut":
        return Message("the drive was shut off after {time}, before it arrived", about)
    if phase.ending == "end":
        return Message("the trace ends after {time}, before it arrived", about)
    if phase.air_sent:
        return Message("air was cut off after {time}, before it arrived", about)
    return Message("air was sent again after {time}, before it arrived", about)


def _stuck(signal: Signal, phase: Phase) -> Message | None:
    if signal.stuck is None or signal.stuck[0] >= phase.stop or signal.stuck[1] <= phase.first:
        return None
    return Message("the drive gauge stood at exactly one value for part of it: the logger was stuck")


def _not_timed_fill(signal: Signal, phase: Phase, inlet_pa: float | None) -> Message | None:
    floor = _floor(signal, phase)
    if floor > NOT_EMPTY_PA:
        return Message(
            "the drive was not empty when air was sent: it stood at {pressure}",
            {"pressure": quantity(floor, "pressure")},
        )
    if inlet_pa is None or signal.supply_grain is None:
        return None
    if inlet_pa < LEAST_INLET_PA - signal.supply_grain.division_pa / 2.0 - 2.0 * _inlet_sd(signal):
        return Message(
            "the inlet stood at {pressure}, under {least}",
            {"pressure": quantity(inlet_pa, "pressure"), "least": quantity(LEAST_INLET_PA, "pressure")},
        )
    return None


def _inlet_sd(signal: Signal) -> float:
    rows = max(1, round(BEFORE_S / max(float(signal.time_s[-1]) / signal.time_s.size, 1e-9)))
    return 0.0 if signal.supply_grain is None else signal.supply_grain.noise_pa / math.sqrt(rows)


def _inlet_before(signal: Signal, phase: Phase) -> float | None:
    """Give the inlet pressure just before a stroke [Pa]: the mean of the last second, or of what there is."""
    if signal.supply_pa is None:
        return None
    rows = signal.rows(phase.start_s - BEFORE_S, phase.start_s)
    if rows.stop - rows.start < 1:
        rows = slice(phase.first, phase.first + 1)
    return float(signal.supply_pa[rows].mean())


def _floor(signal: Signal, phase: Phase) -> float:
    """Give the pressure at the drive just before a fill [Pa]."""
    rows = signal.rows(phase.start_s - 0.3, phase.start_s)
    if rows.stop - rows.start < 1:
        rows = slice(phase.first, phase.first + 1)
    return float(np.median(signal.drive_pa[rows]))


def _left_floor(signal: Signal, phase: Phase) -> Crossing:
    """Find where the drive gauge left zero, for a trace without a command."""
    start, stop = signal.points(phase)
    value = signal.course.value_pa[start:stop]
    floor = _floor(signal, phase)
    high = min(50.0 * PSI, floor + 0.5 * (float(value.max()) - floor))
    rise = int(np.argmax(value >= high))
    first = max(signal.course.row(start) - signal.course.step, 0)
    last = min(max(signal.course.row(start + rise) + 1, first + 4), phase.stop)
    found = leave_floor(signal.stretch(first, last), floor + ZERO_PA)
    return found or Crossing(phase.start_s, signal.half_interval_s(phase.start_s))


def _reached_full(signal: Signal, phase: Phase) -> Crossing | None:
    """Find where a fill rose through 90 psi and stayed."""
    start, stop = signal.points(phase)
    value = signal.course.value_pa[start:stop]
    for place in _candidates(value >= CHANGED_PA, _steady_points(signal)):
        if float(np.median(value[place : place + _steady_points(signal)])) >= CHANGED_PA:
            above = float(np.median(value[place : place + 3 * _steady_points(signal)])) - CHANGED_PA
            return _near_full(signal, phase, start + place, max(0.6 * above, PSI))
    return None


def _left_full(signal: Signal, phase: Phase) -> Crossing | None:
    """Find where a vent last fell through 90 psi; None if the drive did not stand above it."""
    start, stop = signal.points(phase)
    value = signal.course.value_pa[start:stop]
    before = signal.course.value_pa[max(start - _steady_points(signal), 0) : start + 1]
    stood = float(np.median(before)) if phase.start_seen else float(value[0])
    if stood < CHANGED_PA or not (value < CHANGED_PA).any():
        return None if stood < CHANGED_PA else Crossing(phase.start_s, 0.0)
    steady = _steady_points(signal)
    for place in _candidates(value < CHANGED_PA, steady):
        if float(np.median(value[place : place + steady])) < CHANGED_PA:
            return _near_full(signal, phase, start + place, max(0.6 * (stood - CHANGED_PA), PSI))
    return None


def _near_full(signal: Signal, phase: Phase, point: int, above_pa: float) -> Crossing:
    """Fit a stretch about 90 psi; it reaches less far towards the plateau, where the course bends."""
    course = signal.course
    wide = max(15.0 * PSI, 6.0 * signal.grain.noise_pa)
    most = max(4, round(0.5 / _point_interval(signal)))
    first, stop = window(course.value_pa, point, CHANGED_PA, (wide, min(wide, above_pa)), most)
    least = phase.first if signal.commanded else max(phase.first - course.step, 0)
    begin = max(min(course.row(first), course.row(point) - 1), least)
    end = min(max(course.row(stop), course.row(point) + (2 if phase.air_sent else 1)), phase.stop)
    if end - begin < 2:
        begin, end = max(end - 2, 0), max(end, 2)
    guess = float(signal.course.time_s[point])
    found = cross(signal.stretch(begin, end), CHANGED_PA, guess)
    return found or Crossing(guess, 2.0 * signal.half_interval_s(guess))


def _reached_zero(signal: Signal, phase: Phase, begin: Crossing) -> Crossing | None:
    """Find where a vent fell to 2 psi and stayed."""
    start, stop = signal.points(phase)
    value = signal.course.value_pa[start:stop]
    steady = _steady_points(signal)
    rest = settled(signal.time_s, signal.drive_pa, phase, signal.grain)
    if rest is not None and rest.value_pa > ZERO_PA + 2.0 * rest.sd_pa:
        return None
    after = int(np.searchsorted(signal.course.time_s[start:stop], begin.time_s))
    for place in _candidates(value <= ZERO_PA, steady):
        if place >= after and float(np.median(value[place : place + steady])) <= ZERO_PA:
            return _near_zero(signal, phase, start + place, rest)
    return None


def _near_zero(signal: Signal, phase: Phase, point: int, rest: Level | None) -> Crossing:
    """Fit the tail of a vent from well above 2 psi to well below."""
    begin, end = signal.points(phase)
    value = signal.course.value_pa
    top = (8.0 + 8.0 * min(signal.grain.noise_pa / PSI, 2.0)) * PSI
    above = np.flatnonzero(value[begin:point] >= top)
    first = begin + (int(above[-1]) if above.size else 0)
    first = min(first, max(point - 3, begin))
    moments = signal.course.time_s
    tail_s = min(max(float(moments[point] - moments[first]), 3.0 * _point_interval(signal)), LONGEST_TAIL_S)
    last = min(int(np.searchsorted(moments, moments[point] + 0.7 * tail_s)) + 1, end)
    rows = (max(signal.course.row(first), phase.first), min(signal.course.row(last), phase.stop))
    guess = float(moments[point])
    stretch = signal.stretch(min(rows[0], rows[1] - 2), rows[1])
    floor = min(rest.value_pa, 0.8 * ZERO_PA) if rest is not None and rest.value_pa > 0.0 else 0.0
    found = cross_tail(stretch, ZERO_PA, floor, guess)
    return found or Crossing(guess, 2.0 * signal.half_interval_s(guess))


def _candidates(inside: NDArray[np.bool_], steady: int) -> list[int]:
    """Give the points at which a course comes inside, at most fifty, some way apart."""
    places: list[int] = []
    entries = np.flatnonzero(inside & ~np.concatenate(([False], inside[:-1])))
    for place in entries[:2000].tolist():
        if not places or place - places[-1] >= max(steady // 8, 1):
            places.append(place)
    return places[:50]


def _point_interval(signal: Signal) -> float:
    moments = signal.course.time_s
    return max(float(moments[-1] - moments[0]) / max(moments.size - 1, 1), 1e-9)


def _steady_points(signal: Signal) -> int:
    return max(2, round(STEADY_S / _point_interval(signal)))
