"""Flow of air against values seen in a source; the tolerance follows from the digits printed there.

HP is "Hyper-Pneumatics", an open teaching text on sonic conductance, conductances in series and tube
length. TAB is the handbook table "discharge of air through an orifice" (coefficient 100 %). Flows are of
free air at 20 degC.
"""

from __future__ import annotations

import math

import pytest

from fanwright.laws import air, conductance, leakage

pytestmark = pytest.mark.published

BAR = 1e5
UNIT = 1e-8  # dm3/(s bar) in m3/(s Pa)
PSI = 6894.757293168
INCH = 0.0254


def litres_per_minute(flow_kg_per_s: float) -> float:
    return flow_kg_per_s / 1.185 * 60000.0


@pytest.mark.parametrize(
    ("row", "c", "b", "inlet", "outlet", "printed", "computed"),
    [
        ("I1, HP example 1", 2.0, 0.3, 7.013, 1.013, 842, 841.56),
        ("I2, HP example 2", 2.0, 0.3, 7.013, 5.013, 678, 677.88),
        ("I4, HP quiz", 1.5, 0.3, 6.013, 1.013, 541, 541.2),
        ("I5, HP problem", 3.0, 0.3, 6.013, 1.013, 1082, 1082.3),
    ],
)
def test_flow(
    row: str, c: float, b: float, inlet: float, outlet: float, printed: float, computed: float
) -> None:
    found = litres_per_minute(air.mass_flow(c * UNIT, b, inlet * BAR, outlet * BAR))
    assert found == pytest.approx(printed, abs=0.5), row
    assert found == pytest.approx(computed, rel=1e-4), row


def test_i3_conductance_from_two_points() -> None:
    choked, subsonic = (flow / 60000.0 * 1.185 for flow in (600.0, 360.0))
    c, b = air.conductance_and_ratio(choked, subsonic, 7.013 * BAR, 6.013 * BAR)
    assert c / UNIT == pytest.approx(1.43, abs=0.005)
    assert b == pytest.approx(0.29, abs=0.005)
    assert (c / UNIT, b) == (pytest.approx(1.4259, abs=5e-5), pytest.approx(0.2870, abs=5e-5))


def test_i6_mass_flow_of_an_equation_solver_example() -> None:
    # worked example of an open equation solver: C 1e-8, b 0.35, 700 to 100 kPa, 293.15 K
    assert air.mass_flow(1e-8, 0.35, 7e5, 1e5) == pytest.approx(0.008295, abs=1e-7)


@pytest.mark.parametrize(
    ("ratio", "percent", "computed"),
    [
        (0.2, 100, 1),
        (0.3, 100, 1),
        (0.5, 96, 0.9583),
        (0.7, 82, 0.8207),
        (0.85, 62, 0.6186),
        (0.95, 37, 0.3712),
    ],
)
def test_i7_ellipse(ratio: float, percent: float, computed: float) -> None:
    share = air.mass_flow(1e-8, 0.3, 1e6, ratio * 1e6) / air.mass_flow(1e-8, 0.3, 1e6, 0.0)
    assert share == pytest.approx(percent / 100.0, abs=0.005)
    assert share == pytest.approx(computed, abs=1e-4)


@pytest.mark.parametrize(("celsius", "factor"), [(60.0, 0.9380), (80.0, 0.9111)])
def test_i8_warm_air_flows_less(celsius: float, factor: float) -> None:
    warm = air.mass_flow(1e-8, 0.3, 7e5, 1e5, temperature_k=celsius + 273.15)
    assert warm / air.mass_flow(1e-8, 0.3, 7e5, 1e5) == pytest.approx(factor, abs=1e-4)


def test_i9_pressure_loss_at_a_flow() -> None:
    # HP prints "about 0.55 bar" and no b; 0.35 gives it, 0.30 gives 0.590
    flow = 600.0 / 60000.0 * 1.185
    loss = 7.013 * BAR - air.outlet_pressure(3 * UNIT, 0.35, 7.013 * BAR, flow)
    assert loss / BAR == pytest.approx(0.55, abs=0.005)
    loss = 7.013 * BAR - air.outlet_pressure(3 * UNIT, 0.30, 7.013 * BAR, flow)
    assert loss / BAR == pytest.approx(0.590, abs=0.0005)


@pytest.mark.parametrize(
    ("row", "parts", "printed", "digits"),
    [
        ("I11", (1.2, 1.0, 3.0), 0.74, 0.005),
        ("I12", (0.8, 1.5, 2.5), 0.679, 0.0005),
        ("I13", (2.0, 1.0), 0.894, 0.0005),
        ("I14 clean", (1.2, 3.0), 1.11, 0.005),
        ("I14 clogged", (1.2, 0.6), 0.54, 0.005),
    ],
)
def test_series_by_squares(row: str, parts: tuple[float, ...], printed: float, digits: float) -> None:
    found = air.series_by_squares([part * UNIT for part in parts]) / UNIT
    assert found == pytest.approx(printed, abs=digits), row


