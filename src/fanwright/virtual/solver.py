"""The air circuit as stiff equations, and a linearly implicit solver for them.

Plain scalar functions that ``kernels`` compiles; uncompiled they run too, only slowly. Nothing is checked here.

State: pressure of the reservoir, of the valve inlet, then along the drive line pressure, flow, pressure ... up to
the drive, piston place, piston speed, air in the drive, air let out. With n line segments that is 7 + 2 n numbers;
with none the drive hangs straight on the valve. Pressures are absolute [Pa], flows and masses [kg/s], [kg].

The piston is held (0), moves out (1), moves in (-1), or is free where nothing rubs (2). Its stops are inelastic.

The solver takes four-stage Rosenbrock steps of order 3 with an embedded order 2 (Sandu, Verwer, Blom, Spee,
Carmichael and Potra 1997, "Rodas3", coefficients from memory and proved by the order tests), and gives values
in between by cubic Hermite. Sums that the equations keep, such as the mass of air, are kept to rounding.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fanwright.laws.air import GAS_CONSTANT_J_PER_KG_K as GAS_CONSTANT
from fanwright.laws.air import REFERENCE_DENSITY_KG_PER_M3 as REFERENCE_DENSITY
from fanwright.laws.air import REFERENCE_TEMPERATURE_K as REFERENCE_TEMPERATURE
from fanwright.laws.air import _mass_flow
from fanwright.laws.line import _line_loss, _smooth

Vector = NDArray[np.float64]

# Places of the parameters; the order of ``air.Circuit.vector``.
(
    RESERVOIR_VOLUME,
    AMBIENT,
    TEMPERATURE,
    SUPPLY_C,
    SUPPLY_B,
    INLET_VOLUME,
    FILL_C,
    FILL_B,
    EXHAUST_C,
    EXHAUST_B,
    SEAT_LEAK,
    SUPPLY_LEAK,
    LINE_LEAK,
    SEAL_LEAK,
    LEAK_B,
    LINE_LENGTH,
    LINE_BORE,
    LINE_C,
    DEAD_VOLUME,
    AREA,
    STROKE,
    MASS,
    PRELOAD,
    STIFFNESS,
    DAMPING,
    SLIDING,
    BREAKAWAY,
    EXPONENT,
    WALL_TIME,
    DELAY_SEND,
    DELAY_CUT,
    SWITCH_TIME,
    LEAST_OPENING,
    MOST_OPENING,
    SUPPLY_GAUGE,
) = range(35)
PARAMETERS = 35
(
    GAS,
    RESERVOIR_RISE,
    INLET_RISE,
    ROUGH,
    SMOOTH,
    PUSH,
    LINE_RISE,
    HALF_LINE,
) = range(PARAMETERS, PARAMETERS + 8)
DERIVED = 8
(
    MASS_BY_BEFORE,
    MASS_BY_DRIVE,
    DRIVE_BY_PLACE,
    DRIVE_BY_SPEED,
    DRIVE_BY_MASS,
    PLACE_BY_SPEED,
    SPEED_BY_DRIVE,
    SPEED_BY_PLACE,
    SPEED_BY_SPEED,
) = range(9)
REST = 9
DIFFERENCE_PA = 0.5
DIFFERENCE_KG_PER_S = 1.0e-7

LINEAR_FROM = 0.995
SHUT_TIME_S = 1.0e-3
HELD, OUTWARD, INWARD, FREE = 0, 1, -1, 2
DONE, TOO_MANY_STEPS, STEP_TOO_SMALL = 0, 1, 2
MOST_STEPS = 400_000
FIRST_STEP_S = 2.0e-4

COMPILED = (
    "_mass_flow",
    "_line_loss",
    "_smooth",
    "two_way",
    "right_slope",
    "leak_slope",
    "prepare",
    "derivatives",
    "matrix",
    "factor",
    "solve",
    "stages",
    "margin",
    "root",
    "hermite",
    "settle_mode",
    "start",
    "stored",
    "knots",
    "opening_at",
    "march",
    "run",
    "run_many",
)


def two_way(conductance: float, critical: float, left: float, right: float, temperature: float) -> float:
    """Mass flow from left to right, negative when it runs back."""
    if conductance <= 0.0:
        return 0.0
    if left >= right:
        return _mass_flow(conductance, critical, 0.5, 0.0, left, right, temperature, LINEAR_FROM)
    return -_mass_flow(conductance, critical, 0.5, 0.0, right, left, temperature, LINEAR_FROM)


def right_slope(conductance: float, critical: float, left: float, right: float, temperature: float) -> float:
    """Rate of the flow by the pressure on the right; the rate by the left follows, as flow scales with both."""
    if conductance <= 0.0:
        return 0.0
    there = two_way(conductance, critical, left, right + DIFFERENCE_PA, temperature)
    return (there - two_way(conductance, critical, left, right, temperature)) / DIFFERENCE_PA


def leak_slope(
    conductance: float, critical: float, inside: float, ambient: float, temperature: float
) -> float:
    """Rate of a flow into the open air by the pressure inside."""
    if conductance <= 0.0:
        return 0.0
    there = two_way(conductance, critical, inside + DIFFERENCE_PA, ambient, temperature)
    return (there - two_way(conductance, critical, inside, ambient, temperature)) / DIFFERENCE_PA


def prepare(given: Vector, segments: int) -> Vector:
    """Give the parameters with what follows from them, so that it is worked out once."""
    p = np.zeros(PARAMETERS + DERIVED)
    for i in range(PARAMETERS):
        p[i] = given[i]
    gas = GAS_CONSTANT * p[TEMPERATURE]
    p[GAS] = gas
    p[RESERVOIR_RISE] = gas / p[RESERVOIR_VOLUME]
    p[INLET_RISE] = p[EXPONENT] * gas / p[INLET_VOLUME]
    if segments > 0:
        area = 0.25 * math.pi * p[LINE_BORE] * p[LINE_BORE]
        piece = p[LINE_LENGTH] / segments
        sonic = REFERENCE_DENSITY * p[LINE_C]
        p[ROUGH] = p[TEMPERATURE] / (REFERENCE_TEMPERATURE * sonic * sonic * segments)
        p[SMOOTH] = _smooth(piece, p[LINE_BORE], p[TEMPERATURE])
        p[PUSH] = area / piece
        p[LINE_RISE] = p[EXPONENT] * gas / (area * piece)
        p[HALF_LINE] = 0.5 * area * piece
    return p


def derivatives(
    y: Vector,
    f: Vector,
    p: Vector,
    segments: int,
    opening: float,
    valve_open: bool,
    drive_open: bool,
    mode: int,
) -> None:
    """Write the rates of change of the state into ``f``."""
    ambient, temperature = p[AMBIENT], p[TEMPERATURE]
    drive = 2 + 2 * segments
    supply = two_way(p[SUPPLY_C], p[SUPPLY_B], y[0], y[1], temperature)
    lost_before = two_way(p[SUPPLY_LEAK], p[LEAK_B], y[1], ambient, temperature)
    lost_line = two_way(p[LINE_LEAK], p[LEAK_B], y[2], ambient, temperature)
    lost_seal = two_way(p[SEAL_LEAK], p[LEAK_B], y[drive], ambient, temperature)
    fed, let_out = 0.0, 0.0
    if valve_open:
        fed = two_way(p[FILL_C] * opening, p[FILL_B], y[1], y[2], temperature)
        fed += two_way(p[SEAT_LEAK], p[LEAK_B], y[1], y[2], temperature)
        let_out = two_way(p[EXHAUST_C] * (1.0 - opening), p[EXHAUST_B], y[2], ambient, temperature)
    f[0] = -p[RESERVOIR_RISE] * supply
    f[1] = p[INLET_RISE] * (supply - fed - lost_before)
    into = fed - let_out - lost_line
    for i in range(segments):
        left = 2 + 2 * i
        flow = y[left + 1]
        f[left] = p[LINE_RISE] * (into - flow) * (2.0 if i == 0 else 1.0)
        loss = _line_loss(flow, p[ROUGH], p[SMOOTH], y[left] + y[left + 2])
        f[left + 1] = p[PUSH] * (y[left] - y[left + 2] - loss)
        into = flow
    if segments > 0 and not drive_open:
        f[drive - 1] = -y[drive - 1] / SHUT_TIME_S
    into -= lost_seal
    pressure, place, speed, mass = y[drive], y[drive + 1], y[drive + 2], y[drive + 3]
    volume = p[DEAD_VOLUME] + p[HALF_LINE] + p[AREA] * place
    cooling = (pressure - mass * p[GAS] / volume) / p[WALL_TIME]
    f[drive] = p[EXPONENT] / volume * (p[GAS] * into - pressure * p[AREA] * speed) - cooling
    f[drive + 1] = 0.0
    f[drive + 2] = 0.0
    if mode != HELD:
        rubbing = 0.0 if mode == FREE else mode * p[SLIDING]
        force = (pressure - ambient) * p[AREA] - p[PRELOAD] - p[STIFFNESS] * place
        f[drive + 1] = speed
        f[drive + 2] = (force - p[DAMPING] * speed - rubbing) / p[MASS]
    f[drive + 3] = into
    f[drive + 4] = let_out + lost_before + lost_line + lost_seal


def matrix(
    y: Vector,
    f: Vector,
    p: Vector,
    segments: int,
    opening: float,
    valve_open: bool,
    drive_open: bool,
    mode: int,
    chain: Vector,
    rest: Vector,
) -> None:
    """Write the Jacobian.

    ``chain`` takes the three diagonals of the chain from the reservoir to the drive and, as a fourth row, how each
    of its numbers acts on the air let out; ``rest`` takes what the drive's pressure, the piston and the air in the
    drive do to each other, by the places in ``REST``.
    """
    ambient, temperature = p[AMBIENT], p[TEMPERATURE]
    drive = 2 + 2 * segments
    lower, middle, upper, out = chain[0], chain[1], chain[2], chain[3]
    for i in range(drive + 1):
        out[i] = 0.0
    supply = -f[0] / p[RESERVOIR_RISE]
    by_in = right_slope(p[SUPPLY_C], p[SUPPLY_B], y[0], y[1], temperature)
    by_reservoir = (supply - y[1] * by_in) / y[0]
    out[1] = leak_slope(p[SUPPLY_LEAK], p[LEAK_B], y[1], ambient, temperature)
    fed, fed_by_line, let_by_line = 0.0, 0.0, 0.0
    if valve_open:
        fed = two_way(p[FILL_C] * opening, p[FILL_B], y[1], y[2], temperature)
        fed += two_way(p[SEAT_LEAK], p[LEAK_B], y[1], y[2], temperature)
        fed_by_line = right_slope(p[FILL_C] * opening, p[FILL_B], y[1], y[2], temperature)
        fed_by_line += right_slope(p[SEAT_LEAK], p[LEAK_B], y[1], y[2], temperature)
        let_by_line = leak_slope(p[EXHAUST_C] * (1.0 - opening), p[EXHAUST_B], y[2], ambient, temperature)
    fed_by_inlet = (fed - y[2] * fed_by_line) / y[1]
    out[2] = let_by_line + leak_slope(p[LINE_LEAK], p[LEAK_B], y[2], ambient, temperature)
    middle[0], upper[0] = -p[RESERVOIR_RISE] * by_reservoir, -p[RESERVOIR_RISE] * by_in
    lower[1] = p[INLET_RISE] * by_reservoir
    middle[1] = p[INLET_RISE] * (by_in - fed_by_inlet - out[1])
    upper[1] = -p[INLET_RISE] * fed_by_line
    into_by_before, into_by_here = fed_by_inlet, fed_by_line - out[2]
    for i in range(segments):
        left = 2 + 2 * i
        rise = p[LINE_RISE] * (2.0 if i == 0 else 1.0)
        lower[left], middle[left], upper[left] = rise * into_by_before, rise * into_by_here, -rise
        flow, both = y[left + 1], y[left] + y[left + 2]
        loss = _line_loss(flow, p[ROUGH], p[SMOOTH], both)
        by_flow = (
            _line_loss(flow + DIFFERENCE_KG_PER_S, p[ROUGH], p[SMOOTH], both) - loss
        ) / DIFFERENCE_KG_PER_S
        lower[left + 1] = p[PUSH] * (1.0 + loss / both)
        middle[left + 1] = -p[PUSH] * by_flow
        upper[left + 1] = p[PUSH] * (loss / both - 1.0)
        into_by_before, into_by_here = 1.0, 0.0
    if segments > 0 and not drive_open:
        lower[drive - 1], middle[drive - 1], upper[drive - 1] = 0.0, -1.0 / SHUT_TIME_S, 0.0
    by_seal = leak_slope(p[SEAL_LEAK], p[LEAK_B], y[drive], ambient, temperature)
    out[drive] += by_seal
    into_by_here -= by_seal
    volume = p[DEAD_VOLUME] + p[HALF_LINE] + p[AREA] * y[drive + 1]
    held = y[drive + 3] * p[GAS] / volume
    cooling = (y[drive] - held) / p[WALL_TIME]
    lower[drive] = p[EXPONENT] * p[GAS] / volume * into_by_before
    middle[drive] = (
        p[EXPONENT] / volume * (p[GAS] * into_by_here - p[AREA] * y[drive + 2]) - 1.0 / p[WALL_TIME]
    )
    rest[MASS_BY_BEFORE], rest[MASS_BY_DRIVE] = into_by_before, into_by_here
    rest[DRIVE_BY_PLACE] = -p[AREA] / volume * (f[drive] + cooling + held / p[WALL_TIME])
    rest[DRIVE_BY_SPEED] = -p[EXPONENT] * y[drive] * p[AREA] / volume
    rest[DRIVE_BY_MASS] = p[GAS] / (volume * p[WALL_TIME])
    moves = 0.0 if mode == HELD else 1.0
    rest[PLACE_BY_SPEED] = moves
    rest[SPEED_BY_DRIVE] = moves * p[AREA] / p[MASS]
    rest[SPEED_BY_PLACE] = -moves * p[STIFFNESS] / p[MASS]
    rest[SPEED_BY_SPEED] = -moves * p[DAMPING] / p[MASS]


def factor(chain: Vector, rest: Vector, segments: int, step: float, a: Vector) -> None:
    """Factor 2/step minus the Jacobian: piston and air in the drive are worked into the drive's own row."""
    drive = 2 + 2 * segments
    diagonal, short = 2.0 / step, 0.5 * step
    for i in range(drive + 1):
        a[0, i], a[1, i], a[2, i] = -chain[0, i], diagonal - chain[1, i], -chain[2, i]
    own = diagonal - rest[SPEED_BY_SPEED] - rest[SPEED_BY_PLACE] * short * rest[PLACE_BY_SPEED]
    a[3, 0] = rest[DRIVE_BY_SPEED] + rest[DRIVE_BY_PLACE] * short * rest[PLACE_BY_SPEED]
    a[3, 1] = 1.0 / own
    a[1, drive] -= a[3, 0] * rest[SPEED_BY_DRIVE] * a[3, 1]
    a[1, drive] -= rest[DRIVE_BY_MASS] * short * rest[MASS_BY_DRIVE]
    a[0, drive] -= rest[DRIVE_BY_MASS] * short * rest[MASS_BY_BEFORE]
    a[1, 0] = 1.0 / a[1, 0]
    for i in range(1, drive + 1):
        a[0, i] *= a[1, i - 1]
        a[1, i] = 1.0 / (a[1, i] - a[0, i] * a[2, i - 1])


