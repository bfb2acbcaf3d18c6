"""The air circuit as stiff equations: rates of change, their Jacobian, and the linear system of one step.

Plain scalar functions that ``kernels`` compiles; uncompiled they run too, only slowly. Nothing is checked
here.

State: pressure of the reservoir, of the valve inlet, then along the drive line pressure, flow, pressure ...
up to the drive, then piston place, piston speed, air in the drive, air let out. With n line segments that
is 7 + 2 n numbers; with none the drive hangs straight on the valve. Pressures are absolute [Pa], flows
[kg/s], masses [kg].

The piston is held (0), moves out (1), moves in (-1), or is free where nothing rubs (2). Its stops are
inelastic.
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
Whole = NDArray[np.int64]

# Places of the parameters; the order of ``circuit.BOUNDS``.
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
COMPILED = (
    "_mass_flow",
    "_line_loss",
    "_smooth",
    "two_way",
    "right_slope",
    "leak_slope",
    "prepare",
    "derivatives",
    "piston_slopes",
    "matrix",
    "factor",
    "solve",
    "start",
    "stored",
)
"""What is compiled, each after what it calls."""


def two_way(conductance: float, critical: float, left: float, right: float) -> float:
    """Mass flow from left to right, negative when it runs back; the temperature is in the conductance."""
    if conductance <= 0.0:
        return 0.0
    if left >= right:
        return _mass_flow(conductance, critical, 0.5, 0.0, left, right, REFERENCE_TEMPERATURE, LINEAR_FROM)
    return -_mass_flow(conductance, critical, 0.5, 0.0, right, left, REFERENCE_TEMPERATURE, LINEAR_FROM)


def right_slope(conductance: float, critical: float, left: float, right: float, flow: float) -> float:
    """Rate of a flow by the pressure on the right; that by the left follows, as flow scales with both."""
    if conductance <= 0.0:
        return 0.0
    return (two_way(conductance, critical, left, right + DIFFERENCE_PA) - flow) / DIFFERENCE_PA


def leak_slope(conductance: float, critical: float, inside: float, ambient: float) -> float:
    """Rate of a flow into the open air by the pressure inside."""
    if conductance <= 0.0:
        return 0.0
    here = two_way(conductance, critical, inside, ambient)
    return (two_way(conductance, critical, inside + DIFFERENCE_PA, ambient) - here) / DIFFERENCE_PA


def prepare(given: Vector, segments: int) -> Vector:
    """Give the parameters with what follows from them; the temperature goes into the conductances."""
    p = np.zeros(PARAMETERS + DERIVED)
    for i in range(PARAMETERS):
        p[i] = given[i]
    warmed = math.sqrt(REFERENCE_TEMPERATURE / p[TEMPERATURE])
    for i in (SUPPLY_C, FILL_C, EXHAUST_C, SEAT_LEAK, SUPPLY_LEAK, LINE_LEAK, SEAL_LEAK):
        p[i] *= warmed
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
    ambient = p[AMBIENT]
    drive = 2 + 2 * segments
    supply = two_way(p[SUPPLY_C], p[SUPPLY_B], y[0], y[1])
    lost_before = two_way(p[SUPPLY_LEAK], p[LEAK_B], y[1], ambient)
    lost_line = two_way(p[LINE_LEAK], p[LEAK_B], y[2], ambient)
    lost_seal = two_way(p[SEAL_LEAK], p[LEAK_B], y[drive], ambient)
    fed, let_out = 0.0, 0.0
    if valve_open:
        fed = two_way(p[FILL_C] * opening, p[FILL_B], y[1], y[2])
        fed += two_way(p[SEAT_LEAK], p[LEAK_B], y[1], y[2])
        let_out = two_way(p[EXHAUST_C] * (1.0 - opening), p[EXHAUST_B], y[2], ambient)
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


def piston_slopes(
    y: Vector,
    f: Vector,
    p: Vector,
    drive: int,
    mode: int,
    into_by_before: float,
    into_by_here: float,
    chain: Vector,
    rest: Vector,
) -> None:
    """Write the part of the Jacobian that belongs to the drive: its pressure, the piston, the air in it."""
    volume = p[DEAD_VOLUME] + p[HALF_LINE] + p[AREA] * y[drive + 1]
    held = y[drive + 3] * p[GAS] / volume
    cooling = (y[drive] - held) / p[WALL_TIME]
    rise = p[EXPONENT] / volume
    chain[0, drive] = rise * p[GAS] * into_by_before
    chain[1, drive] = rise * (p[GAS] * into_by_here - p[AREA] * y[drive + 2]) - 1.0 / p[WALL_TIME]
    rest[MASS_BY_BEFORE], rest[MASS_BY_DRIVE] = into_by_before, into_by_here
    rest[DRIVE_BY_PLACE] = -p[AREA] / volume * (f[drive] + cooling + held / p[WALL_TIME])
    rest[DRIVE_BY_SPEED] = -rise * y[drive] * p[AREA]
    rest[DRIVE_BY_MASS] = p[GAS] / (volume * p[WALL_TIME])
    moves = 0.0 if mode == HELD else 1.0
    rest[PLACE_BY_SPEED] = moves
    rest[SPEED_BY_DRIVE] = moves * p[AREA] / p[MASS]
    rest[SPEED_BY_PLACE] = -moves * p[STIFFNESS] / p[MASS]
    rest[SPEED_BY_SPEED] = -moves * p[DAMPING] / p[MASS]


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

    ``chain`` takes the three diagonals of the chain from the reservoir to the drive and, as a fourth row,
    how each of its numbers acts on the air let out; ``rest`` takes what the drive's pressure, the piston
    and the air in the drive do to each other, by the places in ``REST``.
    """
    ambient = p[AMBIENT]
    drive = 2 + 2 * segments
    lower, middle, upper, out = chain[0], chain[1], chain[2], chain[3]
    for i in range(drive + 1):
        out[i] = 0.0
    supply = -f[0] / p[RESERVOIR_RISE]
    by_in = right_slope(p[SUPPLY_C], p[SUPPLY_B], y[0], y[1], supply)
    by_reservoir = (supply - y[1] * by_in) / y[0]
    out[1] = leak_slope(p[SUPPLY_LEAK], p[LEAK_B], y[1], ambient)
    fed, fed_by_line, let_by_line = 0.0, 0.0, 0.0
    if valve_open:
        main = two_way(p[FILL_C] * opening, p[FILL_B], y[1], y[2])
        seat = two_way(p[SEAT_LEAK], p[LEAK_B], y[1], y[2])
        fed = main + seat
        fed_by_line = right_slope(p[FILL_C] * opening, p[FILL_B], y[1], y[2], main)
        fed_by_line += right_slope(p[SEAT_LEAK], p[LEAK_B], y[1], y[2], seat)
        let_by_line = leak_slope(p[EXHAUST_C] * (1.0 - opening), p[EXHAUST_B], y[2], ambient)
    fed_by_inlet = (fed - y[2] * fed_by_line) / y[1]
    out[2] = let_by_line + leak_slope(p[LINE_LEAK], p[LEAK_B], y[2], ambient)
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
    by_seal = leak_slope(p[SEAL_LEAK], p[LEAK_B], y[drive], ambient)
    out[drive] += by_seal
    into_by_here -= by_seal
    piston_slopes(y, f, p, drive, mode, into_by_before, into_by_here, chain, rest)


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
    return float(held)
