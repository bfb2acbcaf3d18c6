"""What eats the facing, what a grip costs, what a colour tells: own numbers against the laws and by hand."""

from __future__ import annotations

import pytest

from fanwright.evidence.recording.exhibit import Run
from fanwright.life.colours import colours, explained
from fanwright.life.eating import eaters
from fanwright.life.grips import RPM, capacity_n_m, grip_cost, torque_in_hand
from fanwright.report.say import say
from fanwright.truck.loader import presets


def run(start: float, length: float, reason: str, heat_j: float | None) -> Run:
    return Run(start, start + length, reason, (), False, 1500.0, slip_energy_j=heat_j)


def test_short_runs_and_what_a_timer_would_save() -> None:
    """Ten short runs 30 s apart start: with 90 s each, four of ten grips remain."""
    runs = [run(30.0 * n, 10.0, "air_conditioning", 1000.0) for n in range(10)] + [
        run(2000.0, 200.0, "coolant", 10_000.0)
    ]
    (found,) = eaters(runs)
    assert found.id == "short_air_conditioning"
    assert found.share == pytest.approx(0.5)
    assert found.times_without == pytest.approx(2.0)
    assert found.times_with_timer == pytest.approx(20.0 / 14.0)
    assert "50 %" in say(found.message)


def test_cooling_is_no_eater_and_too_little_says_nothing() -> None:
    assert eaters([run(100.0 * n, 60.0, "coolant", 1e4) for n in range(9)]) == ()
    assert eaters([run(0.0, 10.0, "air_conditioning", 1e4)] * 3) == ()
    assert eaters([run(100.0 * n, 10.0, "air_conditioning", None) for n in range(9)]) == ()


def test_every_reason_has_a_sentence() -> None:
    for reason in ("air_conditioning", "engine_brake", "retarder", "manual", "default", "timer"):
        found = eaters([run(200.0 * n, 100.0, reason, 1e4) for n in range(9)])
        assert "facing" in say(found[0].message)


@pytest.mark.parametrize("preset", list(presets()))
def test_a_grip_at_2100_is_dearer_than_at_1300(preset: str) -> None:
    truck = presets()[preset]
    slow, fast = grip_cost(truck, 1300.0), grip_cost(truck, 2100.0)
    assert fast.energy_j > (2100 / 1300) ** 2 * slow.energy_j
    assert fast.peak_rise_k > slow.peak_rise_k
    kinetic = truck.fan.inertia_kg_m2 * (1300 * RPM * truck.pulley_ratio) ** 2 / 2
    assert kinetic < slow.energy_j < 1.4 * kinetic
    assert slow.facing_lost_m(30e-15, 0.03) == pytest.approx(slow.energy_j * 1e-12)


def test_rest_pressure_steals_clamp_and_at_lift_off_all_of_it() -> None:
    spring, air = presets()["line-haul spring-on"], presets()["line-haul air-on"]
    assert capacity_n_m(spring) == pytest.approx(spring.clutch_torque_n_m)
    assert capacity_n_m(spring, spring.lift_off_gauge_pa) == pytest.approx(0.0, abs=1e-9)
    assert capacity_n_m(air) == pytest.approx(air.clutch_torque_n_m)
    assert capacity_n_m(air, 3e5) < capacity_n_m(air, 1e5) < capacity_n_m(air)
    held = grip_cost(spring, 2100.0, lost_gauge_pa=0.8 * spring.lift_off_gauge_pa, run_s=60.0)
    assert not held.locks
    assert held.slip_s == 60.0
    assert held.energy_j > 10 * grip_cost(spring, 2100.0).energy_j


def test_torque_in_hand_and_the_pull_that_shows_it() -> None:
    truck = presets()["line-haul spring-on"]
    found = torque_in_hand(truck, 2100 / truck.pulley_ratio)
    assert found.needed_n_m == pytest.approx(truck.fan.power_w / truck.fan.speed_rad_s)
    assert found.pull_n * found.arm_m == pytest.approx(found.capacity_n_m)
    assert "never at a tip" in say(found.message)


def test_row_3_01_and_3_02_colours() -> None:
    """Averages of the steel-working text from degrees Fahrenheit; each table rises to grey-blue."""
    averages = [(f - 32) / 1.8 for f in (430, 458, 478, 523, 551, 572, 603, 627)]
    printed = [221.11, 236.67, 247.78, 272.78, 288.33, 300.00, 317.22, 330.56]
    assert averages == pytest.approx(printed, abs=0.01)
    rows = list(colours().values())
    stored = [value - 273.15 for row in rows for value in row.tables["steel5"]]
    assert sorted(set(stored)) == pytest.approx(printed, abs=0.01)
    for table in rows[0].tables:
        middles = [sum(row.tables[table]) / 2 for row in rows]
        assert middles == sorted(middles), table
        assert len(set(middles)) == len(middles), table
    for ends in ([row.low_k for row in rows], [row.high_k for row in rows]):
        assert ends == sorted(ends)


def test_a_colour_the_duty_cannot_make_asks_for_another_cause() -> None:
    truck = presets()["line-haul spring-on"]
    assert "look for slip" in say(explained(colours()["blue"], grip_cost(truck, 1400.0, 4.0), 300.0))
    burning = grip_cost(truck, 2100.0, 30.0, lost_gauge_pa=0.8 * truck.lift_off_gauge_pa)
    assert "look for slip" not in say(explained(colours()["blue"], burning, 300.0))
