"""The laws of air against values computed by another method: marching, closed forms, two open libraries.

Constants: T0 293.15 K, 1.185 kg/m3, R 287.05287 J/(kg K), k 1.4. ``fluids`` and ``CoolProp``
are used here only.
"""

from __future__ import annotations

import math
from itertools import pairwise

import fluids
import fluids.compressible
import fluids.control_valve
import fluids.flow_meter
import fluids.safety_valve
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy.integrate import quad, solve_ivp

from fanwright.laws import air, atmosphere, conductance, filling, leakage, line

BAR = 1e5
UNIT = 1e-8
PSI = 6894.757293168
R_BY_MOLES = 8314.462618 / 28.9647


@pytest.mark.parametrize(("c", "b", "computed"), [(1.0, 0.3, 254.27), (2.0, 0.5, 587.88)])
def test_i10_nominal_flow_7_to_6_bar(c: float, b: float, computed: float) -> None:
    found = air.mass_flow(c * UNIT, b, 7 * BAR, 6 * BAR) / 1.185 * 60000
    assert found == pytest.approx(computed, rel=1e-4)


def test_cracking_pressure() -> None:
    # by hand: the ellipse ends at 1 - dpc/p1 and keeps its top, C p1 up to b
    inlet, cracking, b = 8e5, 4e4, 0.3
    ends = 1.0 - cracking / inlet
    assert air.mass_flow(UNIT, b, inlet, inlet - cracking, cracking_pa=cracking) == 0.0
    assert air.mass_flow(UNIT, b, inlet, 0.2 * inlet, cracking_pa=cracking) == pytest.approx(
        1.185 * UNIT * inlet
    )
    share = math.sqrt(1.0 - ((0.8 - b) / (ends - b)) ** 2)
    found = air.mass_flow(UNIT, b, inlet, 0.8 * inlet, cracking_pa=cracking)
    assert found == pytest.approx(1.185 * UNIT * inlet * share, rel=1e-12)


def test_blend_near_no_difference_is_a_straight_line() -> None:
    # from 0.999 of the inlet on the flow falls in proportion to the difference that is left
    edge = air.mass_flow(UNIT, 0.3, 8e5, 0.999 * 8e5)
    assert edge == pytest.approx(1.185 * UNIT * 8e5 * math.sqrt(1.0 - (0.699 / 0.7) ** 2), rel=1e-12)
    for left in (0.75, 0.5, 0.1):
        near = air.mass_flow(UNIT, 0.3, 8e5, (1.0 - 0.001 * left) * 8e5)
        assert near == pytest.approx(left * edge, rel=1e-9)


def test_subsonic_index() -> None:
    by_half, by_more = (air.mass_flow(UNIT, 0.3, 8e5, 5.6e5, exponent=m) for m in (0.5, 0.6))
    assert by_more / (1.185 * UNIT * 8e5) == pytest.approx((by_half / (1.185 * UNIT * 8e5)) ** 1.2, rel=1e-12)


CHAINS = [
    ("I15", [(2.0, 0.3), (2.0, 0.3)], 1.51443, 0.22720, (6.49955, 11.26952, 12.11545), 1.41421),
    ("I16", [(1.5, 0.35), (3.0, 0.30)], 1.46555, 0.14659, (6.32132, 10.81117, 11.72436), 1.34164),
    ("I17", [(3.0, 0.30), (1.5, 0.35)], 1.38196, 0.32249, (6.31805, 10.64657, 11.05567), 1.34164),
    ("I18", [(1.0, 0.5)] * 3, 0.689655, 0.344851, (3.12689, 5.31438, 5.51724), 0.57735),
]


@pytest.mark.parametrize(("row", "chain", "c", "b", "flows", "squares"), CHAINS)
def test_series_by_marching(
    row: str,
    chain: list[tuple[float, float]],
    c: float,
    b: float,
    flows: tuple[float, float, float],
    squares: float,
) -> None:
    elements = [(part * UNIT, critical) for part, critical in chain]
    found = air.series_conductance(elements)
    assert found[0] / UNIT == pytest.approx(c, rel=1e-4), row
    assert found[1] == pytest.approx(b, abs=1e-4), row
    for outlet, flow in zip((7.0, 4.0, 1.0), flows, strict=True):
        passed = air.series_flow(elements, 8 * BAR, outlet * BAR) / 1.185 * 1000
        assert passed == pytest.approx(flow, rel=1e-4), row
    assert air.series_by_squares([part for part, _ in elements]) / UNIT == pytest.approx(squares, abs=6e-6)
    assert air.series_by_cubes([part for part, _ in elements]) > squares * UNIT