def solve(chain: Vector, rest: Vector, segments: int, step: float, a: Vector, b: Vector) -> None:
    """Solve with the factored matrix, in place."""
    drive = 2 + 2 * segments
    place, speed, mass, out, short = drive + 1, drive + 2, drive + 3, drive + 4, 0.5 * step
    push = b[speed] + rest[SPEED_BY_PLACE] * short * b[place]
    b[drive] += rest[DRIVE_BY_PLACE] * short * b[place] + rest[DRIVE_BY_MASS] * short * b[mass]
    b[drive] += a[3, 0] * push * a[3, 1]
    for i in range(1, drive + 1):
        b[i] -= a[0, i] * b[i - 1]
    b[drive] *= a[1, drive]
    for i in range(drive - 1, -1, -1):
        b[i] = (b[i] - a[2, i] * b[i + 1]) * a[1, i]
    b[speed] = (push + rest[SPEED_BY_DRIVE] * b[drive]) * a[3, 1]
    b[place] = short * (b[place] + rest[PLACE_BY_SPEED] * b[speed])
    b[mass] = short * (b[mass] + rest[MASS_BY_BEFORE] * b[drive - 1] + rest[MASS_BY_DRIVE] * b[drive])
    total = b[out] + chain[3, 1] * b[1] + chain[3, 2] * b[2]
    if segments > 0:
        total += chain[3, drive] * b[drive]
    b[out] = short * total


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


