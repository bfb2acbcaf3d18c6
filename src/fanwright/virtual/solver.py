"""A linearly implicit solver for the air circuit, with the piston's events and the valve's travel.

Steps are four-stage Rosenbrock steps of order 3 with an embedded order 2 (Sandu, Verwer, Blom, Spee, Carmichael
and Potra 1997, "Rodas3"; coefficients from memory, proved by the order test), values in between cubic Hermite.
Sums that the equations keep, such as the mass of air, are kept to rounding. Compiled by ``kernels``.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fanwright.virtual.equations import (
    AMBIENT,
    AREA,
    BREAKAWAY,
    DEAD_VOLUME,
    DELAY_CUT,
    DELAY_SEND,
    FREE,
    HELD,
    INWARD,
    LEAST_OPENING,
    MOST_OPENING,
    OUTWARD,
    PRELOAD,
    RESERVOIR_RISE,
    REST,
    SLIDING,
    STIFFNESS,
    STROKE,
    SWITCH_TIME,
    Vector,
    derivatives,
    factor,
    matrix,
    prepare,
    solve,
    start,
    stored,
)

Whole = NDArray[np.int64]

DONE, TOO_MANY_STEPS, STEP_TOO_SMALL = 0, 1, 2
MOST_STEPS = 400_000
FIRST_STEP_S = 2.0e-4
LEAST_STEP_S = 1.0e-12
MODE, NEXT_OUTPUT, STEPS, EVENTS = 0, 1, 2, 3

COMPILED = (
    "stages",
    "margin",
    "hermite",
    "root",
    "settle_mode",
    "first_event",
    "take_event",
    "write_outputs",
    "scales",
    "size_of_error",
    "knots",
    "opening_at",
    "march",
    "run",
    "run_many",
)
"""What is compiled, each after what it calls."""


def stages(
    y: Vector,
    f: Vector,
    p: Vector,
    segments: int,
    opening: float,
    slope: float,
    valve_open: bool,
    drive_open: bool,
    mode: int,
    step: float,
    chain: Vector,
    rest: Vector,
    a: Vector,
    k: Vector,
    spare: Vector,
    after: Vector,
) -> None:
    """Take one step from ``y``: the new state goes to ``after``, its estimated error to ``k[3]``."""
    size = 7 + 2 * segments
    factor(chain, rest, segments, step, a)
    drift = spare[size:]
    if slope != 0.0:  # the equations are linear in the opening: their rate by it is a plain difference
        other = opening + 0.1 if opening < 0.5 else opening - 0.1
        derivatives(y, spare, p, segments, other, valve_open, drive_open, mode)
        for i in range(size):
            drift[i] = (spare[i] - f[i]) / (other - opening) * slope * step
    else:
        for i in range(size):
            drift[i] = 0.0
    for i in range(size):
        k[0, i] = f[i] + 0.5 * drift[i]
    solve(chain, rest, segments, step, a, k[0])
    for i in range(size):
        k[1, i] = f[i] + 4.0 / step * k[0, i] + 1.5 * drift[i]
    solve(chain, rest, segments, step, a, k[1])
    end = opening + slope * step
    for i in range(size):
        after[i] = y[i] + 2.0 * k[0, i]
    derivatives(after, spare, p, segments, end, valve_open, drive_open, mode)
    for i in range(size):
        k[2, i] = spare[i] + (k[0, i] - k[1, i]) / step
    solve(chain, rest, segments, step, a, k[2])
    for i in range(size):
        after[i] += k[2, i]
    derivatives(after, spare, p, segments, end, valve_open, drive_open, mode)
    for i in range(size):
        k[3, i] = spare[i] + (k[0, i] - k[1, i] - 8.0 / 3.0 * k[2, i]) / step
    solve(chain, rest, segments, step, a, k[3])
    for i in range(size):
        after[i] += k[3, i]


def margin(kind: int, pressure: float, place: float, speed: float, p: Vector) -> float:
    """How far an event is away, negative once it has come.

    Kinds: 0 the held piston breaks loose outward, 1 inward, 2 hits the far stop, 3 the near stop, 4 an outward
    piston comes to rest, 5 an inward one.
    """
    if kind <= 1:
        force = (pressure - p[AMBIENT]) * p[AREA] - p[PRELOAD] - p[STIFFNESS] * place
        return p[BREAKAWAY] - force if kind == 0 else p[BREAKAWAY] + force
    if kind == 2:
        return p[STROKE] - place
    if kind == 3:
        return place
    return speed if kind == 4 else -speed


def hermite(at: float, step: float, y: float, f: float, after: float, f_after: float) -> float:
    """Value at a share of a step from values and rates at its ends."""
    rest = 1.0 - at
    curve = step * (rest * f - at * f_after) + (after - y) * (2.0 * at - 1.0)
    return rest * y + at * after + at * rest * curve


def root(
    kind: int, drive: int, step: float, y: Vector, f: Vector, after: Vector, f_after: Vector, p: Vector
) -> float:
    """Share of the step at which an event's margin runs out, by bisection on the cubic."""
    low, high = 0.0, 1.0
    for _ in range(60):
        at = 0.5 * (low + high)
        pressure = hermite(at, step, y[drive], f[drive], after[drive], f_after[drive])
        place = hermite(at, step, y[drive + 1], f[drive + 1], after[drive + 1], f_after[drive + 1])
        speed = hermite(at, step, y[drive + 2], f[drive + 2], after[drive + 2], f_after[drive + 2])
        if margin(kind, pressure, place, speed, p) > 0.0:
            low = at
        else:
            high = at
    return high


