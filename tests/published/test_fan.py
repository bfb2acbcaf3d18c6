"""Fan laws, air density and fuel: section 4 of the check page on mechanics.

4-01, 4-02: worked examples of two fan-selection pages. 4-03 to 4-05: density factors of an industrial-fan
selection page. 4-06: engineering table of the U.S. Standard Atmosphere 1976. 4-09, 4-12, 4-20, 4-21: the
formula by hand. 4-22, 4-23: US EPA emission factors of diesel.
"""

from __future__ import annotations

import math

import pytest

from fanwright.errors import OutOfRange
from fanwright.laws.fan import (
    co2_kg,
    dry_air_density_kg_m3,
    fan_power_w,
    fan_torque_n_m,
    fuel_m3,
)
from fanwright.quantities import read

pytestmark = pytest.mark.published
RPM = math.pi / 30.0
HP = 745.6998715822702
GALLON = 3.785411784e-3
STANDARD = 101_325.0 / (287.05287 * 529.67 / 1.8)


def _pressure(feet: float) -> float:
    """Standard atmosphere, troposphere, absolute."""
    return 101_325.0 * math.pow(1.0 - 2.25577e-5 * feet * 0.3048, 5.25588)


@pytest.mark.parametrize(
    ("shown", "factor", "expected", "half"),
    [(3.53, 0.643, 2.27, 0.005), (14.6, 0.790, 11.534, 0.0005)],
)
def test_rows_4_01_and_4_02_power_goes_with_density(
    shown: float, factor: float, expected: float, half: float
) -> None:
    assert fan_power_w(shown * HP, 100.0, 100.0, factor) / HP == pytest.approx(expected, abs=half)


@pytest.mark.parametrize(
    ("fahrenheit", "tolerance", "printed"),
    [
        (70, 0.001, (1, 0.964, 0.930, 0.896, 0.864, 0.832, 0.801, 0.772, 0.743, 0.714, 0.688)),
        (100, 0.001, (0.946, 0.912, 0.880, 0.848, 0.818, 0.787, 0.758, 0.730, 0.703, 0.676, 0.651)),
        (200, 0.0011, (0.803, 0.774, 0.747, 0.720, 0.694, 0.668, 0.643, 0.620, 0.596, 0.573, 0.552)),
    ],
)
def test_rows_4_03_to_4_05_density_factors(
    fahrenheit: float, tolerance: float, printed: tuple[float, ...]
) -> None:
    for thousands, factor in enumerate(printed):
        density = dry_air_density_kg_m3(_pressure(1000.0 * thousands), (fahrenheit + 459.67) / 1.8)
        assert density / STANDARD == pytest.approx(factor, abs=tolerance), (fahrenheit, thousands)


@pytest.mark.parametrize(("feet", "slug"), [(0, 23.77e-4), (5000, 20.48e-4), (10000, 17.56e-4)])
def test_row_4_06_standard_atmosphere(feet: float, slug: float) -> None:
    # The table prints 17.56 where its own equations give 17.553: one unit of the last digit is allowed.
    temperature = 288.15 - 0.0065 * feet * 0.3048
    density = dry_air_density_kg_m3(_pressure(feet), temperature)
    assert density / 515.378818 == pytest.approx(slug, abs=0.01e-4)


@pytest.mark.parametrize(
    ("height_m", "expected"),
    [(0, 1.224999), (1000, 1.111659), (1500, 1.058104), (2000, 1.006553), (3000, 0.909254)],
)
def test_row_4_07_standard_atmosphere_by_geometric_height(height_m: float, expected: float) -> None:
    """U.S. Standard Atmosphere 1976, its own equations below 11 km; values by the library fluids 1.3.1."""
    height = 6_356_766.0 * height_m / (6_356_766.0 + height_m)
    temperature = 288.15 - 0.0065 * height
    pressure = 101_325.0 * math.pow(temperature / 288.15, 9.80665 / (287.05287 * 0.0065))
    assert dry_air_density_kg_m3(pressure, temperature) == pytest.approx(expected, abs=1.5e-6)


def test_row_4_08_two_bases_of_standard_air() -> None:
    """A fan table's 0.075 lb/ft3 is not the atmosphere's 0.07648: two per cent apart."""
    per = read("1 lb", "mass").si / read("1 ft", "length").si ** 3
    assert 0.075 * per == pytest.approx(1.20138475, rel=1e-8)
    assert 0.07648 * per == pytest.approx(1.22509208, rel=1e-8)
    sea_level = dry_air_density_kg_m3(101_325.0, 288.15)
    assert sea_level == pytest.approx(0.07648 * per, abs=1e-4)
    assert 0.075 * per == pytest.approx(STANDARD, rel=2e-3)


def test_rows_4_09_4_10_and_4_12() -> None:
    assert fan_power_w(18e3, 2100 * RPM, 1500 * RPM) == pytest.approx(6559.766764, rel=1e-9)
    assert fan_power_w(1e3, 100.0, 110.0) == pytest.approx(1331.0, rel=1e-12)
    assert fan_torque_n_m(30e3, 2400 * RPM) == pytest.approx(119.366207, rel=1e-8)


def test_rows_4_20_and_4_21_fuel() -> None:
    fuel = fuel_m3(30e3 * 3600, 205 / 3.6e9, 840.0)
    assert fuel * 1000 == pytest.approx(7.321428571, rel=1e-8)
    assert fuel / GALLON == pytest.approx(1.934116812, rel=1e-8)
    assert co2_kg(fuel) == pytest.approx(19.689309, rel=1e-7)
    assert co2_kg(fuel, 10.21 / GALLON) == pytest.approx(19.747333, rel=1e-7)
    fuel = fuel_m3(18e3 * 3600, 200 / 3.6e9, 832.0)
    assert fuel * 1000 == pytest.approx(4.326923077, rel=1e-8)
    assert co2_kg(fuel) == pytest.approx(11.636270883, rel=1e-8)


def test_rows_4_22_and_4_23_carbon_dioxide() -> None:
    assert co2_kg(0.001) == pytest.approx(2.689271493, rel=1e-9)
    assert co2_kg(0.001, 10.21 / GALLON) == pytest.approx(2.697196655, rel=1e-9)
    assert co2_kg(GALLON, 22.38 * 0.45359237 / GALLON) == pytest.approx(10.151397, rel=1e-6)


def test_specific_consumption_in_grams() -> None:
    """0.34 lb/(hp h) is 206.814312 g/kWh."""
    assert fuel_m3(3.6e6, fuel_density_kg_m3=1000.0) * 1e6 == pytest.approx(206.814312, rel=1e-8)


def test_out_of_range_is_refused() -> None:
    with pytest.raises(OutOfRange):
        fan_power_w(-1.0, 100.0, 100.0)
    with pytest.raises(OutOfRange):
        dry_air_density_kg_m3(101.325, 288.15)