def start(p: Vector, segments: int, opening: float, y: Vector) -> None:
    """Write the state of a circuit at rest with the valve passing (opening over a half) or shut."""
    drive = 2 + 2 * segments
    supply = p[AMBIENT] + p[SUPPLY_GAUGE]
    inside = supply if opening > 0.5 else p[AMBIENT]
    y[:] = 0.0
    y[0] = supply
    y[1] = supply
    for i in range(2, drive + 1, 2):
        y[i] = inside
    past = (inside - p[AMBIENT]) * p[AREA] - p[PRELOAD]
    place = past / p[STIFFNESS] if p[STIFFNESS] > 0.0 else (p[STROKE] if past > 0.0 else 0.0)
    y[drive + 1] = min(max(place, 0.0), p[STROKE])
    volume = p[DEAD_VOLUME] + p[HALF_LINE] + p[AREA] * y[drive + 1]
    y[drive + 3] = inside * volume / p[GAS]


def stored(y: Vector, p: Vector, segments: int) -> float:
    """Mass of air held in the circuit and let out of it, up to a constant: what the equations must keep."""
    drive = 2 + 2 * segments
    held = y[drive + 3] + y[drive + 4] + y[0] / p[RESERVOIR_RISE] + y[1] / p[INLET_RISE]
    for i in range(segments):
        held += (0.5 if i == 0 else 1.0) / p[LINE_RISE] * y[2 + 2 * i]
    return held


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
    columns: NDArray[np.int64],
    result: Vector,
    events: Vector,
    counts: NDArray[np.int64],
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
        events: Times and kinds of piston events; a row for each.
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
    scale = np.full(size, 1.0e6)
    for i in range(3, drive, 2):
        scale[i] = 0.02
    scale[drive + 1] = p[STROKE]
    scale[drive + 2] = 200.0 * p[STROKE]
    scale[drive + 3] = scale[drive + 4] = 1.0e6 * (p[DEAD_VOLUME] + p[AREA] * p[STROKE]) / 8.0e4
    time, end = span[0], span[1]
    slope = (openings[1] - openings[0]) / (end - time) if end > time else 0.0
    mode = counts[0]
    if mode == HELD:
        mode = settle_mode(y, p, drive)
    step = min(FIRST_STEP_S, end - time)
    opening = openings[0]
    derivatives(y, f, p, segments, opening, valve_open, drive_open, mode)
    fresh = True
    while time < end:
        if counts[2] >= MOST_STEPS:
            return TOO_MANY_STEPS
        counts[2] += 1
        last = step >= end - time
        if last:
            step = end - time
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
        total = 0.0
        for i in range(size - 1):
            share = k[3, i] / scale[i]
            total += share * share
        error = math.sqrt(total / (size - 1)) / tolerance
        if not error <= 1.0:
            step *= max(0.15, 0.85 * error ** (-1.0 / 3.0)) if error < 1.0e12 else 0.1
            fresh = False
            if step < 1.0e-12:
                return STEP_TOO_SMALL
            continue
        fresh = True
        later = openings[1] if last else opening + slope * step
        derivatives(after, f_after, p, segments, later, valve_open, drive_open, mode)
        taken, kind = 1.0, -1
        for event in range(6):
            if event <= 1:
                watched = mode == HELD and (
                    after[drive + 1] < p[STROKE] if event == 0 else after[drive + 1] > 0.0
                )
            elif event <= 3:
                watched = mode == FREE or mode == (OUTWARD if event == 2 else INWARD)
            else:
                watched = mode == (OUTWARD if event == 4 else INWARD)
            if watched and margin(event, after[drive], after[drive + 1], after[drive + 2], p) < 0.0:
                at = root(event, drive, step, y, f, after, f_after, p)
                if at <= taken:
                    taken, kind = at, event
        until = time + taken * step if kind >= 0 or not last else end
        while counts[1] < len(clock) and clock[counts[1]] <= until:
            row = counts[1]
            at = min(1.0, max(0.0, (clock[row] - time) / step))
            for j in range(len(columns)):
                i = columns[j]
                result[row, j] = hermite(at, step, y[i], f[i], after[i], f_after[i])
            counts[1] = row + 1
        if kind < 0:
            for i in range(size):
                y[i], f[i] = after[i], f_after[i]
            opening = later
        else:
            for i in range(size):
                y[i] = hermite(taken, step, y[i], f[i], after[i], f_after[i])
            opening += slope * taken * step
            if kind >= 2:
                y[drive + 2] = 0.0
            if kind == 2:
                y[drive + 1] = p[STROKE]
            elif kind == 3:
                y[drive + 1] = 0.0
            if kind == 0:
                mode = OUTWARD if p[SLIDING] > 0.0 or p[BREAKAWAY] > 0.0 else FREE
            elif kind == 1:
                mode = INWARD if p[SLIDING] > 0.0 or p[BREAKAWAY] > 0.0 else FREE
            else:
                mode = settle_mode(y, p, drive)
            if counts[3] < len(events):
                events[counts[3], 0], events[counts[3], 1] = until, kind
                events[counts[3], 2] = y[drive]
                counts[3] += 1
            derivatives(y, f, p, segments, opening, valve_open, drive_open, mode)
        time = until
        grown = step * min(5.0, 0.85 * max(error, 1.0e-4) ** (-1.0 / 3.0))
        step = grown if kind < 0 else min(grown, FIRST_STEP_S)
    counts[0] = mode
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
    columns: NDArray[np.int64],
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
    summary[2], summary[3] = counts[2], counts[3]
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
    columns: NDArray[np.int64],
    results: Vector,
    summaries: Vector,
    statuses: NDArray[np.int64],
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
