"""Facing wear: rows 2-01 to 2-05 of the check page on mechanics, each the formula by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fanwright.errors import OutOfRange
from fanwright.laws import wear

pytestmark = pytest.mark.published
GRIP_J = 14090.7018274
MM3_PER_MJ = 1e-15


def area() -> float:
    return wear.ring_area_m2(0.070, 0.120)


def test_row_2_01_area() -> None:
    assert area() * 1e6 == pytest.approx(29845.130209, abs=5e-7)


@pytest.mark.parametrize(
    ("rate", "loss_nm", "grips", "energy_mj"),
    [
        (10, 4.721273363, 635421.796, 8953.539063),
        (30, 14.163820089, 211807.265, 2984.513021),
        (100, 47.212733631, 63542.180, 895.353906),
    ],
)
def test_rows_2_02_to_2_04(rate: float, loss_nm: float, grips: float, energy_mj: float) -> None:
    loss = wear.facing_loss_m(GRIP_J, rate * MM3_PER_MJ, area())
    assert loss * 1e9 == pytest.approx(loss_nm, rel=1e-8)
    assert 0.003 / loss == pytest.approx(grips, rel=1e-8)
    assert wear.energy_for_depth_j(0.003, rate * MM3_PER_MJ, area()) / 1e6 == pytest.approx(
        energy_mj, rel=1e-8
    )


def test_row_2_05_rate_from_two_readings() -> None:
    rate = wear.rate_from_loss_m3_per_j(0.001, area(), 100_000 * GRIP_J)
    assert rate / MM3_PER_MJ == pytest.approx(21.1807265, rel=1e-8)


def test_wear_coefficient_over_friction() -> None:
    """K 2e-5 mm3/(N m) with friction 0.4 is 50 mm3/MJ."""
    assert wear.wear_per_energy_m3_per_j(2e-14, 0.4) / MM3_PER_MJ == pytest.approx(50.0, rel=1e-12)


def test_hot_facings_wear_many_fold() -> None:
    """A book on road-vehicle braking: many-fold wear at 500 °C against 100 °C, no rise below about 230 °C."""
    assert wear.temperature_factor(373.15) == 1.0
    assert wear.temperature_factor(503.15) == 1.0
    assert 3.0 < wear.temperature_factor(773.15) < 30.0


@given(st.floats(250, 1100), st.floats(0, 100))
def test_hotter_never_wears_less(temperature: float, more: float) -> None:
    assert wear.temperature_factor(temperature) <= wear.temperature_factor(temperature + more)


def test_mistakes_are_refused_together() -> None:
    with pytest.raises(OutOfRange) as refused:
        wear.facing_loss_m(-1.0, 1.0, 0.0, 0.5)
    assert len(refused.value.messages) >= 2