def settle_mode(y: Vector, p: Vector, drive: int) -> int:
    """Say how the piston goes on from rest: held, outward, inward, or free where nothing rubs."""
    place = y[drive + 1]
    rubs = p[SLIDING] > 0.0 or p[BREAKAWAY] > 0.0
    if place < p[STROKE] and margin(0, y[drive], place, 0.0, p) < 0.0:
        return OUTWARD if rubs else FREE
    if place > 0.0 and margin(1, y[drive], place, 0.0, p) < 0.0:
        return INWARD if rubs else FREE
    return HELD if rubs or place <= 0.0 or place >= p[STROKE] else FREE


def first_event(
    mode: int, drive: int, step: float, y: Vector, f: Vector, after: Vector, f_after: Vector, p: Vector
) -> tuple[int, float]:
    """Find the first event of a step: its kind, or -1, and the share of the step at which it comes."""
    taken, kind = 1.0, -1
    pressure, place, speed = after[drive], after[drive + 1], after[drive + 2]
    for event in range(6):
        watched = mode == (OUTWARD if event % 2 == 0 else INWARD)
        if event <= 1:
            watched = mode == HELD and (place < p[STROKE] if event == 0 else place > 0.0)
        elif event <= 3:
            watched = watched or mode == FREE
        if watched and margin(event, pressure, place, speed, p) < 0.0:
            at = root(event, drive, step, y, f, after, f_after, p)
            if at <= taken:
                taken, kind = at, event
    return kind, taken


def take_event(kind: int, y: Vector, p: Vector, drive: int) -> int:
    """Let an event happen to the state; gives how the piston goes on."""
    if kind >= 2:
        y[drive + 2] = 0.0
        if kind == 2:
            y[drive + 1] = p[STROKE]
        elif kind == 3:
            y[drive + 1] = 0.0
        return settle_mode(y, p, drive)
    if p[SLIDING] > 0.0 or p[BREAKAWAY] > 0.0:
        return OUTWARD if kind == 0 else INWARD
    return FREE


def write_outputs(
    time: float,
    until: float,
    step: float,
    y: Vector,
    f: Vector,
    after: Vector,
    f_after: Vector,
    clock: Vector,
    columns: Whole,
    result: Vector,
    first: int,
) -> int:
    """Write the outputs that fall before ``until``; gives the next one to write."""
    row = first
    while row < len(clock) and clock[row] <= until:
        at = min(1.0, max(0.0, (clock[row] - time) / step))
        for j in range(len(columns)):
            i = columns[j]
            result[row, j] = hermite(at, step, y[i], f[i], after[i], f_after[i])
        row += 1
    return row


def scales(p: Vector, segments: int) -> Vector:
    """Give the size each number of the state is measured against."""
    drive = 2 + 2 * segments
    scale = np.full(drive + 5, 1.0e6)
    for i in range(3, drive, 2):
        scale[i] = 0.02
    scale[drive + 1] = p[STROKE]
    scale[drive + 2] = 200.0 * p[STROKE]
    scale[drive + 3] = scale[drive + 4] = 12.5 * (p[DEAD_VOLUME] + p[AREA] * p[STROKE])
    return scale


