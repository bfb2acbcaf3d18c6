"""Faults by name show as the trade knows them, and as the laws of air demand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fanwright.catalogue.loader import load
from fanwright.errors import InputError
from fanwright.laws.air import mass_flow
from fanwright.truck.loader import presets
from fanwright.virtual.air import (
    FAULTS,
    Circuit,
    Simulation,
    Story,
    circuit_of,
    cycles,
    simulate,
    with_faults,
    with_loose_plug,
)

PSI = 6894.757293168
CYCLE = cycles(1, on_s=4.0, off_s=6.0)
CLOCK = np.arange(0.0, CYCLE.duration_s, 0.002)


def sound(name: str = "line-haul spring-on", psi: float = 120.0) -> Circuit:
    return circuit_of(presets()[name], psi * PSI)


def shown(faults: dict[str, float], psi: float = 120.0, name: str = "line-haul spring-on") -> Simulation:
    return simulate(with_faults(sound(name, psi), faults), CYCLE, CLOCK)


def fill_time(one: Simulation) -> float:
    """From air sent to 90 psi at the drive [s]; infinite if it never got there."""
    reached = np.flatnonzero(one.drive_gauge_pa[CLOCK < 4.5] >= 90 * PSI)
    return float(CLOCK[reached[0]]) - 0.5 if reached.size else np.inf


def vent_time(one: Simulation) -> float:
    """From 90 psi falling to 2 psi [s]; infinite if it never got there."""
    after = CLOCK >= 4.5
    high, low = (np.flatnonzero(after & (one.drive_gauge_pa <= level * PSI)) for level in (90, 2))
    return float(CLOCK[low[0]] - CLOCK[high[0]]) if low.size else np.inf


@pytest.mark.parametrize("name", list(presets()))
def test_sound_trucks_fill_and_vent_within_a_second(name: str) -> None:
    one = shown({}, name=name)
    assert 0.2 < fill_time(one) < 1.0
    assert 0.2 < vent_time(one) < 1.0
    assert one.inlet_gauge_pa.min() > 100 * PSI
    settled = CLOCK < 4.4
    assert one.drive_gauge_pa[settled][-1] == pytest.approx(one.inlet_gauge_pa[settled][-1], abs=500.0)


def test_filling_depends_on_the_supply_and_venting_does_not() -> None:
    # A sound circuit that fills in 0.80 s at 120 psi needs 0.95 at 105, 1.03 at 100, 1.13 at 95 (computed for
    # a generic circuit by closed form); venting from 90 psi does not care.
    at = {psi: shown({}, psi) for psi in (120, 105, 100, 95)}
    for psi, ratio in ((105, 0.95 / 0.80), (100, 1.03 / 0.80), (95, 1.13 / 0.80)):
        assert fill_time(at[psi]) / fill_time(at[120]) == pytest.approx(ratio, rel=0.06)
        assert vent_time(at[psi]) == pytest.approx(vent_time(at[120]), rel=0.02)


def test_one_fill_takes_little_from_the_tanks() -> None:
    one = shown({})
    used = (one.reservoir_gauge_pa[0] - one.reservoir_gauge_pa[-1]) / PSI
    assert 0.2 < used < 0.7


def test_many_cycles_run_the_reservoir_down() -> None:
    small = replace(sound(), reservoir_volume_m3=0.004)
    story = cycles(5, on_s=1.5, off_s=1.5)
    one = simulate(small, story, np.arange(0.0, story.duration_s, 0.5))
    assert np.all(np.diff(one.reservoir_gauge_pa) <= 1.0)
    assert one.reservoir_gauge_pa[-1] < 0.8 * one.reservoir_gauge_pa[0]


@pytest.mark.parametrize("severity", [0.5, 0.75])
def test_blocked_exhaust_slows_the_vent_alone(severity: float) -> None:
    one, good = shown({"exhaust_blocked": severity}), shown({})
    assert fill_time(one) == pytest.approx(fill_time(good), abs=0.01)
    assert vent_time(one) / vent_time(good) > 0.8 / (1.0 - severity)


def test_wholly_blocked_exhaust_never_vents() -> None:
    assert vent_time(shown({"exhaust_blocked": 1.0})) == np.inf


def test_kinked_line_slows_both_ways() -> None:
    one, good = shown({"drive_line_restricted": 0.93}), shown({})
    assert fill_time(one) > 1.5 * fill_time(good)
    assert vent_time(one) > 1.5 * vent_time(good)


@pytest.mark.parametrize("fault", ["supply_path_blocked", "filter_plugged"])
def test_narrow_supply_makes_the_inlet_dip(fault: str) -> None:
    one, good = shown({fault: 0.9}), shown({})
    assert one.inlet_gauge_pa[0] == pytest.approx(good.inlet_gauge_pa[0], rel=1e-6)
    assert one.inlet_gauge_pa.min() < 90 * PSI < good.inlet_gauge_pa.min()
    assert fill_time(one) > 1.5 * fill_time(good)
    assert vent_time(one) == pytest.approx(vent_time(good), rel=0.05)


@pytest.mark.parametrize(("share", "psi"), [(0.01, 0.04), (0.05, 1.1), (0.10, 4.0), (0.20, 14.0)])
def test_seat_leak_leaves_a_rest_pressure(share: float, psi: float) -> None:
    # a choked leak of a share of the exhaust's conductance against the exhaust: the balance of two flows
    exhaust = sound().exhaust_conductance_m3_per_s_pa
    steady = replace(sound(), inlet_volume_m3=1e6)  # the inlet stays at 120 psi
    leaky = replace(steady, seat_leak_m3_per_s_pa=share * exhaust)
    one = simulate(leaky, Story(1.0, settle_s=20.0), np.array([1.0]))
    assert one.drive_gauge_pa[0] / PSI == pytest.approx(psi, abs=0.05 * psi + 0.05)
    flow_in = mass_flow(share * exhaust, 0.5, one.inlet_gauge_pa[0] + 101325.0, 2e5)
    flow_out = mass_flow(exhaust, 0.3, one.drive_gauge_pa[0] + 101325.0, 101325.0, linear_from=0.995)
    assert flow_out == pytest.approx(flow_in, rel=1e-3)


@pytest.mark.parametrize(("psi", "litres"), [(82.0, 134.0), (71.0, 147.0)])
def test_a_leak_that_lowers_the_drive_roars(psi: float, litres: float) -> None:
    # what a fill path of 0.3 dm3/(s bar) passes from 120 psi into a drive held down at 82 or 71 psi
    flow = mass_flow(3e-9, 0.3, 120 * PSI + 101325.0, psi * PSI + 101325.0)
    assert flow / 1.185 * 60000.0 == pytest.approx(litres, abs=0.6)


@pytest.mark.parametrize("fault", ["leak_drive_line", "drive_seal_leaks"])
def test_leak_behind_the_valve_lowers_the_drive_and_empties_it_when_shut_off(fault: str) -> None:
    leaky = with_faults(sound(psi=118.0), {fault: 0.7})
    story = Story(8.0, ((0.5, 8.0),), shut=((4.0, 8.0),), shut_at="valve")
    one = simulate(leaky, story, CLOCK[CLOCK < 8.0])
    assert 60 * PSI < one.drive_gauge_pa[1900] < 85 * PSI
    empty = np.flatnonzero(one.drive_gauge_pa[2000:] < 2 * PSI)
    assert 0.1 < one.time_s[2000 + empty[0]] - 4.0 < 1.5


def test_shut_off_at_the_drive_parts_seal_from_line() -> None:
    story = Story(8.0, ((0.5, 8.0),), shut=((4.0, 8.0),), shut_at="drive")
    times = np.array([4.1, 7.9])
    line, seal = (
        simulate(with_faults(sound(), {fault: 0.01}), story, times).drive_gauge_pa
        for fault in ("leak_drive_line", "drive_seal_leaks")
    )
    assert line[0] - line[1] < 100.0
    assert seal[0] - seal[1] > 2 * PSI


def test_shut_off_at_the_valve_finds_both_leaks_but_not_the_seat() -> None:
    story = Story(8.0, ((0.5, 8.0),), shut=((4.0, 8.0),), shut_at="valve")
    for fault, lost in (("leak_drive_line", True), ("drive_seal_leaks", True), ("valve_seat_leaks", False)):
        one = simulate(with_faults(sound(), {fault: 0.01}), story, np.array([4.1, 7.9]))
        assert (one.drive_gauge_pa[0] - one.drive_gauge_pa[1] > 2 * PSI) == lost


def test_leak_before_the_valve_runs_the_tanks_down() -> None:
    one, good = shown({"leak_supply_side": 0.3}), shown({})
    assert one.reservoir_gauge_pa[-1] < good.reservoir_gauge_pa[-1] - 5 * PSI


def test_low_vehicle_air() -> None:
    assert shown({"vehicle_air_low": 0.5}).inlet_gauge_pa[0] == pytest.approx(0.625 * 120 * PSI, rel=1e-3)
    assert fill_time(shown({"vehicle_air_low": 0.5})) == np.inf


def test_valve_that_sticks() -> None:
    assert fill_time(shown({"valve_sticks_shut": 1.0})) == np.inf
    assert fill_time(shown({"valve_sticks_shut": 0.6})) > 1.5 * fill_time(shown({}))
    assert vent_time(shown({"valve_sticks_open": 1.0})) == np.inf
    assert shown({"valve_sticks_open": 1.0}).drive_gauge_pa[-1] > 60 * PSI


def test_weak_coil_is_late_and_at_last_dead() -> None:
    assert fill_time(shown({"coil_weak": 0.5})) == pytest.approx(fill_time(shown({})) + 0.25, abs=0.01)
    assert fill_time(shown({"volts_low": 1.0})) == np.inf


def test_tired_spring_lifts_off_early() -> None:
    good, weak = shown({}).events[0], shown({"clamp_spring_weak": 0.5}).events[0]
    assert weak.drive_gauge_pa / good.drive_gauge_pa == pytest.approx(0.6, abs=0.01)


def test_sticking_drive_lifts_off_late_and_returns_late() -> None:
    good, stuck = shown({}), shown({"drive_sticks": 0.3})
    out, back = (
        [next(e.drive_gauge_pa for e in one.events if e.what == what) for one in (good, stuck)]
        for what in ("moves out", "moves back")
    )
    assert out[1] > out[0] + 10 * PSI
    assert back[1] < back[0] - 10 * PSI
    assert shown({"drive_sticks": 1.0}).fan_at(4.4) != "lets_go"


def test_loose_plug_flickers_the_same_for_the_same_seed() -> None:
    story = cycles(1, on_s=8.0, off_s=2.0)
    loose = with_loose_plug(story, 0.3, seed=5)
    assert loose == with_loose_plug(story, 0.3, seed=5) != with_loose_plug(story, 0.3, seed=6)
    assert with_loose_plug(story, 0.0, seed=5) == story
    gaps = sum(end - start for start, end in loose.unplugged)
    assert 0.05 * story.duration_s < gaps < 0.7 * story.duration_s
    simulate(sound(), loose, np.array([story.duration_s]))


@pytest.mark.parametrize("fault", [name for name in FAULTS if name != "valve_wrong_or_swapped"])
def test_worse_is_worse_and_nothing_is_nothing(fault: str) -> None:
    assert with_faults(sound(), {fault: 0.0}) == sound()
    traces = [shown({fault: severity}).drive_gauge_pa for severity in (0.0, 0.3, 0.6, 0.95)]
    apart = [float(np.sqrt(np.mean((trace - traces[0]) ** 2))) for trace in traces]
    assert apart[-1] > PSI
    assert all(later >= earlier - 20.0 for earlier, later in pairwise(apart))


def test_every_fault_is_one_of_the_catalogue() -> None:
    assert set(FAULTS) <= set(load().faults)


def test_faults_may_come_together_in_any_order() -> None:
    first = with_faults(sound(), {"exhaust_blocked": 0.5, "drive_sticks": 0.2, "clamp_spring_weak": 0.5})
    second = with_faults(sound(), {"clamp_spring_weak": 0.5, "drive_sticks": 0.2, "exhaust_blocked": 0.5})
    assert first == second


def test_mistakes_are_refused_together() -> None:
    with pytest.raises(InputError) as caught:
        with_faults(sound(), {"facing_worn": 0.5, "exhaust_blocked": 1.5, "coil_open": float("nan")})
    assert len(caught.value.messages) == 3
