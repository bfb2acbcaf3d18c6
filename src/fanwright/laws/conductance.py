"""What a tube, a hole or a valve figure comes to as a sonic conductance.

Pressures are absolute. A conductance C in m3/(s Pa) is 1e-8 times the figure printed in dm3/(s bar).
"""

from __future__ import annotations

import math

from fanwright.laws._range import check
from fanwright.laws.air import (
    GAS_CONSTANT_J_PER_KG_K,
    HEAT_RATIO,
    LEAST_PRESSURE_PA,
    LEAST_TEMPERATURE_K,
    MOST_CONDUCTANCE,
    MOST_PRESSURE_PA,
    MOST_TEMPERATURE_K,
    REFERENCE_DENSITY_KG_PER_M3,
    REFERENCE_TEMPERATURE_K,
    series_by_squares,
)

ENTRY_CONDUCTANCE_M_PER_S_PA = 1.6e-3
"""Conductance of a tube's entry by its bore area: 0.16 dm3/(s bar) a mm2 (open teaching text)."""
FRICTION_FACTOR = 0.02
CRITICAL_RATIO_OF_AIR = (2.0 / (HEAT_RATIO + 1.0)) ** (HEAT_RATIO / (HEAT_RATIO - 1.0))
FREE_AIR_PER_NORMAL_AIR = 1.01325 * 293.15 / 273.15
"""Volume at 20 degC and 100 kPa of air that fills 1 at 0 degC and 101.325 kPa."""


def nozzle_constant(heat_ratio: float = HEAT_RATIO, gas_constant_j_per_kg_k: float = 287.0) -> float:
    """Choked mass flow of a nozzle times root of temperature, over area and pressure.

    Args:
        heat_ratio: Ratio of specific heats k, 1.05 to 1.7 [-].
        gas_constant_j_per_kg_k: Gas constant R, 100 to 5000 [J/(kg K)].

    Returns:
        sqrt(k/R) (2/(k+1))^((k+1)/(2(k-1))) [s K^0.5/m].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Isentropic choked flow of a perfect gas (textbook).

    Example:
        >>> round(nozzle_constant(), 7)
        0.0404184
    """
    check(
        ("ratio of specific heats", heat_ratio, 1.05, 1.7, ""),
        ("gas constant in J/(kg K)", gas_constant_j_per_kg_k, 100.0, 5000.0, ""),
    )
    power = (heat_ratio + 1.0) / (2.0 * (heat_ratio - 1.0))
    return math.sqrt(heat_ratio / gas_constant_j_per_kg_k) * float((2.0 / (heat_ratio + 1.0)) ** power)


def from_effective_area(area_m2: float) -> float:
    """Conductance of an effective area (opening times discharge coefficient).

    Args:
        area_m2: Effective area, 0 to 0.05 m2 [m2].

    Returns:
        Conductance C [m3/(s Pa)].

    Raises:
        OutOfRange: The area lies outside its range.

    Source:
        Isentropic choked flow of air, k = 1.4, set equal to ISO 6358 at 20 degC: 0.1992 dm3/(s bar) a mm2.

    Example:
        >>> round(from_effective_area(1e-6) * 1e8, 4)
        0.1992
    """
    check(("effective area", area_m2, 0.0, 0.05, "area"))
    return area_m2 * _conductance_per_area()


def to_effective_area(conductance_m3_per_s_pa: float) -> float:
    """Effective area (opening times discharge coefficient) of a conductance.

    Args:
        conductance_m3_per_s_pa: Conductance C, 0 to 1e-4 [m3/(s Pa)].

    Returns:
        Effective area [m2].

    Raises:
        OutOfRange: The conductance lies outside its range.

    Source:
        Inverse of :func:`from_effective_area`.

    Example:
        >>> round(to_effective_area(1e-8) * 1e6, 2)
        5.02
    """
    check(("conductance", conductance_m3_per_s_pa, 0.0, MOST_CONDUCTANCE, "conductance"))
    return conductance_m3_per_s_pa / _conductance_per_area()


def _conductance_per_area() -> float:
    root = math.sqrt(REFERENCE_TEMPERATURE_K)
    return nozzle_constant(HEAT_RATIO, GAS_CONSTANT_J_PER_KG_K) / (REFERENCE_DENSITY_KG_PER_M3 * root)


