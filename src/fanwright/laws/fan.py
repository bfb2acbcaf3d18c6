"""Power a fan takes, with speed and air density, and the fuel that goes with it."""

from __future__ import annotations

from fanwright.laws._range import check

GAS_CONSTANT_J_PER_KG_K = 287.05287
STANDARD_AIR_KG_PER_M3 = 1.2
"""Air that a fan's power is usually stated for: 0.075 lb/ft3, printed as 1.2 kg/m3 (fan-selection pages)."""

SPECIFIC_CONSUMPTION_KG_PER_J = 0.34 * 0.45359237 / 745.6998715822702 / 3600.0
"""Fuel for shaft work: 0.34 lb/(hp h), printed for a four-stroke diesel at 320 hp; marginal use differs."""

DIESEL_KG_PER_M3 = 840.0
"""Diesel: EN 590 allows 820 to 845 kg/m3 (from memory)."""

CO2_KG_PER_M3 = 10.180 / 3.785411784e-3
"""CO2 from burning diesel: 10,180 g a US gallon, US EPA fact sheet EPA-420-F-23-014."""


def load_constant(power_w: float, speed_rad_s: float) -> float:
    """Turn one point of a fan into the constant of its square-law torque.

    Args:
        power_w: Power it takes at that speed, 0 to 1e6 W [W].
        speed_rad_s: The speed, 1 to 1 000 rad/s [rad/s].

    Returns:
        k of torque = k w^2, P / w^3 [N m s2/rad2].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Fan laws: torque goes with density and the square of speed (any fan-selection page).

    Example:
        >>> round(load_constant(18_000.0, 219.9114857512855), 12)
        0.001692500349
    """
    check(("power of the fan", power_w, 0.0, 1e6, "power"), ("speed", speed_rad_s, 1.0, 1_000.0, "rotation"))
    return power_w / speed_rad_s**3


def fan_power_w(
    power_w: float, at_speed_rad_s: float, speed_rad_s: float, density_ratio: float = 1.0
) -> float:
    """Carry a fan's power to another speed and another air density.

    Args:
        power_w: Power at the known point, 0 to 1e6 W [W].
        at_speed_rad_s: Speed at the known point, 1 to 1 000 rad/s [rad/s].
        speed_rad_s: The other speed, 0 to 1 000 rad/s [rad/s].
        density_ratio: Air density over that of the known point, 0.3 to 2 [-].

    Returns:
        The power, P (n / n0)^3 (rho / rho0) [W].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Fan laws: power goes with density and the cube of speed (any fan-selection page).

    Example:
        >>> round(fan_power_w(18_000.0, 2100.0 / 9.5, 1500.0 / 9.5), 4)
        6559.7668
    """
    check(
        ("power of the fan", power_w, 0.0, 1e6, "power"),
        ("speed of the known point", at_speed_rad_s, 1.0, 1_000.0, "rotation"),
        ("speed", speed_rad_s, 0.0, 1_000.0, "rotation"),
        ("density ratio", density_ratio, 0.3, 2.0, ""),
    )
    return power_w * (speed_rad_s / at_speed_rad_s) ** 3 * density_ratio


def dry_air_density_kg_m3(pressure_absolute_pa: float, temperature_k: float) -> float:
    """Find the density of dry air.

    Args:
        pressure_absolute_pa: Pressure, absolute, 2e4 to 2e5 Pa [Pa].
        temperature_k: Temperature, absolute, 200 to 400 K [K].

    Returns:
        The density, p / (287.05287 T) [kg/m3].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Ideal gas; gas constant of the U.S. Standard Atmosphere 1976.

    Example:
        >>> round(dry_air_density_kg_m3(101_325.0, 288.15), 4)
        1.225
    """
    check(
        ("pressure", pressure_absolute_pa, 2e4, 2e5, "pressure_absolute"),
        ("temperature", temperature_k, 200.0, 400.0, "temperature"),
    )
    return pressure_absolute_pa / (GAS_CONSTANT_J_PER_KG_K * temperature_k)


def fuel_m3(
    energy_j: float,
    specific_consumption_kg_per_j: float = SPECIFIC_CONSUMPTION_KG_PER_J,
    fuel_density_kg_m3: float = DIESEL_KG_PER_M3,
) -> float:
    """Find the fuel burnt for shaft work.

    Args:
        energy_j: Work at the crank, 0 to 1e15 J [J].
        specific_consumption_kg_per_j: Fuel for a unit of work, 1e-8 to 1e-6 kg/J [kg/J].
        fuel_density_kg_m3: Density of the fuel, 500 to 1 200 kg/m3 [kg/m3].

    Returns:
        The volume of fuel [m3].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Definition of brake-specific fuel consumption.

    Example:
        >>> round(fuel_m3(30e3 * 3600, 205.0 / 3.6e9, 840.0) * 1000, 4)
        7.3214
    """
    check(
        ("energy", energy_j, 0.0, 1e15, "energy"),
        ("fuel for a unit of work", specific_consumption_kg_per_j, 1e-8, 1e-6, ""),
        ("density of the fuel", fuel_density_kg_m3, 500.0, 1_200.0, ""),
    )
    return energy_j * specific_consumption_kg_per_j / fuel_density_kg_m3


def co2_kg(fuel_volume_m3: float, co2_kg_per_m3: float = CO2_KG_PER_M3) -> float:
    """Find the carbon dioxide from burning diesel.

    Args:
        fuel_volume_m3: Diesel burnt, 0 to 1e6 m3 [m3].
        co2_kg_per_m3: CO2 of a unit of fuel, 1 000 to 4 000 kg/m3 [kg/m3].

    Returns:
        Mass of CO2 [kg].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        US EPA fact sheet EPA-420-F-23-014: 10,180 g a US gallon of diesel.

    Example:
        >>> round(co2_kg(3.785411784e-3), 3)
        10.18
    """
    check(
        ("fuel", fuel_volume_m3, 0.0, 1e6, "volume"),
        ("carbon dioxide of a unit of fuel", co2_kg_per_m3, 1_000.0, 4_000.0, ""),
    )
    return fuel_volume_m3 * co2_kg_per_m3


def fan_torque_n_m(power_w: float, speed_rad_s: float) -> float:
    """Find the torque a fan takes at a speed.

    Args:
        power_w: Power, 0 to 1e6 W [W].
        speed_rad_s: Speed, 1 to 1 000 rad/s [rad/s].

    Returns:
        Power over speed [N m].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Definition of power.

    Example:
        >>> round(fan_torque_n_m(30_000.0, 251.32741228718345), 6)
        119.366207
    """
    check(("power of the fan", power_w, 0.0, 1e6, "power"), ("speed", speed_rad_s, 1.0, 1_000.0, "rotation"))
    return power_w / speed_rad_s