def size_of_error(error: Vector, scale: Vector) -> float:
    """Give the root mean square of an error in its scales, the air let out left aside."""
    total = 0.0
    count = len(scale) - 1
    for i in range(count):
        share = error[i] / scale[i]
        total += share * share
    return math.sqrt(total / count)


def knots(p: Vector, edges: Vector, targets: Vector, begin: float, times: Vector, openings: Vector) -> int:
    """Write the valve's opening as a broken line: each edge waits its delay and then travels at its speed.

    ``targets[0]`` is where the valve stands at first, ``targets[i + 1]`` where edge ``i`` sends it (0 or 1).
    A later edge that overtakes an earlier one wins. Returns how many corners were written.
    """
    count = 1
    times[0], openings[0] = begin, targets[0]
    for i in range(len(edges)):
        goes = edges[i] + (p[DELAY_SEND] if targets[i + 1] > 0.5 else p[DELAY_CUT])
        while count > 1 and times[count - 1] > goes:
            if times[count - 2] < goes:
                share = (goes - times[count - 2]) / (times[count - 1] - times[count - 2])
                openings[count - 1] = openings[count - 2] + share * (
                    openings[count - 1] - openings[count - 2]
                )
                times[count - 1] = goes
                break
            count -= 1
        here = openings[count - 1]
        times[count], openings[count] = max(goes, times[count - 1]), here
        travel = abs(targets[i + 1] - here) * p[SWITCH_TIME]
        times[count + 1], openings[count + 1] = times[count] + travel, targets[i + 1]
        count += 2
    least = p[LEAST_OPENING]
    span = max(0.0, p[MOST_OPENING] - least)
    for i in range(count):
        openings[i] = least + span * openings[i]
    return count


def opening_at(time: float, times: Vector, openings: Vector, count: int) -> float:
    """Opening of the valve at a time, the later value where it jumps."""
    for i in range(count - 1, -1, -1):
        if times[i] <= time:
            if i == count - 1:
                return openings[i]
            share = (time - times[i]) / (times[i + 1] - times[i])
            return openings[i] + share * (openings[i + 1] - openings[i])
    return openings[0]


def march(
    y: Vector,
    p: Vector,
    segments: int,
    span: Vector,
    openings: Vector,
    valve_open: bool,
    drive_open: bool,
    tolerance: float,
    clock: Vector,
    columns: Whole,
    result: Vector,
    events: Vector,
    counts: Whole,
) -> int:
    """March the state over one stretch of time with a straight opening; write the outputs that fall into it.

    Args:
        y: State, changed in place.
        p: Parameters.
        segments: Line segments.
        span: Start and end of the stretch.
        openings: Opening of the valve at both.
        valve_open: Whether the line is joined to the valve.
        drive_open: Whether the drive is joined to the line.
        tolerance: Error allowed in a step, as a share of each number's scale.
        clock: All output times.
        columns: Which numbers of the state are wanted.
        result: Output, a row for each time.
        events: Time, kind and drive pressure of piston events, a row for each.
        counts: Mode, next output, steps, events so far; changed in place.

    Returns:
        ``DONE``, ``TOO_MANY_STEPS`` or ``STEP_TOO_SMALL``.
    """
    drive = 2 + 2 * segments
    size = drive + 5
    chain, rest, a, k = (
        np.zeros((4, drive + 1)),
        np.zeros(REST),
        np.zeros((4, drive + 1)),
        np.zeros((4, size)),
    )
    f, f_after, after, spare = np.zeros(size), np.zeros(size), np.zeros(size), np.zeros(2 * size)
    scale = scales(p, segments)
    time, end, opening = span[0], span[1], openings[0]
    slope = (openings[1] - opening) / (end - time)
    mode = settle_mode(y, p, drive) if counts[MODE] == HELD else counts[MODE]
    step, fresh = FIRST_STEP_S, True
    derivatives(y, f, p, segments, opening, valve_open, drive_open, mode)
    while time < end:
        if counts[STEPS] >= MOST_STEPS:
            return TOO_MANY_STEPS
        counts[STEPS] += 1
        last = step >= end - time
        step = min(step, end - time)
        if fresh:
            matrix(y, f, p, segments, opening, valve_open, drive_open, mode, chain, rest)
        stages(
            y,
            f,
            p,
            segments,
            opening,
            slope,
            valve_open,
            drive_open,
            mode,
            step,
            chain,
            rest,
            a,
            k,
            spare,
            after,
        )
        error = size_of_error(k[3], scale) / tolerance
        fresh = error <= 1.0
        if not fresh:
            step *= max(0.15, 0.85 * error ** (-1.0 / 3.0)) if error < 1.0e12 else 0.1
            if step < LEAST_STEP_S:
                return STEP_TOO_SMALL
            continue
        later = openings[1] if last else opening + slope * step
        derivatives(after, f_after, p, segments, later, valve_open, drive_open, mode)
        kind, taken = first_event(mode, drive, step, y, f, after, f_after, p)
        until = end if last and kind < 0 else time + taken * step
        counts[NEXT_OUTPUT] = write_outputs(
            time, until, step, y, f, after, f_after, clock, columns, result, counts[NEXT_OUTPUT]
        )
        for i in range(size):
            y[i] = hermite(taken, step, y[i], f[i], after[i], f_after[i])
        opening = later if kind < 0 else opening + slope * taken * step
        step *= min(5.0, 0.85 * max(error, 1.0e-4) ** (-1.0 / 3.0))
        if kind >= 0:
            if counts[EVENTS] < len(events):
                row = events[counts[EVENTS]]
                row[0], row[1], row[2] = until, kind, y[drive]
            counts[EVENTS] += 1
            mode = take_event(kind, y, p, drive)
            step = min(step, FIRST_STEP_S)
            derivatives(y, f, p, segments, opening, valve_open, drive_open, mode)
        else:
            for i in range(size):
                f[i] = f_after[i]
        time = until
    counts[MODE] = mode
    return DONE