def test_i15_cubes() -> None:
    assert air.series_by_cubes([2 * UNIT, 2 * UNIT]) / UNIT == pytest.approx(1.58740, abs=6e-6)


def test_i22_critical_ratio() -> None:
    found = conductance.CRITICAL_RATIO_OF_AIR
    assert found == pytest.approx(0.5282818, abs=1e-7)
    assert fluids.compressible.P_critical_flow(1.0, 1.4) == pytest.approx(
        conductance.CRITICAL_RATIO_OF_AIR, rel=1e-9
    )


def test_conductance_of_an_area() -> None:
    assert conductance.from_effective_area(1e-6) / UNIT == pytest.approx(0.19920, abs=1e-5)
    assert conductance.to_effective_area(UNIT) * 1e6 == pytest.approx(5.020, abs=5e-4)
    assert conductance.to_effective_area(conductance.from_effective_area(3e-6)) == pytest.approx(3e-6)


@pytest.mark.parametrize(("outlet", "area"), [(1e5, 1.000019e-4), (5.6e5, 9.99432e-5)])
def test_relief_valve_rule_gives_the_area_back(outlet: float, area: float) -> None:
    flow = 0.975 * conductance.nozzle_flow(1e-4, 8e5, outlet) * math.sqrt(287.05287 / R_BY_MOLES)
    found = fluids.safety_valve.API520_A_g(
        m=flow, T=293.15, Z=1.0, MW=28.9647, k=1.4, P1=8e5, P2=outlet, Kd=0.975, Kb=1.0, Kc=1.0
    )
    assert found == pytest.approx(area, rel=2e-5)


def test_subsonic_nozzle_equals_expansibility_form() -> None:
    share = fluids.flow_meter.nozzle_expansibility(D=0.1, Do=0.001, P1=8e5, P2=5.6e5, k=1.4, beta=0.0001)
    assert share == pytest.approx(0.8240640, abs=5e-8)
    density = 8e5 / (287.05287 * 293.15)
    by_library = 1e-4 * share * math.sqrt(2 * density * 2.4e5)
    assert conductance.nozzle_flow(1e-4, 8e5, 5.6e5) == pytest.approx(by_library, rel=1e-9)


@pytest.mark.parametrize(
    ("ratio", "percent"), [(0.6, -0.021), (0.7, -0.089), (0.8, -0.167), (0.9, -0.241), (0.99, -0.298)]
)
def test_ellipse_against_nozzle(ratio: float, percent: float) -> None:
    c = conductance.from_effective_area(1e-4)
    ellipse = air.mass_flow(c, conductance.CRITICAL_RATIO_OF_AIR, 8e5, ratio * 8e5)
    apart = ellipse / conductance.nozzle_flow(1e-4, 8e5, ratio * 8e5) - 1.0
    assert 100 * apart == pytest.approx(percent, abs=6e-4)


def test_real_air_differs_little() -> None:
    # CoolProp: greatest density times speed along an isentrope from 8 bar, 20 degC
    entropy, energy = (PropsSI(key, "P", 8e5, "T", 293.15, "Air") for key in ("S", "H"))
    best = 0.0
    for step in range(400, 640):
        at = step / 1000 * 8e5
        density, enthalpy = (PropsSI(key, "P", at, "S", entropy, "Air") for key in ("D", "H"))
        best = max(best, density * math.sqrt(2 * (energy - enthalpy)))
    assert best == pytest.approx(1894.993, rel=1e-5)
    ideal = conductance.nozzle_flow(1e-4, 8e5, 1e5) / 1e-4
    assert best / ideal - 1.0 == pytest.approx(0.0035, abs=1e-4)


