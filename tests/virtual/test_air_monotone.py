"""Laws of air by property: monotone, reversible, bounded, and refusing what lies outside their range."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fanwright.errors import OutOfRange
from fanwright.laws import air, atmosphere, conductance, filling, leakage, line

CONDUCTANCE = st.floats(1e-10, 1e-7)
CRITICAL = st.floats(0.0, 0.6)
PRESSURE = st.floats(1.2e5, 1.5e6)
SHARE = st.floats(0.0, 1.0)
EXPONENT = st.floats(1.0, 1.4)


@given(CONDUCTANCE, CRITICAL, PRESSURE, SHARE, SHARE, st.floats(0.3, 1.0), st.floats(0.0, 5e3))
def test_flow_falls_as_the_outlet_rises(
    c: float, b: float, inlet: float, one: float, two: float, m: float, cracking: float
) -> None:
    low, high = sorted((one * inlet, two * inlet))
    more = air.mass_flow(c, b, inlet, low, exponent=m, cracking_pa=cracking)
    less = air.mass_flow(c, b, inlet, high, exponent=m, cracking_pa=cracking)
    assert 0.0 <= less <= more * (1 + 1e-12)
    assert air.mass_flow(c, b, inlet, inlet, exponent=m, cracking_pa=cracking) == 0.0


@given(CONDUCTANCE, CRITICAL, PRESSURE, SHARE, st.floats(1.0, 1.5))
def test_flow_grows_with_inlet_conductance_and_critical_ratio(
    c: float, b: float, inlet: float, share: float, by: float
) -> None:
    outlet = share * inlet
    flow = air.mass_flow(c, b, inlet, outlet)
    assert air.mass_flow(c * by, b, inlet, outlet) >= flow
    assert air.mass_flow(c, b, inlet * by, outlet) >= flow * (1 - 1e-12)
    assert air.mass_flow(c, min(0.9, b * by), inlet, outlet) >= flow * (1 - 1e-12)
    assert air.mass_flow(c, b, inlet * by, outlet * by) == pytest.approx(flow * by, rel=1e-9)


@given(CONDUCTANCE, CRITICAL, PRESSURE, st.floats(0.0, 0.999))
def test_outlet_pressure_gives_the_flow_back(c: float, b: float, inlet: float, share: float) -> None:
    flow = share * 1.185 * c * inlet
    outlet = air.outlet_pressure(c, b, inlet, flow)
    if outlet < 0.999 * inlet:
        assert air.mass_flow(c, b, inlet, outlet) == pytest.approx(flow, rel=1e-6)


@given(CONDUCTANCE, CRITICAL, PRESSURE, st.floats(0.05, 0.95))
def test_two_points_give_conductance_and_ratio_back(c: float, b: float, inlet: float, share: float) -> None:
    outlet = inlet * (b + (1 - b) * share)
    if outlet > 0.999 * inlet:
        return
    choked, subsonic = air.mass_flow(c, b, inlet, 0.0), air.mass_flow(c, b, inlet, outlet)
    if subsonic >= choked * (1 - 1e-6) or not b > 1e-3:
        return
    found = air.conductance_and_ratio(choked, subsonic, inlet, outlet)
    assert found == (pytest.approx(c, rel=1e-9), pytest.approx(b, abs=1e-5))


@given(st.lists(st.tuples(CONDUCTANCE, CRITICAL), min_size=1, max_size=4), PRESSURE, SHARE)
def test_a_chain_passes_less_than_its_narrowest_element(
    elements: list[tuple[float, float]], inlet: float, share: float
) -> None:
    c, b = air.series_conductance(elements)
    assert c <= min(part for part, _ in elements) * (1 + 1e-9)
    assert air.series_by_squares([part for part, _ in elements]) <= c * (1 + 1e-9)
    flow = air.series_flow(elements, inlet, share * inlet)
    assert flow <= 1.185 * c * inlet * (1 + 1e-9)
    if share < b * (1 - 1e-6):
        assert flow == pytest.approx(1.185 * c * inlet, rel=1e-9)


@given(CONDUCTANCE, st.floats(0.0, 0.6), PRESSURE, SHARE, SHARE, EXPONENT)
def test_fill_time_and_pressure_are_inverse(
    c: float, b: float, supply: float, one: float, two: float, n: float
) -> None:
    low, high = sorted((one * supply, two * supply))
    time = filling.fill_time(1e-3, c, b, supply, low, high, n)
    assert time >= 0.0
    if time < 1e6:
        assert filling.fill_pressure(time, 1e-3, c, b, supply, low, n) == pytest.approx(
            high, rel=1e-6, abs=1.0
        )


@given(CONDUCTANCE, CRITICAL, st.floats(1.1e5, 1.5e6), SHARE, SHARE, EXPONENT)
def test_vent_times_add_up(c: float, b: float, start: float, one: float, two: float, n: float) -> None:
    ambient = 101325.0
    end, middle = sorted((ambient + one * (start - ambient), ambient + two * (start - ambient)))
    whole = filling.vent_time(1e-3, c, b, start, end, exponent=n)
    parts = filling.vent_time(1e-3, c, b, start, middle, exponent=n)
    parts += filling.vent_time(1e-3, c, b, middle, end, exponent=n)
    assert whole >= 0.0
    assert parts == pytest.approx(whole, rel=1e-6, abs=1e-9 / c * 1e-8)


@given(st.floats(0.05, 50.0), st.floats(0.002, 0.02), st.floats(1.0, 2.0))
def test_tube_conductance(length: float, bore: float, by: float) -> None:
    c = conductance.tube_conductance(length, bore)
    assert conductance.tube_conductance(length * by, bore) <= c
    assert conductance.tube_conductance(length, bore * by) >= c
    assert c <= conductance.tube_conductance(length, bore, with_entry=False)


@given(st.floats(-500.0, 11000.0), st.floats(0.0, 1e6))
def test_gauge_and_absolute_go_round(height: float, pressure: float) -> None:
    there = atmosphere.absolute_pressure(pressure, height)
    assert atmosphere.gauge_pressure(there, height) == pytest.approx(pressure, abs=1e-6)
    assert atmosphere.ambient_pressure(min(11000.0, height + 100.0)) <= atmosphere.ambient_pressure(height)


@given(st.floats(200.0, 370.0), st.floats(1.0, 15.0))
def test_dew_point_goes_round_and_rises_with_pressure(dew: float, by: float) -> None:
    assert atmosphere.dew_point(atmosphere.saturation_pressure(dew)) == pytest.approx(dew, abs=1e-6)
    if dew < 305.0:
        assert atmosphere.dew_point_at(dew, 1e5, 1e5 * by) >= dew - 1e-9


@given(st.floats(1e-4, 5e-3), PRESSURE, st.floats(0.3, 1.0))
def test_hole_and_flow_go_round(diameter: float, inlet: float, coefficient: float) -> None:
    flow = leakage.hole_flow(diameter, inlet, 101325.0, coefficient)
    assert leakage.equivalent_hole(flow, inlet, 101325.0, coefficient) == pytest.approx(diameter, rel=1e-9)


@given(st.floats(-0.5, 0.5), st.floats(0.1, 20.0), st.floats(0.002, 0.02))
def test_line_loss_is_odd_and_grows(flow: float, length: float, bore: float) -> None:
    c = conductance.tube_conductance(length, bore)
    loss = line.line_loss(flow, length, bore, c, 6e5)
    assert loss == pytest.approx(-line.line_loss(-flow, length, bore, c, 6e5))
    assert abs(line.line_loss(0.5 * flow, length, bore, c, 6e5)) <= abs(loss)


OUTSIDE: list[Callable[[], object]] = [
    lambda: air.mass_flow(-1e-9, 0.3, 7e5, 1e5),
    lambda: air.mass_flow(1e-9, 0.3, 7e5, 8e5),
    lambda: air.mass_flow(1e-9, math.nan, 7e5, 1e5),
    lambda: air.outlet_pressure(1e-8, 0.3, 7e5, 1.0),
    lambda: air.conductance_and_ratio(0.01, 0.02, 7e5, 6e5),
    lambda: air.series_by_squares([0.0]),
    lambda: air.series_by_cubes([math.inf]),
    lambda: air.parallel([-1.0]),
    lambda: air.series_flow([(1e-8, 0.95)], 7e5, 1e5),
    lambda: air.series_conductance([(0.0, 0.3)]),
    lambda: conductance.tube_conductance(0.0, 0.004),
    lambda: conductance.kv_from_cv(-1.0),
    lambda: conductance.from_kv(1.0, 0.1),
    lambda: conductance.nozzle_flow(1e-4, 1e5, 2e5),
    lambda: conductance.nozzle_constant(1.0),
    lambda: conductance.from_effective_area(-1.0),
    lambda: conductance.to_effective_area(-1.0),
    lambda: filling.time_constant(0.0, 1e-8),
    lambda: filling.fill_time(1e-3, 1e-8, 0.3, 7e5, 6e5, 5e5),
    lambda: filling.fill_pressure(-1.0, 1e-3, 1e-8, 0.3, 7e5, 1e5),
    lambda: filling.vent_time(1e-3, 1e-8, 0.3, 7e5, 5e4),
    lambda: filling.adiabatic_vent_time(1e-3, 1e-8, 1e5, 2e5),
    lambda: filling.adiabatic_vent_temperature(1e5, 2e5),
    lambda: filling.hot_fill_temperature(2e5, 1e5),
    lambda: line.line_delay(-1.0),
    lambda: line.sound_speed(0.0),
    lambda: line.line_attenuation(1.0, 0.006, 0.0, 1e3),
    lambda: line.line_loss(2.0, 1.0, 0.006, 1e-8, 7e5),
    lambda: leakage.leak_from_decay(0.0, 1.0, 1.0),
    lambda: leakage.leak_from_states(1e-3, -1.0, 293.0, 1e5, 293.0, 1.0),
    lambda: leakage.free_air_from_decay(1e-3, 1e4, 60.0, free_pressure_pa=0.0),
    lambda: leakage.hole_flow(-1.0, 7e5, 1e5),
    lambda: leakage.equivalent_hole(1.0, 1e5, 1e5),
    lambda: leakage.air_cost(-1.0, 1.0, 1.0),
    lambda: atmosphere.ambient_pressure(20000.0),
    lambda: atmosphere.absolute_pressure(-2e5),
    lambda: atmosphere.gauge_pressure(-1.0),
    lambda: atmosphere.saturation_pressure(100.0),
    lambda: atmosphere.dew_point(0.0),
    lambda: atmosphere.dew_point_at(300.0, 0.0, 1e5),
    lambda: atmosphere.line_dew_point(300.0, 1.5, 8e5),
    lambda: atmosphere.humidity_ratio(300.0, 1.0),
]


@pytest.mark.parametrize("asked", OUTSIDE)
def test_outside_the_range_is_refused_with_the_nearest_value(asked: Callable[[], object]) -> None:
    with pytest.raises(OutOfRange) as caught:
        asked()
    for message in caught.value.messages:
        assert {"low", "high"} <= set(message.values)
        assert "nearest" in message.values or "not a number" in message.template


def test_all_mistakes_are_said_together() -> None:
    with pytest.raises(OutOfRange) as caught:
        air.mass_flow(-1e-9, 2.0, 7e5, 8e5, temperature_k=20.0)
    assert len(caught.value.messages) == 4
