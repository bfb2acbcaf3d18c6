"""Copper at temperature, and what it does to a coil."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fanwright.errors import OutOfRange
from fanwright.laws import coil

temperatures = st.floats(213.15, 473.15)
ohms = st.floats(0.02, 3_000.0)

# CRC Handbook of Chemistry and Physics, section 15, wire tables: resistivity of copper in 1e-8 ohm m at 0,
# 20, 25 and 100 °C. Pure copper climbs a little more steeply (0.0040 in 1 K) than the annealed copper of
# wire (0.00393): the two part by 0.7 % at 100 °C; the printed digits allow 0.05 to 0.2 %.
CRC = {0: 1.543, 20: 1.678, 25: 1.712, 100: 2.22}


@pytest.mark.published
@pytest.mark.parametrize("celsius", CRC)
def test_copper_of_the_handbook(celsius):
    ratio = coil.resistance_ohm(1.0, celsius + 273.15)
    assert ratio == pytest.approx(CRC[celsius] / CRC[20], rel=0.008)


@pytest.mark.published
def test_motor_winding_by_the_234_5_rule():
    # Exercise on an open physics forum (thread 381286): 80 ohm at 20 °C, 100 ohm at 83.63 °C by that rule.
    assert coil.resistance_ohm(80.0, 83.63 + 273.15) == pytest.approx(100.0, abs=0.01)


@pytest.mark.published
def test_iec_coefficient():
    # 0.00393 in 1 K at 20 °C, IEC 60028 as quoted on an open page on the resistance of windings.
    rise = coil.resistance_ohm(1.0, 294.15) - coil.resistance_ohm(1.0, 293.15)
    assert rise == pytest.approx(0.00393, abs=5e-6)


def test_what_the_trade_makes_of_it():
    # Common practice: a 100 °C coil reads about 31 % more, draws 24 % less and needs 1.31 times the volts, so
    # that 11.3 V at the plug want a cold pull-in of at most 72 % of 12 V, and 12.8 V one of 81 %.
    cold, hot = 293.15, 373.15
    assert coil.resistance_ohm(14.0, hot) / 14.0 == pytest.approx(1.31, abs=0.005)
    lost = 1 - coil.current_a(12.0, coil.resistance_ohm(14.0, hot)) / coil.current_a(12.0, 14.0)
    assert lost == pytest.approx(0.24, abs=0.005)
    assert coil.pull_in_v(8.0, cold, hot) / 8.0 == pytest.approx(1.31, abs=0.005)
    assert coil.most_cold_pull_in_v(11.3, cold, hot) / 12 == pytest.approx(0.72, abs=0.005)
    assert coil.most_cold_pull_in_v(12.8, cold, hot) / 12 == pytest.approx(0.81, abs=0.005)


def test_currents_worked_by_hand():
    assert [round(coil.current_a(12.0, r), 2) for r in (8.0, 30.0)] == [1.5, 0.4]
    assert [round(coil.current_a(24.0, r), 2) for r in (30.0, 120.0)] == [0.8, 0.2]


@given(ohms, temperatures)
def test_round_trip(resistance, temperature):
    back = coil.resistance_20_ohm(coil.resistance_ohm(resistance, temperature), temperature)
    assert back == pytest.approx(resistance, rel=1e-12)


@given(ohms, st.floats(213.15, 472.0))
def test_hotter_is_more(resistance, temperature):
    assert coil.resistance_ohm(resistance, temperature + 1) > coil.resistance_ohm(resistance, temperature)


@given(st.floats(0.1, 24.0), temperatures, temperatures)
def test_pull_in_and_most_cold_pull_in_are_each_others_inverse(volts, cold, hot):
    needed = coil.pull_in_v(volts, cold, hot)
    if needed <= 60.0:
        assert coil.most_cold_pull_in_v(needed, cold, hot) == pytest.approx(volts, rel=1e-12)
    if hot > cold + 0.01:
        assert needed > volts


@pytest.mark.parametrize(
    ("call", "nearest"),
    [
        (lambda: coil.resistance_ohm(14.0, 100.0), [213.15]),  # degrees Celsius given as kelvin
        (lambda: coil.resistance_20_ohm(0.0, 500.0), [0.01, 473.15]),
        (lambda: coil.current_a(-1.0, 0.0), [0.0, 0.01]),
        (lambda: coil.pull_in_v(120.0, 20.0, 100.0), [60.0, 213.15, 213.15]),
        (lambda: coil.most_cold_pull_in_v(61.0, 293.15, 474.0), [60.0, 473.15]),
    ],
)
def test_outside_the_range_all_is_refused_with_the_nearest_value(call, nearest):
    with pytest.raises(OutOfRange) as refused:
        call()
    assert [one.values["nearest"].value for one in refused.value.messages] == nearest