@pytest.mark.parametrize("length", [1.0, 3.0, 10.0])
def test_tube_against_isothermal_pipe_flow(length: float) -> None:
    c = conductance.tube_conductance(length, 0.004, with_entry=False)
    plain = air.mass_flow(c, 0.0, 7.013e5, 5.013e5)
    accelerating = plain / math.sqrt(1.0 + 2.0 * math.log(7.013 / 5.013) / (0.02 * length / 0.004))
    density = 7.013e5 / (287.05287 * 293.15)  # the library wants the inlet density
    by_library = fluids.compressible.isothermal_gas(
        density, fd=0.02, P1=7.013e5, P2=5.013e5, L=length, D=0.004
    )
    assert accelerating == pytest.approx(by_library, rel=1e-6)
    assert plain / by_library - 1.0 == pytest.approx({1.0: 0.065, 3.0: 0.022, 10.0: 0.007}[length], abs=5e-4)


def test_line_loss_gives_the_flow_of_the_ellipse() -> None:
    c = conductance.tube_conductance(2.5, 0.00635)
    flow = air.mass_flow(c, 0.0, 8e5, 7e5)
    loss = line.line_loss(flow, 2.5, 0.00635, c, 7.5e5)
    assert loss == pytest.approx(1e5, rel=5e-3)  # laminar friction adds a little
    slow = line.line_loss(1e-7, 2.5, 0.00635, c, 7.5e5)
    density = 7.5e5 / (287.05287 * 293.15)
    assert slow == pytest.approx(128 * 1.82e-5 * 2.5 * 1e-7 / (math.pi * 0.00635**4 * density), rel=1e-4)


@pytest.mark.parametrize(
    ("x_t", "kv", "cv"),
    [(0.60, 4.164, 3.602), (0.70, 4.498, 3.891), (0.75, 4.656, 4.027), (0.80, 4.809, 4.159)],
)
def test_valve_figures(x_t: float, kv: float, cv: float) -> None:
    found = conductance.from_kv(1.0, x_t) / UNIT
    assert found == pytest.approx(kv, rel=5e-4)
    assert conductance.from_kv(conductance.kv_from_cv(1.0), x_t) / UNIT == pytest.approx(cv, rel=5e-4)
    normal_m3_per_s = 8e5 * found * UNIT / conductance.FREE_AIR_PER_NORMAL_AIR
    needed = fluids.control_valve.size_control_valve_g(
        T=293.15, MW=28.9647, mu=1.82e-5, gamma=1.4, Z=1.0, P1=8e5, P2=1e5, Q=normal_m3_per_s, xT=x_t
    )
    assert needed == pytest.approx(1.0, rel=2e-3)


def test_kv_and_cv() -> None:
    by_library = fluids.control_valve.convert_flow_coefficient(1, "Kv", "Cv")
    assert by_library == pytest.approx(1.1560992, rel=1e-7)
    assert conductance.kv_from_cv(by_library) == pytest.approx(1.0, rel=1e-6)
    assert pytest.approx(1.087440, rel=1e-6) == conductance.FREE_AIR_PER_NORMAL_AIR


@pytest.mark.parametrize(("exponent", "seconds"), [(1.0, 0.155995), (1.2, 0.129996), (1.4, 0.111425)])
def test_d2_choked_fill(exponent: float, seconds: float) -> None:
    found = filling.fill_time(1e-3, UNIT, 0.3, 7.013 * BAR, 1.013 * BAR, 0.3 * 7.013 * BAR, exponent)
    assert found == pytest.approx(seconds, rel=1e-5)


def test_d4_end_of_filling() -> None:
    found = filling.fill_time(1e-3, UNIT, 0.3, 7.013 * BAR, 1.013 * BAR, 7.013 * BAR)
    assert found == pytest.approx(1.258671, rel=1e-6)


def test_d7_and_d8_blow_down() -> None:
    assert filling.time_constant(0.05, 5 * UNIT) == pytest.approx(10.02836, rel=1e-6)
    assert filling.adiabatic_vent_time(0.05, 5 * UNIT, 8.013 * BAR, 3.37667 * BAR) == pytest.approx(
        6.588515, rel=1e-5
    )
    assert filling.adiabatic_vent_temperature(8.013 * BAR, 3.37667 * BAR) == pytest.approx(229.013, rel=1e-5)


