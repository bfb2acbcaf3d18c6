"""Temperature of a steel face: rows 1-20 to 1-31 of the check page on mechanics.

1-20, 1-21: Holman, Heat Transfer, example 4-2 (from memory, recomputed). 1-22: a heat-transfer text
(from memory, recomputed). 1-23 to 1-27, 1-29 to 1-31: the closed form by an independent method (image sums,
finite differences, Duhamel's integral, 2 000 simulated cycles). 1-28: facing data of The Tribology Handbook,
section on friction clutches, table 7.5. ht is the outside library, CoolProp gives the properties of air.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fanwright.errors import OutOfRange
from fanwright.laws import heat

pytestmark = pytest.mark.published
ALPHA = 50.0 / (7850.0 * 470.0)
GRIP_J, GRIP_S = 14090.7018274, 1.3036971910


def test_rows_1_20_to_1_22_textbooks() -> None:
    face = heat.thick_rise_k(3.2e5, 30.0, 45.0, 1.4e-5)
    assert face == pytest.approx(164.443673, abs=5e-7)
    assert 35.0 + face == pytest.approx(199.4, abs=0.05)
    deep = heat.thick_rise_k(3.2e5, 30.0, 45.0, 1.4e-5, 0.025)
    assert deep == pytest.approx(44.314159, abs=5e-7)
    assert 35.0 + deep == pytest.approx(79.3, abs=0.05)
    block = heat.thick_rise_k(4000.0, 1800.0, 237.0, 9.71e-5)
    assert block == pytest.approx(7.961823, abs=1e-6)  # the page cuts 7.961823 98 off
    assert 20.0 + block == pytest.approx(28.0, abs=0.05)


@pytest.mark.parametrize(
    ("flux", "time", "rise"), [(2e5, 1.0, 16.61561021), (5e5, 1.3, 47.36177609), (1e6, 0.5, 58.74505327)]
)
def test_row_1_23_thick(flux: float, time: float, rise: float) -> None:
    assert pytest.approx(1.35519718e-5, rel=1e-8) == ALPHA
    assert heat.thick_rise_k(flux, time, 50.0, ALPHA) == pytest.approx(rise, rel=1e-8)


@pytest.mark.parametrize(
    ("row", "flux", "thickness", "time", "face", "back", "lumped"),
    [
        ("1-24", 2e5, 0.008, 1.0, 16.64012411, 2.24442185, 6.77598591),
        ("1-25", 5e5, 0.012, 1.3, 47.36317590, 1.90232086, 14.68130280),
        ("1-26", 2e5, 0.006, 10.0, 98.34647875, 86.34647875, 90.34647875),
    ],
)
def test_rows_1_24_to_1_26_slab(
    row: str, flux: float, thickness: float, time: float, face: float, back: float, lumped: float
) -> None:
    given_slab = (flux, time, thickness, 50.0, ALPHA)
    assert heat.slab_face_rise_k(*given_slab) == pytest.approx(face, abs=5e-9 + 1e-8 * face), row
    assert heat.slab_back_rise_k(*given_slab) == pytest.approx(back, abs=5e-9 + 1e-8 * back), row
    rise = heat.lumped_rise_k(flux * time, 7850.0 * thickness, 470.0)
    assert rise == pytest.approx(lumped, rel=1e-8), row


def test_row_1_26_the_thick_formula_is_the_wrong_regime() -> None:
    assert heat.thick_rise_k(2e5, 10.0, 50.0, ALPHA) == pytest.approx(52.54, abs=0.005)


def test_row_1_27_falling_flux() -> None:
    assert heat.falling_flux_rise_k(5e5, 1.3, 0.65, 50.0, ALPHA) == pytest.approx(22.32655536, rel=1e-8)
    assert heat.falling_flux_rise_k(5e5, 1.3, 1.3, 50.0, ALPHA) == pytest.approx(15.78725870, rel=1e-8)
    highest = 0.53192304 * 5e5 * math.sqrt(ALPHA * 1.3) / 50.0
    assert heat.falling_flux_rise_k(5e5, 1.3, 0.65, 50.0, ALPHA) == pytest.approx(highest, rel=1e-8)


def test_row_1_28_share_of_the_heat() -> None:
    steel = heat.effusivity(50.0, 7850.0, 470.0)
    woven, moulded = heat.effusivity(0.80, 1600.0, 1250.0), heat.effusivity(0.80, 2800.0, 1250.0)
    assert (steel, woven, moulded) == pytest.approx((13582.157413, 1264.911064, 1673.320053), rel=1e-9)
    assert heat.heat_share(steel, woven) == pytest.approx(0.91480399, abs=5e-9)
    assert heat.heat_share(steel, moulded) == pytest.approx(0.89031349, abs=5e-9)
    iron = heat.effusivity(52.0, 7200.0, 460.0)
    assert heat.heat_share(iron, woven) == pytest.approx(0.91208768, abs=5e-9)


def test_row_1_29_lumped() -> None:
    assert heat.lumped_rise_k(GRIP_J, 3.5, 470.0, 0.96) == pytest.approx(8.22314514, rel=1e-8)


def test_row_1_30_repeated_grips() -> None:
    tau = heat.cooling_time_s(6.0, 470.0, 60.0, 0.15)
    single = heat.lumped_rise_k(GRIP_J, 6.0, 470.0)
    assert tau == pytest.approx(313.333333, abs=5e-7)
    assert heat.cycle_peak_k(single, 120.0, tau) == pytest.approx(15.70437829, rel=1e-8)
    assert heat.cycle_trough_k(single, 120.0, tau) == pytest.approx(10.70767551, rel=1e-8)
    assert heat.cycle_mean_k(single, 120.0, tau) == pytest.approx(13.04694614, rel=1e-8)
    assert math.log(20.0) * tau / 120.0 == pytest.approx(7.82, abs=0.005)


def test_row_1_31_chain_of_a_grip() -> None:
    area = math.pi * (0.120**2 - 0.070**2)
    share = heat.heat_share(heat.effusivity(50.0, 7850.0, 470.0), heat.effusivity(0.80, 1600.0, 1250.0))
    flux = share * GRIP_J / area / GRIP_S
    assert flux == pytest.approx(331291.631, rel=1e-6)
    assert heat.thick_rise_k(flux, GRIP_S, 50.0, ALPHA) == pytest.approx(31.42571227, rel=1e-6)
    falling = heat.falling_flux_rise_k(2 * flux, GRIP_S, GRIP_S / 2, 50.0, ALPHA)
    assert falling == pytest.approx(29.62844566, rel=1e-6)


def test_cycles_against_a_simulation() -> None:
    tau, rise = 200.0, 0.0
    for _ in range(2000):
        rise = (rise + 5.0) * math.exp(-60.0 / tau)
    assert heat.cycle_trough_k(5.0, 60.0, tau) == pytest.approx(rise, rel=1e-12)


def test_air_over_the_steel_face() -> None:
    """The heat transfer we assume, 60 W/(m2 K), against ht (turbulent plate) with CoolProp's air at 100 °C.

    Rim speed of a 0.26 m ring at 1 400 to 2 300 r/min is 19 to 31 m/s.
    """
    from CoolProp.CoolProp import PropsSI
    from ht.conv_external import Nu_horizontal_plate_turbulent_Schlichting

    density, viscosity, conductivity, heat_capacity = (
        PropsSI(name, "T", 373.15, "P", 101_325, "Air") for name in ("D", "V", "L", "C")
    )
    transfers = [
        Nu_horizontal_plate_turbulent_Schlichting(
            density * speed * 0.26 / viscosity, heat_capacity * viscosity / conductivity
        )
        * conductivity
        / 0.26
        for speed in (19.0, 31.0)
    ]
    assert transfers[0] < 2.0 * 60.0
    assert transfers[1] > 60.0


def test_slab_against_finite_differences() -> None:
    """Own explicit differences over 80 layers, heated face and insulated back."""
    import numpy as np

    layers, thickness, flux, end = 80, 0.008, 2e5, 1.0
    step_m = thickness / layers
    step_s = 0.4 * step_m**2 / ALPHA
    rise = np.zeros(layers)
    for _ in range(round(end / step_s)):
        flow = 50.0 / step_m * np.diff(rise)
        inward = np.concatenate([[flux], -flow]) - np.concatenate([-flow, [0.0]])
        rise = rise + step_s * inward / (7850.0 * 470.0 * step_m)
    face = rise[0] + flux * step_m / 2 / 50.0
    assert heat.slab_face_rise_k(flux, end, thickness, 50.0, ALPHA) == pytest.approx(face, rel=2e-3)
    assert heat.slab_back_rise_k(flux, end, thickness, 50.0, ALPHA) == pytest.approx(rise[-1], rel=5e-3)


@settings(max_examples=100, deadline=None)
@given(st.floats(0.001, 0.5), st.floats(1e-3, 30.0))
def test_slab_stores_what_it_takes(thickness: float, time: float) -> None:
    """Face is never cooler than the mean, the back never warmer; series and images meet."""
    face = heat.slab_face_rise_k(1e5, time, thickness, 50.0, ALPHA)
    back = heat.slab_back_rise_k(1e5, time, thickness, 50.0, ALPHA)
    mean = heat.lumped_rise_k(1e5 * time, 7850.0 * thickness, 470.0)
    assert back - 1e-9 <= mean <= face + 1e-9
    assert face >= heat.thick_rise_k(1e5, time, 50.0, ALPHA) * (1 - 1e-9)


def test_series_and_images_meet() -> None:
    at = 0.05 * 0.01**2 / ALPHA
    for law in (heat.slab_face_rise_k, heat.slab_back_rise_k):
        below, above = (law(1e5, at * (1 + step), 0.01, 50.0, ALPHA) for step in (-1e-12, 1e-12))
        assert below == pytest.approx(above, rel=1e-9)


def test_mistakes_are_refused_together() -> None:
    with pytest.raises(OutOfRange) as refused:
        heat.thick_rise_k(-1.0, 0.0, 0.0, 1.0)
    assert len(refused.value.messages) == 4
