"""One linearly implicit step of the air circuit, its error, what lies in between, and the piston's events.

Steps are four-stage Rosenbrock steps of order 3 with an embedded order 2 (Sandu, Verwer, Blom, Spee,
Carmichael and Potra 1997, "Rodas3"; coefficients from memory, proved by the order test), values in between
cubic Hermite. Sums that the equations keep, such as the mass of air, are kept to rounding. Compiled by
``kernels``.
"""

from __future__ import annotations

import math

import numpy as np

from fanwright.virtual.equations import (
    AMBIENT,
    AREA,
    BREAKAWAY,
    DEAD_VOLUME,
    FREE,
    HELD,
    INWARD,
    OUTWARD,
    PRELOAD,
    SLIDING,
    STIFFNESS,
    STROKE,
    Vector,
    Whole,
    derivatives,
    factor,
    solve,
)

CLEARLY = 1.0 + 1.0e-6

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

    Kinds: 0 the held piston breaks loose outward, 1 inward, 2 hits the far stop, 3 the near stop, 4 an
    outward piston comes to rest, 5 an inward one. A piston that came to rest breaks loose only once it is
    pushed clearly harder than what held it; else rounding lets it start and stop at one moment for ever.
    """
    if kind <= 1:
        force = (pressure - p[AMBIENT]) * p[AREA] - p[PRELOAD] - p[STIFFNESS] * place
        return float(CLEARLY * p[BREAKAWAY] - force if kind == 0 else CLEARLY * p[BREAKAWAY] + force)
    if kind == 2:
        return float(p[STROKE] - place)
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
        scale[i] = 0.1
    scale[drive + 1] = 4.0 * p[STROKE]
    scale[drive + 2] = 1000.0 * p[STROKE]
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
