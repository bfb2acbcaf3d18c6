"""Does an 80 % interval of an identified circuit hold 80 %? `python trials/identify.py [N]`, `make trials`.

Made traces of two kinds, half and half. *Like ours*: the simulation of `fanwright.virtual`, a truck with its
drive line or a drive of which only the volumes are known. *Apart*: equations of our own here, one volume
with a piston that follows its spring at once, marched by scipy; the inlet dips and recovers as it is told.

In both the exponent is drawn from 1 to 1.4, the volumes given lie up to 10 % off either way, each by itself,
the noise is 0.2 to 2 psi and the rate 20 to 1,000 Hz. Each trace has a stretch with the drive shut off.

Wanted: 74 to 86 % of the true values within their 80 % interval, for each number.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from fanwright.evidence.trace.identify import identify
from fanwright.evidence.trace.identify_machine import Machine, machine_of, machine_of_volumes
from fanwright.evidence.trace.maker import examine
from fanwright.evidence.trace.reader import Oddities, RawTrace
from fanwright.laws.air import series_conductance
from fanwright.truck.loader import presets
from fanwright.virtual.logger import Logger, simulate_trace
from fanwright.virtual.story import Story

PSI = 6894.757293168
LOWEST, HIGHEST = 0.74, 0.86
NAMES = ("fill", "exhaust", "leak", "lift_off", "full_stroke")
OUT = Path(__file__).parents[1] / "out"
Array = Any


@dataclass(frozen=True)
class Made:
    """A made trace, what is told of its drive, and the truth of each number [SI]."""

    raw: RawTrace
    machine: Machine
    truth: dict[str, float]


def logarithmic(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


@dataclass(frozen=True)
class Drawn:
    """What a trace is drawn from."""

    fill: float
    exhaust: float
    leak: float
    lift_off: float
    full_stroke: float
    supply: float
    exponent: float
    noise: float
    rate: float
    cycles: int
    hold: float


def drawn(rng: np.random.Generator) -> Drawn:
    lift_off = rng.uniform(20.0, 62.0) * PSI
    return Drawn(
        fill=logarithmic(rng, 0.1e-8, 0.7e-8),
        exhaust=logarithmic(rng, 0.2e-8, 1.2e-8),
        leak=logarithmic(rng, 5e-13, 2e-10),
        lift_off=lift_off,
        full_stroke=lift_off + rng.uniform(10.0, 24.0) * PSI,
        supply=rng.uniform(105.0, 128.0) * PSI,
        exponent=rng.uniform(1.0, 1.4),
        noise=logarithmic(rng, 0.2, 2.0) * PSI,
        rate=logarithmic(rng, 20.0, 1000.0),
        cycles=int(rng.integers(1, 4)),
        hold=rng.uniform(15.0, 60.0),
    )


def told_story(one: Drawn, volume: float, shut_at: Any) -> Story:
    """Send air so many times, long enough to settle; the first time the drive is shut off for a while."""
    on = 3.0 + 3.6 * volume / 2.6e-4 * 0.33e-8 / one.fill
    off = 2.0 + 2.4 * volume / 2.6e-4 * 0.7e-8 / one.exhaust
    start, sent, shut = 0.5, [], ()
    for number in range(one.cycles):
        extra = one.hold + 1.0 if number == 0 else 0.0
        if number == 0:
            shut = ((start + on, start + on + one.hold),)
        sent.append((start, start + on + extra))
        start += on + extra + off
    return Story(start, tuple(sent), shut=shut, shut_at=shut_at, settle_s=2.0)


def like_ours(rng: np.random.Generator) -> Made:
    """A trace by `fanwright.virtual`: every second with a drive line."""
    one, off = drawn(rng), rng.uniform(0.9, 1.1, 2)
    if rng.uniform() < 0.5:
        machine = machine_of(presets()["line-haul spring-on"])
    else:
        machine = machine_of_volumes(
            rng.uniform(6e-5, 4e-4), rng.uniform(5e-3, 2.4e-2), rng.uniform(1.5e-3, 4e-3)
        )
    given, area = machine.circuit, machine.circuit.piston_area_m2
    friction = rng.uniform(0.0, 1.5) * PSI * area if given.line_segments else 0.0
    stroke, dead = given.stroke_m / off[0], given.dead_volume_m3 / off[1]
    circuit = replace(
        given,
        dead_volume_m3=dead,
        stroke_m=stroke,
        exponent=one.exponent,
        fill_conductance_m3_per_s_pa=one.fill,
        exhaust_conductance_m3_per_s_pa=one.exhaust,
        seal_leak_m3_per_s_pa=one.leak,
        preload_n=one.lift_off * area - friction,
        stiffness_n_per_m=(one.full_stroke - one.lift_off) * area / stroke,
        sliding_friction_n=friction,
        breakaway_friction_n=friction,
        supply_gauge_pa=one.supply,
        send_delay_s=rng.uniform(0.01, 0.05),
        cut_delay_s=rng.uniform(0.01, 0.05),
        reservoir_volume_m3=rng.uniform(0.03, 0.12),
        supply_conductance_m3_per_s_pa=rng.uniform(0.8e-8, 3e-8),
    )
    volume = machine.line_volume_m3 + dead + area * stroke
    story = told_story(one, volume, "drive" if given.line_segments else "valve")
    division = 0.1 * PSI if rng.uniform() < 0.5 else 0.0
    logger = Logger(one.rate, one.noise, division, seed=int(rng.integers(2**31)))
    trace = simulate_trace(circuit, story, logger)
    paths = {"fill": one.fill, "exhaust": one.exhaust}
    if given.line_segments:
        line = (given.line_conductance_m3_per_s_pa, 0.0)
        paths = {
            "fill": series_conductance([(one.fill, 0.3), line])[0],
            "exhaust": series_conductance([line, (one.exhaust, 0.3)])[0],
        }
    columns = (trace.time_s, trace.supply_gauge_pa, trace.drive_gauge_pa, trace.air_sent, trace.shut)
    return Made(raw_of(*columns), machine, vars(one) | paths)


def ellipse(conductance: float, b: float, inlet: float, outlet: float) -> float:
    """Mass flow by ISO 6358-1 with m = 0.5 at 20 °C, straight to nothing above a ratio of 0.999."""
    ratio = outlet / inlet
    if conductance <= 0.0 or ratio >= 1.0:
        return 0.0
    edge = min(ratio, 0.999)
    share = 1.0 if edge <= b else np.sqrt(1.0 - ((edge - b) / (1.0 - b)) ** 2)
    return float(1.185 * conductance * inlet * share * min(1.0, (1.0 - ratio) / 0.001))


def apart(rng: np.random.Generator) -> Made:
    """A trace by equations of our own: dp/dt (V/n + p dV/dp) = R T (inflow - outflow)."""
    from scipy.integrate import solve_ivp

    one, off = drawn(rng), rng.uniform(0.9, 1.1, 2)
    dead, swept = rng.uniform(6e-5, 4e-4), rng.uniform(1e-5, 6e-5)
    area = rng.uniform(5e-3, 2.4e-2)
    machine = machine_of_volumes(dead * off[0], area, swept * off[1] / area)
    story = told_story(one, dead + swept, "valve")
    delays, ratio, air, gas = (
        rng.uniform(0.01, 0.05, 2),
        rng.uniform(0.25, 0.4, 3),
        101325.0,
        287.05287 * 293.15,
    )
    dip = rng.uniform(0.0, 4.0) * PSI

    def inlet(time_s: Array) -> Array:
        since = np.min([np.where(time_s >= begin, time_s - begin, 1e3) for begin, _ in story.sent], axis=0)
        return one.supply - 1.0 * PSI * time_s / 60.0 - dip * since / 0.15 * np.exp(1.0 - since / 0.15)

    def rate(time_s: float, state: Array, sends: bool, shut: bool) -> list[float]:
        pressure = float(state[0])
        place = (pressure - air - one.lift_off) / (one.full_stroke - one.lift_off)
        grows = swept / (one.full_stroke - one.lift_off) if 0.0 < place < 1.0 else 0.0
        volume = dead + swept * min(max(place, 0.0), 1.0)
        flow = -ellipse(one.leak, ratio[2], pressure, air)
        if not shut:
            flow += (
                ellipse(one.fill, ratio[0], float(inlet(np.array(time_s))) + air, pressure) if sends else 0.0
            )
            flow -= 0.0 if sends else ellipse(one.exhaust, ratio[1], pressure, air)
        return [gas * flow / (volume / one.exponent + pressure * grows)]

    moves = [(begin + delays[0], "sends", True) for begin, _ in story.sent]
    moves += [(end + delays[1], "sends", False) for _, end in story.sent]
    moves += [
        (at, "shut", turned) for span in story.shut for at, turned in zip(span, (True, False), strict=True)
    ]
    clock = np.arange(0.0, story.duration_s, 1.0 / one.rate)
    drive, begin, state = np.zeros(clock.size), 0.0, air
    told = {"sends": False, "shut": False}
    for at, what, turned in [*sorted(moves), (story.duration_s, "", False)]:
        inside = (clock >= begin) & (clock < at)
        found = solve_ivp(
            rate, (begin, at), [state], "LSODA", clock[inside], args=(told["sends"], told["shut"]),
            rtol=1e-6, atol=1.0, max_step=max((at - begin) / 50.0, 0.01), dense_output=True,
        )  # fmt: skip
        drive[inside] = found.sol(clock[inside])[0] if inside.any() else 0.0
        begin, state = at, float(found.sol(at)[0])
        told |= {what: turned} if what else {}
    shown = [np.round((each + one.noise * rng.standard_normal(clock.size)) / 690.0) * 690.0
             for each in (inlet(clock), drive - air)]  # fmt: skip
    raw = raw_of(clock, shown[0], shown[1], story.told_at(clock), story.shut_at_time(clock))
    return Made(raw, machine, vars(one))


def raw_of(time_s: Array, supply: Array, drive: Array, sent: Array, shut: Array) -> RawTrace:
    step = float(np.median(np.diff(time_s)))
    return RawTrace("made.csv", "0" * 64, step, time_s, supply, drive, sent, shut, Oddities(), ())


def sides(made: Made) -> dict[str, int]:
    """Identify; for each number found: 0 inside, 1 above, -1 below its interval."""
    found = identify(examine(made.raw), made.machine)
    intervals = {
        "fill": found.fill,
        "exhaust": found.exhaust,
        "leak": found.leak,
        "lift_off": found.lift_off_pa,
        "full_stroke": found.full_stroke_pa,
    }
    return {
        name: int(made.truth[name] > one.high) - int(made.truth[name] < one.low)
        for name, one in intervals.items()
        if one is not None
    }


def tried(makers: dict[str, Callable[[np.random.Generator], Made]], traces: int, seed: int) -> dict[str, Any]:
    """Identify so many traces of each kind; sides by kind and number."""
    found: dict[str, dict[str, list[int]]] = {kind: {name: [] for name in NAMES} for kind in makers}
    for number in range(traces):
        for kind, make in makers.items():
            for name, side in sides(make(np.random.default_rng([seed, number]))).items():
                found[kind][name].append(side)
    return found


KINDS = {"like ours": like_ours, "apart": apart}


def main(traces: int) -> int:
    start = time.perf_counter()
    found = tried(KINDS, traces // len(KINDS), 20260)
    lines = [
        "# Identified circuits",
        "",
        "| kind | number | traces | within | above | below | met |",
        "|---|---|---:|---:|---:|---:|---|",
    ]
    missed = 0
    both = {name: [side for kind in KINDS for side in found[kind][name]] for name in NAMES}
    for kind, numbers in (found | {"both": both}).items():
        for name, those in numbers.items():
            within = those.count(0) / max(len(those), 1)
            met = LOWEST <= within <= HIGHEST
            missed += kind == "both" and not met
            shares = (within, those.count(1) / max(len(those), 1), those.count(-1) / max(len(those), 1))
            written = " | ".join(f"{share:.3f}" for share in shares)
            lines.append(f"| {kind} | {name} | {len(those)} | {written} | {'yes' if met else '**no**'} |")
    lines.append(f"\n{traces} traces in {time.perf_counter() - start:.0f} s.")
    print("\n".join(lines))
    OUT.mkdir(exist_ok=True)
    (OUT / "trials-identify.md").write_text("\n".join(lines) + "\n", "utf-8")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 400))
