"""How fast the air circuit is simulated, beside scipy's LSODA on the same equations in plain Python.

One story of 2 s (air sent, air cut off), 1,000 output times. Each side runs at its loosest setting that stays
within 0.15 kPa of scipy's Radau at 1e-9 at both gauges. Each side finds the piston's events by its own means.
Processor time, interleaved, medians; the draws by the clock, best of three.
"""

from __future__ import annotations

import statistics
import time
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from fanwright.truck.loader import presets
from fanwright.virtual import equations, kernels, solver, steps
from fanwright.virtual.air import Circuit, Story, circuit_of, simulate, simulate_draws

PSI = 6894.757293168
ALLOWED_PA = 150.0
STORY = Story(2.0, ((0.1, 1.0),))
CLOCK = np.linspace(0.0, 2.0, 1000)
OUR_TOLERANCES = (1e-3, 5e-4, 2e-4, 1e-4, 7e-5, 5e-5, 3e-5, 1e-5)
PEER_TOLERANCES = (1e-2, 3e-3, 1e-3, 5e-4, 2e-4, 1e-4, 7e-5, 5e-5, 3e-5, 1e-5)
DRAWS = 10_000
DRAWN = (
    "supply_conductance_m3_per_s_pa",
    "fill_conductance_m3_per_s_pa",
    "exhaust_conductance_m3_per_s_pa",
    "dead_volume_m3",
    "preload_n",
    "line_conductance_m3_per_s_pa",
)


def peer(circuit: Circuit, method: str, rtol: float, atol: np.ndarray) -> np.ndarray:
    """Run the story with scipy, the same equations as plain Python on floats, its own event finding."""
    given = equations.prepare(circuit.vector(), 1)
    p: Any = given.tolist()
    derivatives, margin = equations.derivatives, steps.margin
    corners, openings = np.zeros(5), np.zeros(5)
    corner_count = solver.knots(
        given, np.array([0.1, 1.0]), np.array([0.0, 1.0, 0.0]), 0.0, corners, openings
    )
    y = np.zeros(9)
    equations.start(given, 1, 0.0, y)
    mode, begin = equations.HELD, 0.0
    ends = sorted({*corners[1:corner_count].tolist(), 2.0})
    out = np.zeros((len(CLOCK), 2))
    while begin < 2.0:
        end = next(stop for stop in ends if stop > begin)
        first = solver.opening_at(begin, corners, openings, corner_count)
        after = [i for i in range(corner_count) if corners[i] >= end]
        last = openings[after[0]] if after else first
        slope = (last - first) / (end - begin)
        f: Any = [0.0] * 9

        def rhs(t: float, state: np.ndarray, m=mode, a=first, s=slope, b=begin, f=f) -> list[float]:
            derivatives(state.tolist(), f, p, 1, a + s * (t - b), True, True, m)
            return f

        kinds = {equations.HELD: (0, 1), equations.OUTWARD: (2, 4), equations.INWARD: (3, 5)}[mode]
        if mode == equations.HELD:
            kinds = (0,) if y[5] <= 0.0 else ((1,) if y[5] >= circuit.stroke_m else (0, 1))
        events = []
        for kind in kinds:

            def watch(t: float, state: np.ndarray, kind=kind, b=begin) -> float:
                return 1.0 if t <= b + 1e-6 else margin(kind, state[4], state[5], state[6], p)

            watch.terminal, watch.direction = True, -1
            events.append(watch)
        found = solve_ivp(
            rhs,
            (begin, end),
            y,
            method,
            rtol=rtol,
            atol=atol,
            events=events,
            dense_output=True,
        )
        reached = float(found.t[-1])
        rows = (begin <= CLOCK) & (reached >= CLOCK)
        if rows.any():
            out[rows] = found.sol(CLOCK[rows])[[1, 4]].T
        y = found.y[:, -1].copy()
        for kind, times in zip(kinds, found.t_events, strict=True):
            if len(times):
                mode = steps.take_event(kind, y, given, 4)
        if mode == equations.HELD and found.status != 1:
            mode = steps.settle_mode(y, given, 4)
        begin = reached
    return out - circuit.ambient_absolute_pa


def ours(circuit: Circuit, tolerance: float) -> np.ndarray:
    """Run the story with our solver."""
    shown = simulate(circuit, STORY, CLOCK, tolerance)
    return np.column_stack([shown.inlet_gauge_pa, shown.drive_gauge_pa])


def loosest(run: Any, tolerances: tuple[float, ...], truth: np.ndarray) -> tuple[float, float]:
    """Find the loosest tolerance within the allowed error; gives it and its error [kPa]."""
    for tolerance in tolerances:
        error = float(np.max(np.abs(run(tolerance) - truth)))
        if error <= ALLOWED_PA:
            return tolerance, error / 1000.0
    raise AssertionError(tolerances)


def cpu_s(call: Any) -> float:
    begin = time.process_time()
    call()
    return time.process_time() - begin


def run() -> list[dict[str, object]]:
    """Measure; gives one row for each goal."""
    circuit = circuit_of(presets()["line-haul spring-on"], 120 * PSI)
    scales = steps.scales(equations.prepare(circuit.vector(), 1), 1)  # the peer's errors count as ours do
    truth = peer(circuit, "Radau", 1e-9, scales * 1e-11)

    def by_peer(tolerance: float) -> np.ndarray:
        return peer(circuit, "LSODA", tolerance, scales * tolerance)

    def by_us(tolerance: float) -> np.ndarray:
        return ours(circuit, tolerance)

    our_tolerance, our_error = loosest(by_us, OUR_TOLERANCES, truth)
    peer_tolerance, peer_error = loosest(by_peer, PEER_TOLERANCES, truth)
    we, they = [], []
    for _ in range(5):
        we.append(cpu_s(lambda: [by_us(our_tolerance) for _ in range(100)]) / 100)
        they.append(cpu_s(lambda: by_peer(peer_tolerance)))
    ratio = statistics.median(they) / statistics.median(we)
    shares = np.exp(0.3 * np.random.default_rng(1).standard_normal((DRAWS, len(DRAWN))))
    draws = shares * np.array([getattr(circuit, name) for name in DRAWN])
    walls = []
    for _ in range(3):
        begin = time.perf_counter()
        many = simulate_draws(circuit, DRAWN, draws, STORY, CLOCK)
        walls.append(time.perf_counter() - begin)
    assert np.all(np.isfinite(many.drive_gauge_pa))
    note = f"ours {our_tolerance:g} ({our_error:.3f} kPa), LSODA {peer_tolerance:g} ({peer_error:.3f} kPa)"
    return [
        {
            "name": f"one air simulation against LSODA with a Python right-hand side, {note}",
            "measured": ratio,
            "goal": 60.0,
            "better": "higher",
            "unit": "x",
        },
        {
            "name": f"{DRAWS} parameter draws, {len(CLOCK)} output times each, all processors",
            "measured": min(walls),
            "goal": 1.0,
            "better": "lower",
            "unit": "s",
        },
    ]


if __name__ == "__main__":
    kernels.compiled()
    for row in run():
        print(row)