def tube_conductance(
    length_m: float, bore_m: float, friction_factor: float = FRICTION_FACTOR, with_entry: bool = True
) -> float:
    """Conductance of a straight tube, to be used with a critical ratio of 0.

    Args:
        length_m: Length, 0.05 to 100 m [m].
        bore_m: Inside diameter, 1 to 50 mm [m].
        friction_factor: Friction factor f, 0.005 to 0.1 [-].
        with_entry: Whether the loss at its entry counts, by the rule of squares [-].

    Returns:
        Conductance C [m3/(s Pa)].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        C = (pi d^2/4) / (rho0 sqrt(R T f L/d)), b = 0: isothermal pipe flow without its acceleration term;
        entry 0.16 dm3/(s bar) a mm2 (open teaching text on sonic conductance).

    Example:
        >>> round(tube_conductance(3.0, 0.004, with_entry=False) * 1e8, 4)
        0.9439
    """
    check(
        ("tube length", length_m, 0.05, 100.0, "length"),
        ("tube bore", bore_m, 0.001, 0.05, "length"),
        ("friction factor", friction_factor, 0.005, 0.1, ""),
    )
    area = math.pi * bore_m**2 / 4.0
    loss = GAS_CONSTANT_J_PER_KG_K * REFERENCE_TEMPERATURE_K * friction_factor * length_m / bore_m
    friction = area / (REFERENCE_DENSITY_KG_PER_M3 * math.sqrt(loss))
    return series_by_squares([friction, ENTRY_CONDUCTANCE_M_PER_S_PA * area]) if with_entry else friction


def kv_from_cv(cv_us_gal_per_min: float) -> float:
    """Metric flow coefficient Kv of a flow coefficient Cv.

    Args:
        cv_us_gal_per_min: Cv, water at a drop of 1 psi, 0 to 1e5 [gal/min].

    Returns:
        Kv, water at a drop of 1 bar [m3/h].

    Raises:
        OutOfRange: Cv lies outside its range.

    Source:
        Units only: 3.785411784 dm3 a gallon, 6894.757 Pa a psi.

    Example:
        >>> round(kv_from_cv(1.0), 4)
        0.865
    """
    check(("flow coefficient Cv", cv_us_gal_per_min, 0.0, 1e5, ""))
    return cv_us_gal_per_min * 3.785411784e-3 * 60.0 * math.sqrt(1e5 / 6894.757293168)


def from_kv(kv_m3_per_h: float, terminal_drop_ratio: float = 0.7) -> float:
    """Conductance of a valve known by Kv, from the gas equation at choked flow.

    Args:
        kv_m3_per_h: Kv, water at a drop of 1 bar, 0 to 1000 [m3/h].
        terminal_drop_ratio: Pressure drop ratio xT at which its gas flow chokes, 0.3 to 0.9 [-].

    Returns:
        Conductance C; with xT from 0.6 to 0.8 it is 4.2 to 4.8 dm3/(s bar) for each unit of Kv [m3/(s Pa)].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        IEC 60534-2-1 gas equation, N9 = 24.6 at 0 degC, from memory; checked against an open library.

    Example:
        >>> round(from_kv(1.0, 0.70) * 1e8, 2)
        4.5
    """
    check(
        ("flow coefficient Kv", kv_m3_per_h, 0.0, 1000.0, ""),
        ("terminal pressure drop ratio", terminal_drop_ratio, 0.3, 0.9, ""),
    )
    root = math.sqrt(terminal_drop_ratio / (_MOLAR_MASS * REFERENCE_TEMPERATURE_K))
    normal_m3_per_h_bar = 2460.0 * kv_m3_per_h * (2.0 / 3.0) * root
    return normal_m3_per_h_bar * FREE_AIR_PER_NORMAL_AIR / 3600.0 / 1e5


_MOLAR_MASS = 28.9647


def nozzle_flow(
    area_m2: float,
    inlet_absolute_pa: float,
    outlet_absolute_pa: float,
    temperature_k: float = REFERENCE_TEMPERATURE_K,
) -> float:
    """Mass flow of air through an ideal nozzle or hole, choked or not.

    Args:
        area_m2: Effective area (opening times discharge coefficient), 0 to 0.05 m2 [m2].
        inlet_absolute_pa: Pressure before it, absolute, 1 kPa to 20 MPa [Pa].
        outlet_absolute_pa: Pressure behind it, absolute, 0 to the inlet pressure [Pa].
        temperature_k: Stagnation temperature of the air that enters, 200 to 450 K [K].

    Returns:
        Mass flow [kg/s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Isentropic flow of a perfect gas, k = 1.4 (textbook; 40 CFR 1065.640 uses the same form).

    Example:
        >>> round(nozzle_flow(1e-4, 8e5, 5.6e5), 6)
        0.176036
    """
    check(
        ("effective area", area_m2, 0.0, 0.05, "area"),
        ("inlet pressure", inlet_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("outlet pressure", outlet_absolute_pa, 0.0, inlet_absolute_pa, "pressure_absolute"),
        ("temperature", temperature_k, LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K, "temperature"),
    )
    ratio = max(outlet_absolute_pa / inlet_absolute_pa, CRITICAL_RATIO_OF_AIR)
    k = HEAT_RATIO
    speed = 2.0 * k / (k - 1.0) * (ratio ** (2.0 / k) - ratio ** ((k + 1.0) / k))
    root = math.sqrt(speed / (GAS_CONSTANT_J_PER_KG_K * temperature_k))
    return area_m2 * inlet_absolute_pa * root
