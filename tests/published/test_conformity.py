"""Chances of a true value beyond a limit, against JCGM 106:2012 and the scale readings of the GUM.

How known: the printed figures are from memory, recomputed and equal to their printed digits; the unrounded
ones beside them were computed with scipy.stats.norm.
"""

from __future__ import annotations

import math

import pytest

from fanwright.evidence.reading import Measured
from fanwright.judging.chances import chance_at_most, chance_between

pytestmark = pytest.mark.published


def normal(value: float, sd: float) -> Measured:
    return Measured(value, 0.0, sd)


def test_jcgm_106_clause_7_diode_breakdown_voltage() -> None:
    """At most -5.40 V, measured -5.47 V with u = 0.05 V: conforms with 92 %."""
    found = chance_at_most(-5.40, normal(-5.47, 0.05))
    assert found == pytest.approx(0.92, abs=0.005)
    assert found == pytest.approx(0.9192433, abs=1e-7)


def test_jcgm_106_clause_7_oil_viscosity() -> None:
    """Between 12.5 and 16.3 mm2/s, measured 13.6 with u = 1.8: conforms with 66 %."""
    found = chance_between(12.5, 16.3, normal(13.6, 1.8))
    assert found == pytest.approx(0.66, abs=0.005)
    assert found == pytest.approx(0.6626298, abs=1e-7)


@pytest.mark.parametrize(
    ("chance", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]
)
def test_jcgm_106_table_1(chance: float, z: float) -> None:
    """Distance to the limit in standard uncertainties for a conformance chance; 1.645 is printed 1.64."""
    reading = normal(0.0, 1.0)
    assert chance_at_most(z - 0.0051, reading) < chance < chance_at_most(z + 0.0051, reading)


def test_jcgm_106_clause_8_speed_limit() -> None:
    """Limit 100 km/h, u = 2 % of the reading, 99.9 % sure: printed 107 km/h, unrounded 106.588."""
    assert chance_at_most(100.0, normal(106.588, 0.02 * 106.588)) == pytest.approx(0.001, abs=1e-6)
    assert 1.0 - chance_at_most(100.0, normal(107.0, 0.02 * 107.0)) >= 0.999
    assert 1.0 - chance_at_most(100.0, normal(106.0, 0.02 * 106.0)) < 0.999


def test_iso_14253_1_guard_band() -> None:
    """ISO 14253-1:2017 accepts at 95 %, 1.645 u inside the limit; the older 2 u gives 97.725 %."""
    assert chance_at_most(1.645, normal(0.0, 1.0)) == pytest.approx(0.95, abs=2e-5)
    assert chance_at_most(2.0, normal(0.0, 1.0)) == pytest.approx(0.97725, abs=5e-6)


@pytest.mark.parametrize(
    ("inch", "sd_mm"), [(1 / 64, 0.114568), (1 / 32, 0.229136), (1 / 16, 0.458272), (1 / 8, 0.916544)]
)
def test_gum_4_3_7_scale_division(inch: float, sd_mm: float) -> None:
    """A reading of division d is a rectangle: u = (d/2)/sqrt(3), 0.29 d in GUM F.2.2.1."""
    reading = Measured(0.0, inch * 0.0254 / 2.0, 0.0)
    assert reading.sd_si * 1000.0 == pytest.approx(sd_mm, abs=5e-7)
    assert reading.sd_si / (inch * 0.0254) == pytest.approx(0.29, abs=0.005)


def test_wear_verdict_where_the_scale_dominates() -> None:
    """At least 3.0 mm, read 3.4 mm on a 1/32 in scale with 0.10 mm of repeat.

    The usual normal shortcut says 94.5 % and would miss a demand of 95 %; rectangle and normal part together
    give 95.2 %. Computed two ways when this case was made; no printed source.
    """
    division_mm = 25.4 / 32.0
    reading = Measured(3.4, division_mm / 2.0, 0.10)
    assert reading.sd_si == pytest.approx(0.25000651, abs=5e-9)
    assert 1.0 - chance_at_most(3.0, normal(3.4, reading.sd_si)) == pytest.approx(0.945196, abs=5e-7)
    assert 1.0 - chance_at_most(3.0, reading) == pytest.approx(0.951684, abs=5e-7)
    assert 1.0 - chance_at_most(3.0, normal(3.411224, reading.sd_si)) == pytest.approx(0.95, abs=1e-6)


def test_a_reading_without_uncertainty_is_taken_as_it_is() -> None:
    assert chance_at_most(1.0, Measured(1.0, 0.0, 0.0)) == 1.0
    assert chance_at_most(math.nextafter(1.0, 0.0), Measured(1.0, 0.0, 0.0)) == 0.0


@pytest.mark.parametrize(
    ("gap_in_halves", "chance"), [(-2.0, 0.0), (-1.0, 0.0), (-0.5, 0.25), (0.0, 0.5), (1.0, 1.0), (9.0, 1.0)]
)
@pytest.mark.parametrize("half_width", [0.0254 / 128.0, 0.05, 2.0, 3447.0])
def test_gum_4_3_7_a_scale_alone_is_a_rectangle(
    half_width: float, gap_in_halves: float, chance: float
) -> None:
    """Without a normal part the chance is the share of the rectangle up to the edge."""
    assert chance_at_most(gap_in_halves * half_width, Measured(0.0, half_width, 0.0)) == pytest.approx(
        chance, abs=1e-12
    )
