"""What a leak passes, from a falling gauge, and the hole that would pass as much.

Mass at the gas constant of dry air, free air at 1.185 kg/m3 unless the function says otherwise.
"""

from __future__ import annotations

import math

from fanwright.laws._range import check
from fanwright.laws.air import (
    GAS_CONSTANT_J_PER_KG_K,
    LEAST_TEMPERATURE_K,
    MOST_PRESSURE_PA,
    MOST_TEMPERATURE_K,
    REFERENCE_TEMPERATURE_K,
)
from fanwright.laws.conductance import nozzle_flow

FREE_AIR_PRESSURE_PA = 1.0e5


def leak_from_decay(
    volume_m3: float, pressure_lost_pa: float, time_s: float, temperature_k: float = REFERENCE_TEMPERATURE_K
) -> float:
    """Mean mass leak out of a closed volume whose gauge falls, at constant temperature.

    A hot fill that cools looks exactly like a leak: wait until the air has settled.

    Args:
        volume_m3: Volume, over 0 to 10 m3 [m3].
        pressure_lost_pa: Fall of the pressure, -20 to 20 MPa; negative where air leaks in [Pa].
        time_s: Time it took, over 0 to 1e7 s [s].
        temperature_k: Absolute temperature of the air, 200 to 450 K [K].

    Returns:
        Mass leak [kg/s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        40 CFR 1065.644 in kilograms: V dp/(R T dt).

    Example:
        >>> round(leak_from_decay(0.091243, 13789.5, 60.0) * 1e4, 3)
        2.492
    """
    check(
        ("volume", volume_m3, 1e-9, 10.0, "volume"),
        ("pressure lost", pressure_lost_pa, -MOST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure"),
        ("time", time_s, 1e-3, 1e7, "time"),
        ("temperature", temperature_k, LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K, "temperature"),
    )
    return volume_m3 * pressure_lost_pa / (GAS_CONSTANT_J_PER_KG_K * temperature_k * time_s)


def leak_from_states(
    volume_m3: float,
    first_absolute_pa: float,
    first_temperature_k: float,
    last_absolute_pa: float,
    last_temperature_k: float,
    time_s: float,
) -> float:
    """Mean mass leak out of a closed volume whose air also changes temperature.

    Args:
        volume_m3: Volume, over 0 to 10 m3 [m3].
        first_absolute_pa: Pressure at the start, absolute, 0 to 20 MPa [Pa].
        first_temperature_k: Temperature at the start, 200 to 450 K [K].
        last_absolute_pa: Pressure at the end, absolute, 0 to 20 MPa [Pa].
        last_temperature_k: Temperature at the end, 200 to 450 K [K].
        time_s: Time between, over 0 to 1e7 s [s].

    Returns:
        Mass leak; negative where air leaks in [kg/s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        40 CFR 1065.644 in kilograms: (V/R)(p1/T1 - p2/T2)/dt.

    Example:
        >>> round(leak_from_states(1e-3, 801325.0, 320.0, 733e3, 293.15, 60.0) * 1e9)  # mostly cooled
        216
    """
    check(
        ("volume", volume_m3, 1e-9, 10.0, "volume"),
        ("first pressure", first_absolute_pa, 0.0, MOST_PRESSURE_PA, "pressure_absolute"),
        ("last pressure", last_absolute_pa, 0.0, MOST_PRESSURE_PA, "pressure_absolute"),
        ("first temperature", first_temperature_k, LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K, "temperature"),
        ("last temperature", last_temperature_k, LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K, "temperature"),
        ("time", time_s, 1e-3, 1e7, "time"),
    )
    held = first_absolute_pa / first_temperature_k - last_absolute_pa / last_temperature_k
    return volume_m3 / GAS_CONSTANT_J_PER_KG_K * held / time_s


def free_air_from_decay(
    volume_m3: float,
    pressure_lost_pa: float,
    time_s: float,
    temperature_k: float = REFERENCE_TEMPERATURE_K,
    free_pressure_pa: float = FREE_AIR_PRESSURE_PA,
    free_temperature_k: float = REFERENCE_TEMPERATURE_K,
) -> float:
    """Mean leak out of a closed volume whose gauge falls, as a volume of free air.

    Args:
        volume_m3: Volume, over 0 to 10 m3 [m3].
        pressure_lost_pa: Fall of the pressure, -20 to 20 MPa [Pa].
        time_s: Time it took, over 0 to 1e7 s [s].
        temperature_k: Absolute temperature of the air held, 200 to 450 K [K].
        free_pressure_pa: Pressure of the free air it is given in, absolute, 50 to 120 kPa [Pa].
        free_temperature_k: Temperature of the free air it is given in, 200 to 450 K [K].

    Returns:
        Leak in free air [m3/s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        (V/p0)(T0/T) dp/dt, perfect gas.

    Example:
        >>> round(free_air_from_decay(0.091243, 13789.5, 60.0) * 60000, 3)  # litres a minute
        12.582
    """
    check(
        ("pressure of free air", free_pressure_pa, 5e4, 1.2e5, "pressure_absolute"),
        (
            "temperature of free air",
            free_temperature_k,
            LEAST_TEMPERATURE_K,
            MOST_TEMPERATURE_K,
            "temperature",
        ),
    )
    leak = leak_from_decay(volume_m3, pressure_lost_pa, time_s, temperature_k)
    return leak * GAS_CONSTANT_J_PER_KG_K * free_temperature_k / free_pressure_pa


def equivalent_hole(
    leak_kg_per_s: float,
    inlet_absolute_pa: float,
    outlet_absolute_pa: float,
    coefficient: float = 0.61,
    temperature_k: float = REFERENCE_TEMPERATURE_K,
) -> float:
    """Diameter of the round hole that passes a leak.

    Args:
        leak_kg_per_s: Mass leak, 0 to 10 kg/s [kg/s].
        inlet_absolute_pa: Pressure before the hole, absolute, 1 kPa to 20 MPa [Pa].
        outlet_absolute_pa: Pressure behind it, absolute, 0 to 0.999 of the inlet pressure [Pa].
        coefficient: Discharge coefficient Cd, 0.3 to 1 [-].
        temperature_k: Temperature of the air, 200 to 450 K [K].

    Returns:
        Diameter [m].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Cd A p1 sqrt(k/(R T)) (2/(k+1))^3 while choked, isentropic flow below; a sharp edge
        has Cd 0.61 (from memory).

    Example:
        >>> round(equivalent_hole(2.49199e-4, 928695.9, 101325.0) * 1000, 4)
        0.4871
    """
    check(
        ("mass leak in kg/s", leak_kg_per_s, 0.0, 10.0, ""),
        ("outlet pressure", outlet_absolute_pa, 0.0, 0.999 * inlet_absolute_pa, "pressure_absolute"),
        ("discharge coefficient", coefficient, 0.3, 1.0, ""),
    )
    per_area = nozzle_flow(1e-6, inlet_absolute_pa, outlet_absolute_pa, temperature_k) / 1e-6
    return math.sqrt(4.0 * leak_kg_per_s / (math.pi * coefficient * per_area))


def hole_flow(
    diameter_m: float,
    inlet_absolute_pa: float,
    outlet_absolute_pa: float,
    coefficient: float = 0.61,
    temperature_k: float = REFERENCE_TEMPERATURE_K,
) -> float:
    """Mass flow out of a round hole.

    Args:
        diameter_m: Diameter, 0 to 50 mm [m].
        inlet_absolute_pa: Pressure before the hole, absolute, 1 kPa to 20 MPa [Pa].
        outlet_absolute_pa: Pressure behind it, absolute, 0 to the inlet pressure [Pa].
        coefficient: Discharge coefficient Cd, 0.3 to 1 [-].
        temperature_k: Temperature of the air, 200 to 450 K [K].

    Returns:
        Mass flow [kg/s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Isentropic flow of a perfect gas times Cd (textbook); choked up to an outlet of 0.528 of the inlet.

    Example:
        >>> round(hole_flow(4.8711e-4, 928695.9, 101325.0) * 1e4, 4)
        2.492
    """
    check(
        ("diameter", diameter_m, 0.0, 0.05, "length"),
        ("discharge coefficient", coefficient, 0.3, 1.0, ""),
    )
    area = coefficient * math.pi * diameter_m**2 / 4.0
    return nozzle_flow(area, inlet_absolute_pa, outlet_absolute_pa, temperature_k)


def air_cost(free_air_m3_per_s: float, price_usd_per_m3: float, time_s: float) -> float:
    """Money a steady leak costs.

    Args:
        free_air_m3_per_s: Leak in free air, 0 to 10 m3/s [m3/s].
        price_usd_per_m3: Price of compressed air by its free volume, 0 to 10 [USD/m3].
        time_s: How long it leaks, 0 to 1e10 s [s].

    Returns:
        Money [USD].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Product of the three.

    Example:
        >>> round(air_cost(0.001, 0.02, 3600.0), 3)
        0.072
    """
    check(
        ("leak in free air in m3/s", free_air_m3_per_s, 0.0, 10.0, ""),
        ("price of air in USD/m3", price_usd_per_m3, 0.0, 10.0, ""),
        ("time", time_s, 0.0, 1e10, "time"),
    )
    return free_air_m3_per_s * price_usd_per_m3 * time_s