def run(
    given: Vector,
    segments: int,
    edges: Vector,
    targets: Vector,
    shuts: Vector,
    shut_at_valve: bool,
    begin: float,
    end: float,
    tolerance: float,
    clock: Vector,
    columns: Whole,
    result: Vector,
    events: Vector,
    summary: Vector,
) -> int:
    """Run one circuit through one story.

    ``shuts`` holds the times at which the shut-off is turned, shut first. ``summary`` takes the mass gone amiss,
    the mass that moved, the steps and the number of events.
    """
    p = prepare(given, segments)
    corner_times, corner_openings = np.zeros(2 * len(edges) + 1), np.zeros(2 * len(edges) + 1)
    count = knots(p, edges, targets, begin, corner_times, corner_openings)
    y = np.zeros(7 + 2 * segments)
    start(p, segments, corner_openings[0], y)
    before, reservoir = stored(y, p, segments), y[0]
    counts = np.zeros(4, np.int64)
    span, openings = np.zeros(2), np.zeros(2)
    status, time, corner, turn = DONE, begin, 0, 0
    while time < end and status == DONE:
        while corner < count and corner_times[corner] <= time:
            corner += 1
        while turn < len(shuts) and shuts[turn] <= time:
            turn += 1
        until = end
        if corner < count:
            until = min(until, corner_times[corner])
        if turn < len(shuts):
            until = min(until, shuts[turn])
        span[0], span[1] = time, until
        openings[0] = opening_at(time, corner_times, corner_openings, count)
        openings[1] = openings[0]
        if corner < count:
            share = (until - time) / (corner_times[corner] - time)
            openings[1] += share * (corner_openings[corner] - openings[0])
        is_shut = turn % 2 == 1
        status = march(
            y,
            p,
            segments,
            span,
            openings,
            not (is_shut and shut_at_valve),
            not (is_shut and not shut_at_valve),
            tolerance,
            clock,
            columns,
            result,
            events,
            counts,
        )
        time = until
    summary[0] = stored(y, p, segments) - before
    moved = (reservoir - y[0]) / p[RESERVOIR_RISE]
    summary[1] = abs(moved) + y[len(y) - 1]
    summary[2], summary[3] = counts[STEPS], counts[EVENTS]
    return status


def run_many(
    many: Vector,
    segments: int,
    edges: Vector,
    targets: Vector,
    shuts: Vector,
    shut_at_valve: bool,
    begin: float,
    end: float,
    tolerance: float,
    clock: Vector,
    columns: Whole,
    results: Vector,
    summaries: Vector,
    statuses: Whole,
) -> None:
    """Run many circuits through the same story, one after the other."""
    events = np.zeros((0, 3))
    for i in range(len(many)):
        statuses[i] = run(
            many[i],
            segments,
            edges,
            targets,
            shuts,
            shut_at_valve,
            begin,
            end,
            tolerance,
            clock,
            columns,
            results[i],
            events,
            summaries[i],
        )
