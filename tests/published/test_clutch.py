"""Slip of a friction drive: rows 1-09 to 1-18 of the check page on mechanics.

1-09: start-up example of an open textbook companion (machine design, chapter on clutches), inputs seen there.
1-10 to 1-17: the same equation solved numerically (8th-order Runge-Kutta, relative tolerance 1e-13).
1-18: the power split of SAE J1342 (2022) by its public summary.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fanwright.errors import OutOfRange
from fanwright.laws.clutch import (
    lock_time_s,
    settled_speed_rad_s,
    slip_energy_j,
    slip_energy_within_j,
    slip_power_w,
)
from fanwright.laws.fan import fan_power_w, load_constant

pytestmark = pytest.mark.published
RPM = math.pi / 30.0


@pytest.mark.parametrize(
    ("faces", "torque", "time"), [(1, 44.334156, 5.102041), (2, 88.668311, 5.102041 / 2)]
)
def test_row_1_09_start_up_without_load(faces: int, torque: float, time: float) -> None:
    assert lock_time_s(torque, 7.2, 0.0, 300 * RPM) == pytest.approx(time, abs=5e-7)
    assert slip_energy_j(torque, 7.2, 0.0, 300 * RPM) == pytest.approx(3553.057584, abs=5e-7), faces


@pytest.mark.parametrize(
    ("row", "inertia", "torque", "start", "end", "power", "time", "angle", "energy", "fan_work"),
    [
        ("1-10", 0.5, 120, 0, 2100, 18e3, 1.3036971910, 169.2754710148, 14090.7018274, 8222.7911304),
        ("1-11", 1.2, 200, 0, 2520, 35e3, 2.2161246824, 342.8003684174, 48404.2314809, 26776.1164910),
        ("1-12", 0.8, 90, 400, 1500, 12e3, 2.0411745191, 236.0438964511, 7612.4742518, 12076.1848147),
    ],
)
def test_rows_1_10_to_1_12(
    row: str,
    inertia: float,
    torque: float,
    start: float,
    end: float,
    power: float,
    time: float,
    angle: float,
    energy: float,
    fan_work: float,
) -> None:
    load = load_constant(power, end * RPM)
    given_time = lock_time_s(torque, inertia, load, end * RPM, start * RPM)
    given_energy = slip_energy_j(torque, inertia, load, end * RPM, start * RPM)
    assert given_time == pytest.approx(time, rel=1e-8), row
    assert given_energy == pytest.approx(energy, rel=1e-8), row
    given_angle = end * RPM * given_time - given_energy / torque
    assert given_angle == pytest.approx(angle, rel=1e-8), row
    kinetic = inertia * ((end * RPM) ** 2 - (start * RPM) ** 2) / 2
    assert torque * given_angle - kinetic == pytest.approx(fan_work, rel=1e-8), row
    assert slip_energy_within_j(
        torque, inertia, load, end * RPM, start * RPM, duration_s=2 * time
    ) == pytest.approx(energy, rel=1e-8), row


def test_row_1_12_without_load() -> None:
    assert slip_energy_j(90, 0.8, 0.0, 1500 * RPM, 400 * RPM) == pytest.approx(5307.6539224, rel=1e-8)


def test_row_1_13_never_locks() -> None:
    load = load_constant(18e3, 2100 * RPM)
    settled = settled_speed_rad_s(60, load)
    assert load * (2100 * RPM) ** 2 == pytest.approx(81.8511136, rel=1e-8)
    assert settled / RPM == pytest.approx(1797.970756, rel=1e-8)
    assert 100 * (1 - settled / (2100 * RPM)) == pytest.approx(14.38234494, rel=1e-8)
    assert slip_power_w(60, load, 2100 * RPM) == pytest.approx(1897.705706, rel=1e-8)
    with pytest.raises(OutOfRange):
        slip_energy_j(60, 0.5, load, 2100 * RPM)
    late = slip_energy_within_j(60, 0.5, load, 2100 * RPM, 0, duration_s=1001) - slip_energy_within_j(
        60, 0.5, load, 2100 * RPM, 0, duration_s=1000
    )
    assert late == pytest.approx(1897.705706, rel=1e-7)


@pytest.mark.parametrize(
    ("share", "energy", "time"),
    [
        (0.1, 1.01737143, 1.03548829),
        (0.25, 1.04649629, 1.09861229),
        (0.5, 1.10660660, 1.24645048),
        (0.75, 1.19299150, 1.52069199),
        (0.9, 1.27519386, 1.91681087),
        (0.99, 1.36491724, 3.00830215),
    ],
)
def test_rows_1_14_and_1_15_without_dimensions(share: float, energy: float, time: float) -> None:
    speed, inertia, torque = 200.0, 0.7, 100.0
    load = share * torque / speed**2
    assert slip_energy_j(torque, inertia, load, speed) / (inertia * speed**2 / 2) == pytest.approx(
        energy, abs=5e-9
    )
    assert lock_time_s(torque, inertia, load, speed) / (inertia * speed / torque) == pytest.approx(
        time, abs=5e-9
    )


def _ramped(load: float) -> tuple[float, float]:
    """Runge-Kutta of fourth order, torque rising to 120 N m within 0.4 s, from rest to 2100 rpm."""
    inertia, most, rise, input_speed, step = 0.5, 120.0, 0.4, 2100 * RPM, 1e-5
    speed = energy = time = 0.0

    def gain(at: float, w: float) -> float:
        return (most * min(at / rise, 1.0) - load * w * w) / inertia

    while True:
        one = gain(time, speed)
        two = gain(time + step / 2, speed + step / 2 * one)
        three = gain(time + step / 2, speed + step / 2 * two)
        four = gain(time + step, speed + step * three)
        after = speed + step / 6 * (one + 2 * two + 2 * three + four)
        torque = most * min((time + step / 2) / rise, 1.0)
        if after >= input_speed:
            part = (input_speed - speed) / (after - speed)
            return time + part * step, energy + torque * (input_speed - speed) / 2 * part * step
        energy += torque * (input_speed - (speed + after) / 2) * step
        speed, time = after, time + step


def test_rows_1_16_and_1_17_a_ramp_hardly_changes_the_heat() -> None:
    load = load_constant(18e3, 2100 * RPM)
    time, energy = _ramped(load)
    assert time == pytest.approx(1.50413046, rel=1e-6)
    assert energy == pytest.approx(14100.807, rel=1e-6)
    assert slip_energy_j(120, 0.5, load, 2100 * RPM) == pytest.approx(energy, rel=8e-4)
    time, energy = _ramped(0.0)
    assert time == pytest.approx(1.1162978573, rel=1e-6)
    assert energy == pytest.approx(slip_energy_j(120, 0.5, 0.0, 2100 * RPM), rel=1e-8)
    assert energy == pytest.approx(12090.2653913, rel=1e-8)


def test_row_1_18_power_split() -> None:
    fan = fan_power_w(18e3, 2100 * RPM, 1500 * RPM)
    load = load_constant(18e3, 2100 * RPM)
    torque = load * (1500 * RPM) ** 2
    slip = slip_power_w(torque, load, 2100 * RPM)
    assert fan == pytest.approx(6559.766764, rel=1e-9)
    assert slip == pytest.approx(2623.906706, rel=1e-8)
    assert fan + slip == pytest.approx(9183.673469, rel=1e-8)


def test_all_mistakes_are_refused_together() -> None:
    with pytest.raises(OutOfRange) as refused:
        lock_time_s(0.0, 200.0, 0.001, 100.0, 150.0)
    assert len(refused.value.messages) == 3


@settings(max_examples=300, deadline=None)
@given(
    st.floats(1, 500),
    st.floats(0.01, 5),
    st.floats(0, 0.01),
    st.floats(1, 300),
    st.floats(0, 0.9),
    st.floats(0.001, 50),
)
def test_heat_never_falls_with_time(
    torque: float, inertia: float, load: float, pulley: float, share: float, time: float
) -> None:
    start = share * pulley
    once = slip_energy_within_j(torque, inertia, load, pulley, start, duration_s=time)
    twice = slip_energy_within_j(torque, inertia, load, pulley, start, duration_s=2 * time)
    assert -1e-9 * torque * pulley * time <= once <= twice * (1 + 1e-9) + 1e-9 * torque * pulley * time