@pytest.mark.parametrize(
    ("length", "friction", "printed", "computed", "digits"),
    [
        (1.0, 1.6349, 1.3, 1.2685, 0.05),
        (3.0, 0.9439, 0.85, 0.8544, 0.005),
        (10.0, 0.5170, 0.50, 0.5007, 0.005),
    ],
)
def test_i19_tube_of_4_mm(
    length: float, friction: float, printed: float, computed: float, digits: float
) -> None:
    bare = conductance.tube_conductance(length, 0.004, with_entry=False) / UNIT
    with_entry = conductance.tube_conductance(length, 0.004) / UNIT
    assert bare == pytest.approx(friction, abs=5e-5)
    assert with_entry == pytest.approx(printed, abs=digits)
    assert with_entry == pytest.approx(computed, abs=5e-5)


def test_i20_tube_of_2_5_mm() -> None:
    found = conductance.tube_conductance(1.0, 0.0025) / UNIT
    assert found == pytest.approx(0.42, abs=0.005)
    assert found == pytest.approx(0.4247, abs=5e-5)


def test_i21_nozzle_constant() -> None:
    assert conductance.nozzle_constant() == pytest.approx(0.0404, abs=5e-5)
    assert conductance.nozzle_constant() == pytest.approx(0.0404184, abs=5e-8)


# TAB: cfm of free air through holes of 1/64, 1/32, 1/16, 1/8 and 1/4 in, by psig
TAB = {
    5: (0.062, 0.248, 0.993, 3.97, 15.9),
    15: (0.105, 0.420, 1.68, 6.72, 26.9),
    30: (0.158, 0.633, 2.53, 10.1, 40.5),
    50: (0.229, 0.916, 3.66, 14.7, 58.6),
    70: (0.300, 1.20, 4.79, 19.2, 76.7),
    80: (0.335, 1.34, 5.36, 21.4, 85.7),
    90: (0.370, 1.48, 5.92, 23.7, 94.8),
    100: (0.406, 1.62, 6.49, 26.0, 104),
    110: (0.441, 1.76, 7.05, 28.2, 113),
    120: (0.476, 1.91, 7.62, 30.5, 122),
    125: (0.494, 1.98, 7.90, 31.6, 126),
}
HOLES_IN = (1 / 64, 1 / 32, 1 / 16, 1 / 8, 1 / 4)
FREE_68F_K = (68.0 + 459.67) * 5.0 / 9.0
AMBIENT_PA = 14.7 * PSI


def cubic_feet_per_minute(flow_kg_per_s: float) -> float:
    density = AMBIENT_PA / (air.GAS_CONSTANT_J_PER_KG_K * FREE_68F_K)
    return flow_kg_per_s / density * 60.0 / 0.3048**3


@pytest.mark.parametrize("psig", TAB)
def test_l6_orifice_table(psig: int) -> None:
    inlet = AMBIENT_PA + psig * PSI
    for hole, printed in zip(HOLES_IN, TAB[psig], strict=True):
        flow = leakage.hole_flow(hole * INCH, inlet, AMBIENT_PA, coefficient=1.0, temperature_k=FREE_68F_K)
        assert cubic_feet_per_minute(flow) == pytest.approx(printed, rel=0.01)
        area = math.pi * (hole * INCH) ** 2 / 4.0
        ellipse = air.mass_flow(
            conductance.from_effective_area(area), 0.528, inlet, AMBIENT_PA, temperature_k=FREE_68F_K
        )
        assert ellipse == pytest.approx(flow, rel=0.003)


@pytest.mark.parametrize(("inches", "printed"), [(3 / 8, 234.0), (1 / 2, 415.0)])
def test_l6_large_holes_at_100_psig(inches: float, printed: float) -> None:
    # the 100 psig row of a second page
    flow = leakage.hole_flow(inches * INCH, AMBIENT_PA + 100 * PSI, AMBIENT_PA, 1.0, FREE_68F_K)
    assert cubic_feet_per_minute(flow) == pytest.approx(printed, rel=0.01)


@pytest.mark.parametrize(
    ("hole", "printed"),
    [(1 / 16, (3.2, 3.5, 3.8)), (1 / 8, (12.7, 14.1, 15.4)), (1 / 4, (51.0, 56.0, 62.0))],
)
def test_l7_sharp_edged_list(hole: float, printed: tuple[float, float, float]) -> None:
    # A published list of sharp orifices at 80, 90 and 100 psig, coefficient 0.61. The energy-department table
    # it comes from lies up to 6.5 % below the isentropic flow (typically 3.3 %).
    for psig, figure in zip((80, 90, 100), printed, strict=True):
        flow = leakage.hole_flow(hole * INCH, AMBIENT_PA + psig * PSI, AMBIENT_PA, 0.61, FREE_68F_K)
        assert cubic_feet_per_minute(flow) == pytest.approx(figure, rel=0.065)


def test_l5_cost_of_a_leak() -> None:
    # US Navy manual MO-206 appendix B: 47 scfm at $0.50 a 1000 cubic feet for a year costs $12,350. The flow
    # comes from a straight line through that plant's own readings (0.62 x 96 psig - 12.75), which is no law.
    year_s = 365 * 86400.0
    cost = leakage.air_cost(47.0 * 0.3048**3 / 60.0, 0.50 / (1000 * 0.3048**3), year_s)
    assert cost == pytest.approx(12350, rel=0.005)
    assert cost == pytest.approx(12351.6, abs=0.05)
