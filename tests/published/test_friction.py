"""Torque and clamp of a friction ring, ramped grips, blade speeds: sections 1 and 4 of the mechanics page.

1-01 to 1-03: homework solution of a university course in machine design (plate clutch 300/225 mm). 1-06: a
solved problem, its mean radius rounded. The rest: the formula by hand, or a numerical solution.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fanwright.errors import OutOfRange
from fanwright.laws import grip, tip
from fanwright.laws.clutch import lock_time_s, slip_energy_j
from fanwright.laws.fan import load_constant

pytestmark = pytest.mark.published
RPM = math.pi / 30.0
PSI = 6894.757293168


def test_rows_1_01_to_1_04_plate_clutch() -> None:
    assert grip.torque_by_wear_n_m(5000, 0.25, 0.1125, 0.15) == pytest.approx(164.063, abs=5e-4 + 1e-9)
    assert grip.torque_by_wear_n_m(5000, 0.25, 0.1125, 0.15) == pytest.approx(164.0625, rel=1e-12)
    assert grip.inner_edge_pressure_pa(5000, 0.1125, 0.15) == pytest.approx(188_628, abs=0.5)
    assert grip.even_pressure_pa(5000, 0.1125, 0.15) == pytest.approx(161_681, abs=0.5)
    assert grip.torque_by_pressure_n_m(5000, 0.25, 0.1125, 0.15) == pytest.approx(165.178571, abs=5e-7)


@pytest.mark.parametrize(
    ("row", "clamp", "friction", "inner", "outer", "faces", "wear", "pressure"),
    [
        ("1-05", 4000, 0.30, 0.0875, 0.125, 1, 127.5, 128.823529),
        ("1-07", 15000, 0.25, 0.060, 0.125, 2, 693.75, 722.297297),
    ],
)
def test_rows_1_05_and_1_07_both_theories(
    row: str,
    clamp: float,
    friction: float,
    inner: float,
    outer: float,
    faces: int,
    wear: float,
    pressure: float,
) -> None:
    assert grip.torque_by_wear_n_m(clamp, friction, inner, outer, faces) == pytest.approx(wear, rel=1e-9), row
    by_pressure = grip.torque_by_pressure_n_m(clamp, friction, inner, outer, faces)
    assert by_pressure == pytest.approx(pressure, abs=5e-7), row


def test_row_1_06_solved_problem() -> None:
    torque = grip.torque_by_pressure_n_m(6000, 0.3, 0.080, 0.150)
    assert torque == pytest.approx(213.391304, abs=5e-7)
    assert torque == pytest.approx(213.3, abs=0.1)


def test_row_1_07_power() -> None:
    speed = 500 * RPM
    assert grip.torque_by_wear_n_m(15000, 0.25, 0.060, 0.125, 2) * speed == pytest.approx(36324.665, abs=5e-4)
    assert grip.torque_by_pressure_n_m(15000, 0.25, 0.060, 0.125, 2) * speed == pytest.approx(
        37819.398, abs=5e-4
    )


def test_row_1_08_gripped_by_air() -> None:
    area = math.pi / 4 * (0.110**2 - 0.060**2)
    assert area == pytest.approx(6.67588439e-3, rel=1e-8)
    clamp = grip.clamp_by_air_n(620_528.156, area, 900.0)
    assert clamp == pytest.approx(3242.574232, abs=5e-6)
    assert grip.torque_by_wear_n_m(clamp, 0.35, 0.070, 0.120) == pytest.approx(107.815593, abs=5e-7)
    assert grip.torque_by_pressure_n_m(clamp, 0.35, 0.070, 0.120) == pytest.approx(110.304411, abs=5e-7)
    # The check page prints 19.553060: it took a psi of 6 894.757 Pa, one digit short.
    assert grip.balance_gauge_pa(area, 900.0) / PSI == pytest.approx(19.553060, abs=1e-6)


@pytest.mark.parametrize(
    ("share", "ratio"), [(0.5, 1.037037), (0.6, 1.020833), (0.7, 1.010381), (0.8, 1.004115), (0.9, 1.000923)]
)
def test_the_two_theories_differ_little(share: float, ratio: float) -> None:
    both = (
        grip.torque_by_pressure_n_m(1000, 0.3, share * 0.2, 0.2),
        grip.torque_by_wear_n_m(1000, 0.3, share * 0.2, 0.2),
    )
    assert both[0] / both[1] == pytest.approx(ratio, abs=5e-7)


def test_rows_1_16_and_1_17_ramped_torque() -> None:
    load = load_constant(18e3, 2100 * RPM)
    given_ramp = (120.0, 0.4, 0.5, load, 2100 * RPM)
    assert grip.ramped_lock_time_s(*given_ramp) == pytest.approx(1.50413046, abs=5e-9)
    assert grip.ramped_slip_energy_j(*given_ramp) == pytest.approx(14100.807, abs=5e-4)
    free = (120.0, 0.4, 0.5, 0.0, 2100 * RPM)
    assert grip.ramped_lock_time_s(*free) == pytest.approx(1.1162978573, rel=1e-9)
    assert grip.ramped_slip_energy_j(*free) == pytest.approx(12090.2653913, rel=1e-9)


def test_locks_within_the_rise() -> None:
    """Half a second of an 8 s rise is enough: energy stays J w^2 / 2 without load."""
    energy = grip.ramped_slip_energy_j(400.0, 8.0, 0.1, 0.0, 100.0)
    assert energy == pytest.approx(0.1 * 100.0**2 / 2, rel=1e-5)
    assert grip.ramped_lock_time_s(400.0, 8.0, 0.1, 0.0, 100.0) == pytest.approx(
        math.sqrt(2 * 0.1 * 100 * 8 / 400), rel=1e-6
    )


def test_row_1_18_worst_steady_slip() -> None:
    """The slip term (Ni - No) No^2 K of SAE J1342 (2022) is greatest with the fan at two thirds."""
    load, pulley = load_constant(18e3, 2100 * RPM), 2100 * RPM
    terms = [(pulley - speed) * speed**2 * load for speed in (pulley * n / 3000 for n in range(3001))]
    assert max(terms) == pytest.approx(grip.worst_steady_slip_w(load, pulley), rel=1e-7)
    assert terms.index(max(terms)) == 2000


def test_rows_4_11_and_4_13_blades_and_firing() -> None:
    assert tip.tip_speed_m_s(0.8128, 2400 * RPM) == pytest.approx(102.139460, abs=5e-7)
    assert tip.tip_speed_m_s(0.8128, 2400 * RPM) / 0.3048 * 60 == pytest.approx(20106.193, abs=5e-4)
    assert tip.blade_pass_hz(9, 2400 * RPM) == pytest.approx(360.0, rel=1e-12)
    assert tip.firing_hz(6, 1800 * RPM) == pytest.approx(90.0, rel=1e-12)
    assert tip.firing_hz(4, 2000 * RPM) == pytest.approx(66.666667, abs=5e-7)


def test_all_mistakes_are_refused_together() -> None:
    with pytest.raises(OutOfRange) as refused:
        grip.torque_by_wear_n_m(-1.0, 2.0, 0.3, 0.2, 0)
    assert len(refused.value.messages) == 4
    with pytest.raises(OutOfRange):
        grip.ramped_lock_time_s(60.0, 0.4, 0.5, load_constant(18e3, 2100 * RPM), 2100 * RPM)


@settings(max_examples=50, deadline=None)
@given(st.floats(0, 8e5), st.floats(0, 8e5), st.floats(1e-3, 0.05), st.floats(0, 2e4))
def test_more_air_grips_more_or_lets_go_more(one: float, other: float, area: float, spring: float) -> None:
    low, high = sorted((one, other))
    assert grip.clamp_by_air_n(low, area, spring) <= grip.clamp_by_air_n(high, area, spring)
    assert grip.clamp_by_spring_n(low, area, spring) >= grip.clamp_by_spring_n(high, area, spring)


@settings(max_examples=10, deadline=None)
@given(st.floats(0.01, 2), st.floats(0.05, 0.9))
def test_a_quick_rise_is_no_rise(inertia: float, share: float) -> None:
    torque, pulley = 120.0, 150.0
    load = share * torque / pulley**2
    energy = grip.ramped_slip_energy_j(torque, 1e-4, inertia, load, pulley)
    assert energy == pytest.approx(slip_energy_j(torque, inertia, load, pulley), rel=1e-3)
    time = grip.ramped_lock_time_s(torque, 0.0, inertia, load, pulley)
    assert time == pytest.approx(lock_time_s(torque, inertia, load, pulley), rel=1e-9)
