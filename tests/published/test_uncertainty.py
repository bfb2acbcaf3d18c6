"""Sums of uncertainty against the worked examples of JCGM 100:2008 (GUM)."""

from __future__ import annotations

import math

import pytest

from fanwright.evidence.uncertainty import combined_sd, effective_degrees_of_freedom, repeats

pytestmark = pytest.mark.published

# GUM H.1, end-gauge calibration, components in nanometres: standard, comparator, difference of the expansion
# coefficients, temperature difference. Components and sum as a public copy of the GTC manual prints them.
END_GAUGE_NM = (25.0, 9.7, 50000623 * 0.1 * 0.58e-6, 50000623 * 11.5e-6 * 0.029)
END_GAUGE_DEGREES = (18.0, 25.6, 50.0, 2.0)

TEMPERATURES_GUM_TABLE_1 = """
96.90 98.18 98.25 98.61 99.03 99.49 99.56 99.74 99.89 100.07
100.33 100.42 100.68 100.95 101.11 101.20 101.57 101.84 102.36 102.72
"""


def test_gum_h1_end_gauge_components() -> None:
    """GUM table H.1 prints 25, 9.7, 2.9 and 16.6; u of the temperature difference is 0.029 here."""
    assert END_GAUGE_NM[2] == pytest.approx(2.9, abs=0.05)
    assert END_GAUGE_NM[3] == pytest.approx(16.675, abs=0.0005)


def test_gum_h1_end_gauge_combined() -> None:
    """GUM H.1.4 prints 32 nm; unrounded 31.7106."""
    assert combined_sd(END_GAUGE_NM) == pytest.approx(31.7106, abs=5e-5)


def test_gum_h1_end_gauge_degrees_of_freedom() -> None:
    """GUM H.1.6 prints 16 (rounded down), from memory; unrounded 16.66."""
    found = effective_degrees_of_freedom(END_GAUGE_NM, END_GAUGE_DEGREES)
    assert found == pytest.approx(16.66, abs=0.005)
    assert math.floor(found) == 16


def test_gum_h1_end_gauge_second_order() -> None:
    """GUM H.1.7 prints 34 nm with the two second-order terms, 11.7 nm and 1.7 nm (digits from memory)."""
    assert round(combined_sd((*END_GAUGE_NM, 11.7, 1.7))) == 34


def test_gum_4_4_3_twenty_temperatures() -> None:
    """GUM 4.4.3 prints mean 100.14 degC (100.145 cut), s 1.49 K, u of the mean 0.33 K.

    The twenty readings of table 1 are from memory; they reproduce all three printed figures.
    """
    readings = [float(each) for each in TEMPERATURES_GUM_TABLE_1.split()]
    found = repeats(readings)
    assert found.mean_si == pytest.approx(100.145, abs=0.0005)
    assert found.sd_si == pytest.approx(1.49, abs=0.005)
    assert found.sd_of_mean_si == pytest.approx(0.33, abs=0.005)
    assert found.degrees_of_freedom == 19


def test_difference_of_two_readings_of_one_scale() -> None:
    """Two rectangles of full width d give a triangle: d/sqrt(6), as GUM 4.3.9 has it for half width d."""
    division = 0.0254 / 32.0
    each = division / 2.0 / math.sqrt(3.0)
    assert combined_sd((each, each)) == pytest.approx(division / math.sqrt(6.0), rel=1e-12)
    assert combined_sd((each, each)) * 1000.0 == pytest.approx(0.324047, abs=5e-7)