@pytest.mark.parametrize("b", [0.0, 0.1, 0.3, 0.4999, 0.5, 0.528, 0.7])
@pytest.mark.parametrize("ends", [(8e5, 1.2e5), (8e5, 1.013e5), (1.5e5, 1.1e5)])
def test_vent_time_against_quadrature(b: float, ends: tuple[float, float]) -> None:
    first, last = ends
    ambient, tau = 1.01e5, filling.time_constant(1e-3, UNIT, 1.2)

    def slowness(pressure: float) -> float:
        flow = air.mass_flow(UNIT, b, pressure, ambient, linear_from=0.99999)
        return 1.185 * UNIT / flow

    limit = ambient / b if b else first
    cuts = sorted({last, first, *(edge for edge in (limit,) if last < edge < first)})
    time = sum(quad(slowness, *cut, epsabs=0, epsrel=1e-10)[0] for cut in pairwise(cuts))
    assert filling.vent_time(1e-3, UNIT, b, first, last, ambient, 1.2) == pytest.approx(tau * time, rel=1e-7)


@pytest.mark.parametrize("exponent", [1.0, 1.2, 1.4])
def test_fill_pressure_against_integration(exponent: float) -> None:
    def rise(_: float, p: list[float]) -> list[float]:
        flow = air.mass_flow(UNIT, 0.3, 7.013e5, min(p[0], 7.013e5))
        return [exponent / 1e-3 * 287.05287 * 293.15 * flow]

    exact = solve_ivp(rise, (0.0, 0.7), [1.013e5], rtol=1e-10, atol=1e-3, t_eval=[0.05, 0.2, 0.5, 0.7])
    for time, pressure in zip(exact.t, exact.y[0], strict=True):
        found = filling.fill_pressure(float(time), 1e-3, UNIT, 0.3, 7.013e5, 1.013e5, exponent)
        assert found == pytest.approx(pressure, rel=1e-6)


@pytest.mark.parametrize(
    ("length", "bore", "laminar", "turbulent"),
    [(3.0, 0.006, 0.992603, 0.940209), (3.0, 0.004, 0.983433, 0.870472), (10.0, 0.004, 0.945837, 0.629770)],
)
def test_d14_d15_attenuation(length: float, bore: float, laminar: float, turbulent: float) -> None:
    # The formula is from memory; the figures only show that it is computed as written.
    assert line.line_attenuation(length, bore, 8.013e5, 1000.0) == pytest.approx(laminar, abs=1e-6)
    assert line.line_attenuation(length, bore, 8.013e5, 2e4) == pytest.approx(turbulent, abs=1e-6)


def test_d13_speed_of_sound() -> None:
    assert line.sound_speed() == pytest.approx(343.234, abs=5e-4)
    assert PropsSI("A", "P", 101325, "T", 293.15, "Air") == pytest.approx(line.sound_speed(), rel=5e-4)


def test_l2_brake_side_leak() -> None:
    volume, lost = 5568 * 0.0254**3, 2 * PSI
    assert leakage.leak_from_decay(volume, lost, 60.0) == pytest.approx(2.49199e-4, rel=1e-4)
    assert leakage.free_air_from_decay(volume, lost, 60.0) * 60000 == pytest.approx(12.582, rel=1e-4)
    cubic_feet = leakage.free_air_from_decay(
        volume, lost, 60.0, free_pressure_pa=14.696 * PSI, free_temperature_k=293.15
    )
    assert cubic_feet * 60 / 0.3048**3 == pytest.approx(0.43852, rel=1e-4)


def test_l3_equivalent_hole() -> None:
    inlet = 120 * PSI + 101325
    hole = leakage.equivalent_hole(2.49199e-4, inlet, 101325)
    assert hole * 1000 == pytest.approx(0.48711, rel=1e-4)
    c = conductance.from_effective_area(0.61 * math.pi * hole**2 / 4)
    assert c / UNIT == pytest.approx(0.022644, rel=1e-4)
    assert leakage.hole_flow(hole, inlet, 101325) == pytest.approx(2.49199e-4, rel=1e-12)


def test_l4_build_up_demand() -> None:
    needed = leakage.free_air_from_decay(
        5568 * 0.0254**3, 15 * PSI, 45.0, free_pressure_pa=14.696 * PSI, free_temperature_k=293.15
    )
    assert needed * 60 / 0.3048**3 == pytest.approx(4.38518, rel=1e-4)


DEW_POINTS = [
    ("Q1", 3.0, 7.0, -20.78, -20.53),
    ("Q2", -20.0, 7.0, -39.86, -39.59),
    ("Q2", -40.0, 7.0, -56.94, -56.67),
    ("Q3", 10.0, 7.0, -15.69, -15.43),
    ("Q3", 3.0, 8.3, -22.33, -22.03),
]


