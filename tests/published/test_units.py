"""Factors of the unit table against the printed digits of NIST Special Publication 811 (2008), appendix B.8.

How known: digits from memory; each was recomputed from the exact definitions of inch, pound and standard
gravity and agrees. A factor printed without rounding (bold there) must be equal; the rest to half the last
printed digit.
"""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from fanwright.quantities import read, units

pytestmark = pytest.mark.published

ROUNDED = {
    "psi": "6.894757E+03",
    "psig": "6.894757E+03",
    "psia": "6.894757E+03",
    "lbf": "4.448222E+00",
    "lbf ft": "1.355818E+00",
    "hp": "7.456999E+02",
    "rpm": "1.047198E-01",
    "in3": "1.638706E-05",
    "gal": "3.785412E-03",
    "lb": "4.535924E-01",
}
EXACT = {
    "bar": "1.0E+05",
    "in": "2.54E-02",
    "ft": "3.048E-01",
    "mi": "1.609344E+03",
    "min": "6.0E+01",
    "h": "3.6E+03",
    "in2": "6.4516E-04",
    "dm3": "1.0E-03",
}


@pytest.mark.parametrize("name", ROUNDED)
def test_rounded_factor_of_sp_811_b8(name: str) -> None:
    printed = Decimal(ROUNDED[name])
    half_digit = float(Decimal(1).scaleb(printed.as_tuple().exponent)) / 2.0
    assert units()[name].factor == pytest.approx(float(printed), abs=half_digit, rel=0.0)


@pytest.mark.parametrize("name", EXACT)
def test_exact_factor_of_sp_811_b8(name: str) -> None:
    assert units()[name].factor == float(EXACT[name])


def test_factors_follow_from_the_exact_definitions() -> None:
    """SP 811 B.8: inch 0.0254 m, pound 0.45359237 kg, standard gravity 9.80665 m/s2, all exact."""
    pound_force = 0.45359237 * 9.80665
    from_definitions = {
        "lbf": pound_force,
        "psi": pound_force / 0.0254**2,
        "lbf ft": pound_force * 0.3048,
        "hp": 550.0 * pound_force * 0.3048,
        "rpm": 2.0 * math.pi / 60.0,
        "in3": 0.0254**3,
        "gal": 231.0 * 0.0254**3,
        "psi/min": pound_force / 0.0254**2 / 60.0,
    }
    for name, factor in from_definitions.items():
        assert units()[name].factor == pytest.approx(factor, rel=1e-12), name


@pytest.mark.parametrize(
    ("typed", "kelvin"),
    [("32 °F", 273.15), ("212 °F", 373.15), ("-40 °F", 233.15), ("-40 °C", 233.15), ("0 K", 0.0)],
)
def test_temperature_scales_of_sp_811_b8(typed: str, kelvin: float) -> None:
    """T/K = (t/degF + 459.67)/1.8 and T/K = t/degC + 273.15; the scales meet at -40."""
    assert read(typed, "temperature").si == pytest.approx(kelvin, abs=1e-9)
