"""The air circuit behind a trace: known circuits are found again, and what a trace cannot tell is said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fanwright.evidence.trace.identify import identify
from fanwright.evidence.trace.identify_machine import machine_of, machine_of_volumes
from fanwright.evidence.trace.identify_result import Identified, Interval
from fanwright.evidence.trace.maker import examine
from fanwright.evidence.trace.reader import Oddities, RawTrace
from fanwright.laws.air import series_conductance
from fanwright.report.say import say_all
from fanwright.truck.loader import presets
from fanwright.virtual.air import Story, circuit_of, cycles, with_faults
from fanwright.virtual.logger import Logger, simulate_trace

PSI = 6894.757293168
TRUCK = presets()["line-haul spring-on"]
MACHINE = machine_of(TRUCK)
SOUND = circuit_of(TRUCK, 120.0 * PSI)
CYCLES = cycles(2, 3.0, 4.0, 1.0)
HOLD = Story(50.0, ((1.0, 46.0),), shut=((4.0, 44.0),), settle_s=2.0)
LINE = (SOUND.line_conductance_m3_per_s_pa, 0.0)
FEED = series_conductance([(SOUND.fill_conductance_m3_per_s_pa, 0.3), LINE])[0]
OUT = series_conductance([LINE, (SOUND.exhaust_conductance_m3_per_s_pa, 0.3)])[0]


def traced(circuit: Any, story: Story = CYCLES, logger: Logger | None = None, **changed: Any) -> RawTrace:
    trace = simulate_trace(circuit, story, logger or Logger(seed=1))
    step = float(np.median(np.diff(trace.time_s)))
    columns = (trace.time_s, trace.supply_gauge_pa, trace.drive_gauge_pa, trace.air_sent, trace.shut)
    return replace(RawTrace("made.csv", "0" * 64, step, *columns, Oddities(), ()), **changed)


def found(raw: RawTrace, machine: Any = MACHINE) -> Identified:
    return identify(examine(raw), machine)


def near(one: Interval | None, truth: float, share: float) -> bool:
    assert one is not None
    assert one.low <= one.value <= one.high
    return abs(one.value - truth) <= share * truth


def told(one: Identified) -> str:
    return " | ".join(say_all(one.cannot_tell))


@pytest.mark.parametrize("story", [CYCLES, HOLD])
def test_a_sound_truck_is_found_again(story: Story) -> None:
    one = found(traced(SOUND, story))
    assert near(one.fill, FEED, 0.06)
    assert near(one.exhaust, OUT, 0.06)
    assert near(one.supply, SOUND.supply_conductance_m3_per_s_pa, 0.1)
    area = SOUND.piston_area_m2
    lift = (SOUND.preload_n + SOUND.breakaway_friction_n) / area
    assert near(one.lift_off_pa, lift, 0.01)
    assert near(one.full_stroke_pa, lift + SOUND.stiffness_n_per_m * SOUND.stroke_m / area, 0.01)
    assert near(one.friction_pa, SOUND.sliding_friction_n / area, 0.5)
    # From the command to the valve half open: its delay and half its travel.
    for response, delay in (
        (one.send_response_s, SOUND.send_delay_s),
        (one.cut_response_s, SOUND.cut_delay_s),
    ):
        assert response is not None
        assert response.value == pytest.approx(delay + SOUND.switch_time_s / 2.0, abs=0.006)
    assert one.difference_pa is not None
    assert one.difference_pa < 0.3 * PSI


@pytest.mark.parametrize(
    ("fault", "name", "share"),
    [
        ({"exhaust_blocked": 0.7}, "exhaust", 0.3),
        ({"supply_path_blocked": 0.8}, "supply", (0.5 + 0.5 / 0.04) ** -0.5),
    ],
)
def test_a_narrowed_path_is_found_and_the_others_stay(
    fault: dict[str, float], name: str, share: float
) -> None:
    sound = {"fill": FEED, "exhaust": OUT, "supply": SOUND.supply_conductance_m3_per_s_pa}
    one = found(traced(with_faults(SOUND, fault), cycles(2, 4.0, 6.0, 1.0)))
    for path, whole in sound.items():
        assert near(getattr(one, path), share * whole if path == name else whole, 0.12), path


def test_the_summary_compares_with_a_healthy_truck_and_names_no_culprit() -> None:
    said = ". ".join(say_all(found(traced(with_faults(SOUND, {"exhaust_blocked": 0.7}))).summary))
    assert "The exhaust path passes 3" in said
    assert "Filling is as it should be" in said
    assert "line-haul spring-on" in said
    for word in ("blocked", "screen", "valve sticks", "replace"):
        assert word not in said


def test_a_leak_seen_only_while_shut_off() -> None:
    leak = 2e-12
    one = found(traced(replace(SOUND, seal_leak_m3_per_s_pa=leak), HOLD))
    assert near(one.leak, leak, 0.2)
    assert one.line_leak is None
    # By hand: d(ln p)/dt = n rho0 R T0 C / V of a choked leak, n between 1 and 1.4.
    volume = SOUND.dead_volume_m3 + SOUND.piston_area_m2 * SOUND.stroke_m + 0.5 * MACHINE.line_volume_m3
    rate = 1.185 * 287.05287 * 293.15 * leak * (119.5 * PSI + 101325.0) / volume
    assert near(one.hold_loss_pa_per_s, rate, 0.2)


def test_a_line_that_leaks_before_the_shut_off_is_told_from_a_drive_that_holds() -> None:
    one = found(traced(with_faults(SOUND, {"leak_drive_line": 0.1}), HOLD))
    assert near(one.line_leak, 0.1 * 2.0 * SOUND.fill_conductance_m3_per_s_pa, 0.25)
    assert one.leak is not None
    assert one.leak.high < 1e-12
    assert near(one.fill, FEED, 0.12)


@pytest.mark.parametrize("story", [CYCLES, HOLD])
def test_a_valve_that_stops_on_its_way_leaves_the_exhaust_open(story: Story) -> None:
    one = found(traced(with_faults(SOUND, {"valve_sticks_shut": 0.4}), story))
    assert near(
        one.fill, series_conductance([(0.6 * SOUND.fill_conductance_m3_per_s_pa, 0.3), LINE])[0], 0.15
    )
    assert one.exhaust is not None
    assert one.exhaust.low < OUT < 1.05 * one.exhaust.high
    assert "stays open" in told(one)


def test_a_hot_fill_that_cools_is_no_leak() -> None:
    hot = replace(SOUND, exponent=1.4, wall_time_s=8.0)
    story = Story(80.0, ((1.0, 70.0),), shut=((2.5, 62.5),), settle_s=2.0)
    one = found(traced(hot, story))
    assert one.sag_pa is not None
    assert one.sag_pa.value > 15.0 * PSI
    assert one.hold_loss_pa_per_s is not None
    assert one.hold_loss_pa_per_s.value < 3.0 * PSI / 60.0
    leaking = found(traced(replace(hot, seal_leak_m3_per_s_pa=2e-11), story))
    assert near(leaking.leak, 2e-11, 0.2)


def test_air_left_in_the_drive_is_a_seat_that_leaks() -> None:
    one = found(traced(with_faults(SOUND, {"valve_seat_leaks": 0.6})))
    assert near(one.seat, 0.6 * 0.25 * SOUND.exhaust_conductance_m3_per_s_pa, 0.2)
    assert near(one.exhaust, OUT, 0.12)


def test_a_piston_that_sticks() -> None:
    one = found(traced(with_faults(SOUND, {"drive_sticks": 0.2})))
    friction = with_faults(SOUND, {"drive_sticks": 0.2}).sliding_friction_n / SOUND.piston_area_m2
    assert near(one.friction_pa, friction, 0.3)
    assert "sticks" in " ".join(say_all(one.summary))


def test_without_volumes_nothing_is_guessed() -> None:
    one = identify(examine(traced(SOUND)), None)
    assert (one.fill, one.exhaust, one.leak, one.lift_off_pa) == (None, None, None, None)
    assert "volumes" in told(one)


def test_without_a_command_the_valve_s_response_is_not_told() -> None:
    one = found(traced(SOUND, air_sent=None))
    assert (one.send_response_s, one.cut_response_s) == (None, None)
    assert "when air was sent" in told(one)
    assert near(one.fill, FEED, 0.12)


def test_without_an_inlet_gauge_supply_and_leak_are_not_told() -> None:
    one = found(traced(SOUND, supply_gauge_pa=None))
    assert (one.supply, one.leak) == (None, None)
    assert "inlet gauge" in told(one)
    assert near(one.exhaust, OUT, 0.12)


def test_without_a_shut_off_a_small_leak_is_only_bounded() -> None:
    one = found(traced(SOUND))
    assert one.leak is not None
    assert one.leak.low == 0.0
    assert "may hide" in told(one)


def test_a_drive_that_never_reaches_full_stroke() -> None:
    one = found(traced(replace(SOUND, supply_gauge_pa=76.0 * PSI)))
    assert one.full_stroke_pa is None
    assert near(one.lift_off_pa, 62.93 * PSI, 0.02)
    assert "arrives" in told(one)


@pytest.mark.parametrize(
    ("fault", "words"),
    [("coil_open", "did not rise above"), ("valve_sticks_open", "no fill from an empty drive")],
)
def test_a_drive_that_never_moves(fault: str, words: str) -> None:
    one = found(traced(with_faults(SOUND, {fault: 1.0})))
    assert (one.fill, one.exhaust) == (None, None)
    assert words in told(one)


def test_a_drive_that_keeps_its_air() -> None:
    one = found(traced(with_faults(SOUND, {"exhaust_blocked": 1.0})))
    assert one.exhaust is None
    assert "kept its" in told(one)
    assert near(one.fill, FEED, 0.12)


def test_too_few_rows_in_a_stroke() -> None:
    quick = replace(SOUND, exhaust_conductance_m3_per_s_pa=2.5e-8)
    one = found(traced(quick, logger=Logger(rate_hz=10.0, seed=2)))
    assert one.exhaust is None
    assert "log faster" in told(one)


def test_a_gauge_that_stands_at_the_valve_and_not_at_the_drive() -> None:
    raw = traced(SOUND, logger=Logger(rate_hz=500.0, seed=1))
    follows = np.where(raw.air_sent, raw.supply_gauge_pa, 0.0)
    kernel = np.ones(12) / 12.0
    one = found(replace(raw, drive_gauge_pa=np.convolve(follows, kernel, "same")))
    assert one.fill is None
    assert "drive" in told(one)


def test_a_course_that_no_drive_shows(made: Any) -> None:
    time, supply, drive, sent = made.Story().rows(100, 0.2, 1)
    odd = np.where(sent, drive + 30.0 * np.sin(8.0 * time), drive) * PSI
    raw = RawTrace("odd.csv", "0" * 64, 0.01, time, supply * PSI, odd, sent, None, Oddities(), ())
    one = found(raw)
    assert (one.fill, one.exhaust, one.leak) == (None, None, None)
    assert "beside the trace" in told(one)


def test_volumes_scale_conductances() -> None:
    raw = traced(replace(SOUND, line_segments=0))
    sizes = (SOUND.dead_volume_m3, SOUND.piston_area_m2, SOUND.stroke_m)
    one = found(raw, machine_of_volumes(*sizes))
    twice = found(raw, machine_of_volumes(2.0 * sizes[0], sizes[1], 2.0 * sizes[2]))
    assert one.fill is not None
    assert near(one.fill, SOUND.fill_conductance_m3_per_s_pa, 0.08)
    assert near(twice.fill, 2.0 * one.fill.value, 0.06)
    assert (one.summary, told(one)) != ((), "")


def test_two_traces_of_one_drive_compare_more_sharply_than_their_intervals() -> None:
    before, after = (
        found(traced(with_faults(SOUND, {"exhaust_blocked": severity}), logger=Logger(seed=seed)))
        for severity, seed in ((0.2, 3), (0.15, 4))
    )
    assert before.exhaust is not None
    assert after.exhaust is not None
    assert before.exhaust.high > after.exhaust.low  # each alone: not sure
    one, two = before.alike["exhaust"], after.alike["exhaust"]
    assert two.value / one.value == pytest.approx(0.85 / 0.8, rel=0.02)
    assert (two.value - one.value) / np.hypot(one.sd, two.sd) > 3.0


def test_curves_only_when_wanted() -> None:
    result = examine(traced(SOUND))
    assert identify(result, MACHINE).curves == ()
    curves = identify(result, MACHINE, curves=True).curves
    assert len(curves) == 2
    assert all(len(curve.time_s) == len(curve.difference_pa) for curve in curves)
    assert {round(gauge / PSI) for _, gauge in curves[0].marks} == {63, 83, 81, 61}


def odd_trace(rng: np.random.Generator) -> RawTrace:
    """A trace that no drive ever showed: wandering, jumping, swinging, constant."""
    rate = float(np.exp(rng.uniform(np.log(5.0), np.log(800.0))))
    time = np.arange(max(3, int(rng.uniform(0.3, 15.0) * rate))) / rate
    drive = (
        np.cumsum(rng.standard_normal(time.size)) * 1e4,
        np.full(time.size, rng.uniform(-1e5, 1e6)),
        8e5 * (np.sin(time * rng.uniform(0.1, 20.0)) > 0.0),
        8e5 * np.abs(np.sin(time * rng.uniform(0.1, 5.0))),
        rng.uniform(-1e6, 1e7, time.size),
        8e5 * (1.0 - np.exp(-time / rng.uniform(0.01, 5.0))),
    )[rng.integers(0, 6)] + 1e3 * rng.standard_normal(time.size)
    supply = None if rng.uniform() < 0.3 else np.full(time.size, 8e5) + 1e3 * rng.standard_normal(time.size)
    flags = [
        None if rng.uniform() < 0.5 else np.sin(time * rng.uniform(0.1, 5.0)) > rng.uniform(-1.0, 1.0)
        for _ in range(2)
    ]
    return RawTrace("odd.csv", "0" * 64, 1.0 / rate, time, supply, drive, *flags, Oddities(), ())


@pytest.mark.parametrize("seed", range(20))
def test_odd_traces_give_numbers_in_order_or_none(seed: int) -> None:
    rng = np.random.default_rng([11, seed])
    sizes = (np.exp(rng.uniform(*np.log(ends))) for ends in ((5e-6, 1e-2), (1e-4, 0.2), (2e-4, 0.05)))
    machine = MACHINE if seed % 2 else machine_of_volumes(*sizes)
    one = identify(examine(odd_trace(rng)), machine, curves=True)
    for interval in (one.fill, one.exhaust, one.leak, one.lift_off_pa, one.full_stroke_pa, one.supply):
        if interval is not None:
            assert np.isfinite([interval.value, interval.low, interval.high]).all()
            assert interval.low <= interval.value <= interval.high
    if one.fill is None:
        assert told(one)