@pytest.mark.parametrize(("row", "inside", "gauge", "magnus", "library"), DEW_POINTS)
def test_atmospheric_dew_point(row: str, inside: float, gauge: float, magnus: float, library: float) -> None:
    absolute = gauge * BAR + 101325
    found = atmosphere.dew_point_at(inside + 273.15, absolute, 101325) - 273.15
    assert found == pytest.approx(magnus, abs=0.01), row
    assert found == pytest.approx(library, abs=0.5), row
    share = HAPropsSI("psi_w", "T", inside + 273.15, "P", absolute, "R", 1.0)
    assert HAPropsSI("D", "T", 293.15, "P", 101325, "psi_w", share) - 273.15 == pytest.approx(
        found, abs=0.5
    ), row


def test_q4_dew_point_after_compression() -> None:
    found = atmosphere.line_dew_point(303.15, 0.70, 8.01325 * BAR) - 273.15
    assert found == pytest.approx(63.45, abs=0.01)
    assert found == pytest.approx(63.20, abs=0.5)


def test_q5_humidity_ratio() -> None:
    by_library = HAPropsSI("W", "T", 276.15, "P", 801325, "R", 1.0)
    assert by_library == pytest.approx(6.05877e-4, rel=1e-3)
    # Real compressed air holds more than Dalton says (enhancement factor about 1.03 at 8 bar), which the law
    # states; perfect gases cannot come within 0.1 % here.
    found = atmosphere.humidity_ratio(276.15, 801325)
    assert 0.96 * by_library < found < by_library
    light = HAPropsSI("W", "T", 276.15, "P", 101325, "R", 1.0)
    assert atmosphere.humidity_ratio(276.15, 101325) == pytest.approx(light, rel=0.01)


@pytest.mark.parametrize(
    ("height", "pascal"),
    [(500, 95461.3), (1000, 89876.3), (1500, 84559.7), (2000, 79501.4), (3000, 70121.2), (4000, 61660.4)],
)
def test_a2_a3_a5_standard_atmosphere(height: float, pascal: float) -> None:
    standard = fluids.ATMOSPHERE_1976(height)
    assert atmosphere.ambient_pressure(height) == pytest.approx(pascal, abs=0.1)
    assert atmosphere.ambient_pressure(height) == pytest.approx(standard.P, abs=0.05)
    assert atmosphere.ambient_temperature(height) == pytest.approx(standard.T, abs=1e-3)


def test_a1_a2_a3_in_other_units() -> None:
    assert atmosphere.ambient_pressure(0.0) == 101325.0
    assert atmosphere.ambient_pressure(0.0) / PSI == pytest.approx(14.6959, abs=5e-5)
    assert atmosphere.ambient_pressure(1500.0) / PSI == pytest.approx(12.2643, abs=5e-5)
    assert atmosphere.ambient_pressure(3000.0) / PSI == pytest.approx(10.1702, abs=5e-5)
    assert atmosphere.ambient_temperature(1500.0) == pytest.approx(278.402, abs=5e-4)
    assert atmosphere.ambient_temperature(3000.0) == pytest.approx(268.659, abs=5e-4)


@pytest.mark.parametrize(("geopotential", "pascal"), [(1500.0, 84556.0), (3000.0, 70108.5)])
def test_a4_geopotential_height(geopotential: float, pascal: float) -> None:
    height = atmosphere.EARTH_RADIUS_M * geopotential / (atmosphere.EARTH_RADIUS_M - geopotential)
    assert atmosphere.ambient_pressure(height) == pytest.approx(pascal, abs=0.1)
    assert 101325 * (1 - 2.25577e-5 * geopotential) ** 5.25588 == pytest.approx(pascal, abs=0.1)


@pytest.mark.parametrize(
    ("height", "kilopascal", "ratio"), [(0, 790.801, 1.0), (1500, 774.035, 0.97880), (3000, 759.597, 0.96054)]
)
def test_a6_100_psi_at_height(height: float, kilopascal: float, ratio: float) -> None:
    found = atmosphere.absolute_pressure(100 * PSI, height)
    assert found / 1000 == pytest.approx(kilopascal, rel=1e-5)
    assert found / atmosphere.absolute_pressure(100 * PSI) == pytest.approx(ratio, abs=1e-5)
    assert atmosphere.gauge_pressure(found, height) == pytest.approx(100 * PSI, rel=1e-12)
