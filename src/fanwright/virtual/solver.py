"""March the air circuit through a story: the valve's travel, the shut-off, the outputs asked for.

Plain functions that ``kernels`` compiles. Nothing is checked here.
"""

from __future__ import annotations

import numpy as np

from fanwright.virtual.equations import (
    DELAY_CUT,
    DELAY_SEND,
    HELD,
    LEAST_OPENING,
    MOST_OPENING,
    RESERVOIR_RISE,
    REST,
    SWITCH_TIME,
    Vector,
    Whole,
    derivatives,
    matrix,
    prepare,
    start,
    stored,
)
from fanwright.virtual.steps import (
    first_event,
    hermite,
    scales,
    settle_mode,
    size_of_error,
    stages,
    take_event,
    write_outputs,
)

DONE, TOO_MANY_STEPS, STEP_TOO_SMALL = 0, 1, 2
MOST_STEPS = 400_000
FIRST_STEP_S = 2.0e-4
LEAST_STEP_S = 1.0e-12
MODE, NEXT_OUTPUT, STEPS, EVENTS = 0, 1, 2, 3

COMPILED = ("knots", "opening_at", "march", "run", "run_many")
"""What is compiled, each after what it calls."""


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
                return float(openings[i])
            share = (time - times[i]) / (times[i + 1] - times[i])
            return float(openings[i] + share * (openings[i + 1] - openings[i]))
    return float(openings[0])


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

    ``shuts`` holds the times at which the shut-off is turned, shut first. ``summary`` takes the mass gone
    amiss, the mass that moved, the steps and the number of events.
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
