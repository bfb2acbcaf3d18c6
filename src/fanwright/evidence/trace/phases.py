"""Cut a trace into stretches with air sent and with air cut off."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.reader import RawTrace
from fanwright.evidence.trace.signal import PSI, Coarse, Series

Ending = Literal["switched", "shut", "end"]

SMALLEST_SWING_PA = 12.0 * PSI
LEAVING_PA = 3.0 * PSI
FOLLOWING_PA = 8.0 * PSI
FULL_PA = 95.0 * PSI
EMPTY_PA = 5.0 * PSI
FLAT_BEFORE_S = 0.2
TURN_BLOCK = 1 << 16


@dataclass(frozen=True)
class Phase:
    """A stretch in which air was sent, or cut off.

    Args:
        air_sent: Which of the two.
        first: Its first row.
        stop: The row after its last.
        start_s: When it began [s].
        half_width_s: How far to either side of ``start_s`` it may have begun [s].
        start_seen: Whether the trace shows its beginning.
        ending: What ended it: the valve was switched, the drive was shut off, or the trace ended.
    """

    air_sent: bool
    first: int
    stop: int
    start_s: float
    half_width_s: float
    start_seen: bool
    ending: Ending


def find_phases(raw: RawTrace, drive: Series, course: Coarse) -> tuple[Phase, ...]:
    """Cut a trace into phases, by the command where there is one, else by how the drive moved.

    Args:
        raw: The trace.
        drive: Pressure at the drive, gauge, without spikes [Pa], shape (n,).
        course: The same, smoothed.

    Returns:
        The phases in order; what was recorded while the drive was shut off belongs to none.
    """
    stretches = tuple(_not_shut(raw.shut, drive.size))
    if raw.air_sent is not None:
        found = [_within(phase, stretches) for phase in _commanded(raw.time_s, raw.air_sent)]
        return tuple(phase for phase in found if phase is not None)
    phases: list[Phase] = []
    for first, stop in stretches:
        part = _moved(raw, course, first, stop)
        if part and stop < drive.size:
            part[-1] = replace(part[-1], ending="shut")
        phases += part
    return tuple(phases)


def _not_shut(shut: NDArray[np.bool_] | None, rows: int) -> Iterator[tuple[int, int]]:
    """Give the stretches of rows in which the drive was not shut off."""
    if shut is None:
        yield 0, rows
        return
    for first, stop, is_shut in runs(shut):
        if not is_shut:
            yield first, stop


def runs(flags: NDArray[np.bool_]) -> list[tuple[int, int, bool]]:
    """Give the stretches of equal flags: first row, the row after the last, the flag.

    Example:
        >>> runs(np.array([True, True, False]))
        [(0, 2, True), (2, 3, False)]
    """
    edges = [0, *(np.flatnonzero(flags[1:] != flags[:-1]) + 1).tolist(), int(flags.size)]
    return [(first, stop, bool(flags[first])) for first, stop in itertools.pairwise(edges)]


def _commanded(time_s: Series, air_sent: NDArray[np.bool_]) -> Iterator[Phase]:
    """Give a phase for each stretch of the command; an edge lies somewhere between two rows."""
    for first, stop, sent in runs(air_sent):
        before = float(time_s[max(first - 1, 0)])
        after = float(time_s[first])
        yield Phase(
            sent,
            first,
            stop,
            (before + after) / 2.0,
            (after - before) / 2.0,
            first > 0,
            "end" if stop == air_sent.size else "switched",
        )


def _within(phase: Phase, stretches: tuple[tuple[int, int], ...]) -> Phase | None:
    """Cut a phase where the drive was shut off; one whose beginning was shut off did not begin."""
    for first, stop in stretches:
        if first < phase.stop and stop > phase.first:
            seen = phase.start_seen and first <= phase.first
            return replace(
                phase,
                first=max(first, phase.first),
                stop=min(stop, phase.stop),
                start_seen=seen,
                ending=phase.ending if stop >= phase.stop else "shut",
            )
    return None


def _moved(raw: RawTrace, course: Coarse, first: int, stop: int) -> list[Phase]:
    """Give the phases of a stretch without a command: where the drive left its floor or its plateau."""
    start, end = course.at(first), course.at(stop - 1) + 1
    value, moments = course.value_pa[start:end], course.time_s[start:end]
    turns = _turns(value, max(SMALLEST_SWING_PA, 8.0 * course.sd_pa))
    swings = [
        swing
        for swing in itertools.pairwise(turns)
        if not _follows_supply(raw, course, (start + swing[0], start + swing[1]))
    ]
    leaves = [_leaves(value, swing, max(LEAVING_PA, 4.0 * course.sd_pa)) for swing in swings]
    phases = []
    for number, ((before, after), leave) in enumerate(zip(swings, leaves, strict=True)):
        last = number + 1 == len(leaves)
        rises = bool(value[after] > value[before])
        empty_or_full = value[before] > FULL_PA if not rises else value[before] < EMPTY_PA
        waited = leave > 0 and moments[leave] - moments[0] >= FLAT_BEFORE_S
        phases.append(
            Phase(
                rises,
                max(course.row(start + leave), first),
                stop if last else course.row(start + leaves[number + 1]),
                float(moments[leave]),
                raw.interval_s / 2.0,
                bool(waited or empty_or_full),
                "end" if last else "switched",
            )
        )
    return _opened(raw, phases, first)


def _opened(raw: RawTrace, phases: list[Phase], first: int) -> list[Phase]:
    """Put the phase in front that the trace began in."""
    if not phases or phases[0].first <= first:
        return phases
    start_s = float(raw.time_s[first])
    return [Phase(not phases[0].air_sent, first, phases[0].first, start_s, 0.0, False, "switched"), *phases]


def _turns(value: Series, smallest: float) -> list[int]:
    """Give the turning points between ups and downs of at least a size.

    Example:
        >>> _turns(np.array([0.0, 1.0, 9.0, 8.0, 0.0]), 5.0)
        [0, 2, 4]
    """
    turns: list[int] = []
    rising: bool | None = None
    low = high = 0
    lowest = highest = float(value[0])
    for start in range(0, value.size, TURN_BLOCK):
        for place, pressure in enumerate(value[start : start + TURN_BLOCK].tolist(), start):
            if pressure > highest:
                high, highest = place, pressure
            if pressure < lowest:
                low, lowest = place, pressure
            if rising is not False and highest - pressure >= smallest:
                turns.append(high)
                rising, low, lowest = False, place, pressure
            elif rising is not True and pressure - lowest >= smallest:
                turns.append(low)
                rising, high, highest = True, place, pressure
    if rising is not None:
        turns.append(high if rising else low)
    return turns


def _follows_supply(raw: RawTrace, course: Coarse, swing: tuple[int, int]) -> bool:
    """Say whether the drive only went where its supply went: then nothing was switched."""
    if raw.supply_gauge_pa is None:
        return False
    for point in swing:
        supply = raw.supply_gauge_pa[course.row(point) : course.row(point + 1)].mean()
        if abs(float(supply) - float(course.value_pa[point])) > FOLLOWING_PA:
            return False
    return True


def _leaves(value: Series, swing: tuple[int, int], tolerance_pa: float) -> int:
    """Find the last point at which a swing had not yet left where it came from."""
    before, after = swing
    side = 1.0 if value[after] > value[before] else -1.0
    gone = side * (value[before : after + 1] - value[before])
    half = int(np.argmax(gone > gone[-1] / 2.0))
    still = np.flatnonzero(gone[:half] <= tolerance_pa)
    return before + (int(still[-1]) if still.size else 0)
