"""Independent methods: GTC for sums of uncertainty, scipy quadrature for chances, pint for unit factors."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import pytest

from fanwright.evidence.reading import Measured
from fanwright.evidence.uncertainty import combined_sd, effective_degrees_of_freedom, repeats
from fanwright.judging.chances import chance_at_most
from fanwright.quantities import Unit, units


def test_end_gauge_of_gum_h1_as_gtc_propagates_it() -> None:
    """The whole model of GUM H.1 in GTC, against the sum of its components here."""
    from GTC import dof, uncertainty, ureal, value

    standard = ureal(50000623.0, 25.0, 18.0)
    difference = ureal(215.0, 9.7, 25.6)
    expansion_difference = ureal(0.0, 0.58e-6, 50.0)
    deviation = ureal(-0.1, 0.41)
    expansion = ureal(11.5e-6, 1.2e-6)
    temperature_difference = ureal(0.0, 0.029, 2.0)
    length = (
        standard
        + difference
        - standard * (expansion_difference * deviation + expansion * temperature_difference)
    )
    parts = (25.0, 9.7, 50000623.0 * 0.1 * 0.58e-6, 50000623.0 * 11.5e-6 * 0.029)
    assert value(length) == pytest.approx(50000838.0, abs=0.5)
    assert combined_sd(parts) == pytest.approx(uncertainty(length), rel=1e-9)
    assert effective_degrees_of_freedom(parts, (18.0, 25.6, 50.0, 2.0)) == pytest.approx(
        dof(length), rel=1e-6
    )


@pytest.mark.parametrize(
    "readings",
    [(2.1, 2.0), (2.1, 2.0, 2.3), (7.5438, 7.540625, 7.6454, 7.6), (1e9 + 0.1, 1e9 + 0.2, 1e9 + 0.4)],
)
def test_repeats_as_gtc_estimates_them(readings: tuple[float, ...]) -> None:
    from GTC import type_a

    theirs = type_a.estimate(readings)
    ours = repeats(readings)
    assert ours.mean_si == pytest.approx(theirs.x, rel=1e-12)
    assert ours.sd_of_mean_si == pytest.approx(theirs.u, rel=1e-6)
    assert ours.degrees_of_freedom == theirs.df


@pytest.mark.parametrize("half_width", [1e-4, 0.01, 0.3, 1.0, 5.0])
@pytest.mark.parametrize("sd", [1e-3, 0.1, 1.0])
@pytest.mark.parametrize("gap", [-2.0, -0.4, 0.0, 0.05, 0.4, 1.5])
def test_rectangle_and_normal_part_by_quadrature(half_width: float, sd: float, gap: float) -> None:
    """The closed form against adaptive quadrature of the distribution function over the rectangle.

    The same reading in metres of a facing and in pascals of a gauge has the same chance.
    """
    from scipy.integrate import quad
    from scipy.stats import norm

    def integrand(error: float) -> float:
        return float(norm.cdf((gap + error) / sd))

    kinks = sorted(point for point in (-gap - 8 * sd, -gap, -gap + 8 * sd) if abs(point) < half_width)
    total, _ = quad(integrand, -half_width, half_width, points=kinks or None, epsabs=1e-13, limit=200)
    found = chance_at_most(gap, Measured(0.0, half_width, sd))
    assert found == pytest.approx(total / (2.0 * half_width), abs=1e-9)
    for unit in (0.0254 / 64.0, 6894.757293168):
        same = chance_at_most(gap * unit, Measured(0.0, half_width * unit, sd * unit))
        assert same == pytest.approx(found, abs=1e-9)


PINT_NAMES = {
    "psi": "psi",
    "psig": "psi",
    "psia": "psi",
    "in": "inch",
    "ft": "foot",
    "mi": "mile",
    "min": "minute",
    "1/h": "1 / hour",
    "K/min": "kelvin / minute",
    "h": "hour",
    "degC": "kelvin",
    "degF": "delta_degree_Fahrenheit",
    "percent": "percent",
    "N m": "newton * meter",
    "lbf ft": "force_pound * foot",
    "lbf": "force_pound",
    "hp": "horsepower",
    "kg m2": "kilogram * meter ** 2",
    "kg/m": "kilogram / meter",
    "g/m": "gram / meter",
    "N/m": "newton / meter",
    "cm2": "centimeter ** 2",
    "in2": "inch ** 2",
    "dm3": "decimeter ** 3",
    "cm3": "centimeter ** 3",
    "in3": "inch ** 3",
    "gal": "gallon",
    "dm3/(s bar)": "decimeter ** 3 / (second * bar)",
    "kPa/min": "kilopascal / minute",
    "psi/min": "psi / minute",
}
PINT_SI = {
    "event_rate": "1 / second",
    "temperature_rate": "kelvin / second",
    "pressure": "pascal",
    "pressure_absolute": "pascal",
    "length": "meter",
    "distance": "meter",
    "time": "second",
    "engine_time": "second",
    "working_time": "second",
    "temperature": "kelvin",
    "temperature_difference": "kelvin",
    "rotation": "radian / second",
    "frequency": "hertz",
    "resistance": "ohm",
    "voltage": "volt",
    "current": "ampere",
    "share": "dimensionless",
    "force": "newton",
    "torque": "newton * meter",
    "power": "watt",
    "energy": "joule",
    "mass": "kilogram",
    "mass_per_length": "kilogram / meter",
    "inertia": "kilogram * meter ** 2",
    "stiffness": "newton / meter",
    "area": "meter ** 2",
    "volume": "meter ** 3",
    "conductance": "meter ** 3 / (second * pascal)",
    "pressure_rate": "pascal / second",
}
NO_PHYSICS = {"money", "money_rate"}


@cache
def pint_registry() -> Any:
    import pint

    return pint.UnitRegistry()


@pytest.mark.parametrize("unit", units().values(), ids=lambda unit: unit.name)
def test_every_factor_as_pint_has_it(unit: Unit) -> None:
    """Factors only: pint reads the trade's spellings, such as `9 870 h` or `5-1/2 in`, as something else."""
    registry = pint_registry()
    for dimension in unit.dimensions:
        if dimension in NO_PHYSICS:
            assert unit.factor == pytest.approx({"USD": 1.0, "USD/h": 1.0 / 3600.0}[unit.name], rel=1e-15)
            continue
        one = registry.Quantity(1.0, PINT_NAMES.get(unit.name, unit.name))
        assert unit.factor == pytest.approx(one.to(PINT_SI[dimension]).magnitude, rel=1e-9), dimension


@pytest.mark.parametrize("value", [-40.0, 0.0, 32.0, 98.6, 451.0])
@pytest.mark.parametrize(("ours", "theirs"), [("degC", "degree_Celsius"), ("degF", "degree_Fahrenheit")])
def test_temperature_offsets_as_pint_has_them(value: float, ours: str, theirs: str) -> None:
    kelvin = pint_registry().Quantity(value, theirs).to("kelvin").magnitude
    assert units()[ours].to_si(value) == pytest.approx(kelvin, abs=1e-9)
    assert math.isclose(units()[ours].from_si(kelvin), value, abs_tol=1e-9)
