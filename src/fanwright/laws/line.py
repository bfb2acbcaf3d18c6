"""What a long air line does to a change of flow at its inlet: it comes later and weaker.

Pressures are absolute. The line also holds air and resists: add its volume to what it feeds, and put its
conductance in series.
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
)

VISCOSITY_OF_AIR_PA_S = 1.82e-5
LAMINAR_TO = 2300.0


def _line_loss(flow: float, rough: float, smooth: float, pressure_sum: float) -> float:
    return flow / pressure_sum * math.sqrt(flow * flow * rough * rough + smooth * smooth)


def line_loss(
    flow_kg_per_s: float,
    length_m: float,
    bore_m: float,
    conductance_m3_per_s_pa: float,
    mean_absolute_pa: float,
    temperature_k: float = REFERENCE_TEMPERATURE_K,
) -> float:
    """Pressure a line loses to friction.

    Args:
        flow_kg_per_s: Mass flow, -1 to 1 kg/s; the loss has its sign [kg/s].
        length_m: Length, 0.01 to 100 m [m].
        bore_m: Inside diameter, 1 to 50 mm [m].
        conductance_m3_per_s_pa: Its conductance C at a critical ratio of 0, over 0 to 1e-4 [m3/(s Pa)].
        mean_absolute_pa: Mean of the pressures at its ends, absolute, 1 kPa to 20 MPa [Pa].
        temperature_k: Absolute temperature, 200 to 450 K [K].

    Returns:
        Root of the sum of squares of the loss of ISO 6358 flow with b = 0 and of laminar flow: the first
        rules a running flow, the second lets what is left of it die away [Pa].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        (w/(rho0 C))^2 = p1^2 - p2^2 from ISO 6358; 128 mu L w/(pi d^4 rho), Hagen and Poiseuille (textbook);
        joining them by squares is our own.

    Example:
        >>> round(line_loss(0.005, 2.5, 0.00635, 4e-8, 7e5))
        7977
    """
    check(
        ("mass flow in kg/s", flow_kg_per_s, -1.0, 1.0, ""),
        ("line length", length_m, 0.01, 100.0, "length"),
        ("line bore", bore_m, 0.001, 0.05, "length"),
        ("conductance", conductance_m3_per_s_pa, 1e-15, MOST_CONDUCTANCE, "conductance"),
        ("mean pressure", mean_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("temperature", temperature_k, LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K, "temperature"),
    )
    sonic = REFERENCE_DENSITY_KG_PER_M3 * conductance_m3_per_s_pa
    rough = temperature_k / (REFERENCE_TEMPERATURE_K * sonic**2)
    return _line_loss(flow_kg_per_s, rough, _smooth(length_m, bore_m, temperature_k), 2.0 * mean_absolute_pa)


def _smooth(length: float, bore: float, temperature: float) -> float:
    gas = GAS_CONSTANT_J_PER_KG_K * temperature
    return 256.0 * VISCOSITY_OF_AIR_PA_S * length * gas / (math.pi * bore**4)


def sound_speed(temperature_k: float = REFERENCE_TEMPERATURE_K) -> float:
    """Speed of sound in air.

    Args:
        temperature_k: Absolute temperature, 200 to 450 K [K].

    Returns:
        sqrt(k R T) [m/s].

    Raises:
        OutOfRange: The temperature lies outside its range.

    Source:
        Perfect gas, k = 1.4 (textbook).

    Example:
        >>> round(sound_speed(), 3)
        343.234
    """
    check(("temperature", temperature_k, LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K, "temperature"))
    return math.sqrt(HEAT_RATIO * GAS_CONSTANT_J_PER_KG_K * temperature_k)


def line_delay(length_m: float, temperature_k: float = REFERENCE_TEMPERATURE_K) -> float:
    """Time a change of pressure needs to run down a line.

    Args:
        length_m: Length, 0 to 100 m [m].
        temperature_k: Absolute temperature, 200 to 450 K [K].

    Returns:
        Length over speed of sound [s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Plane wave in a perfect gas (textbook).

    Example:
        >>> round(line_delay(3.0) * 1000, 4)
        8.7404
    """
    check(("line length", length_m, 0.0, 100.0, "length"))
    return length_m / sound_speed(temperature_k)


def line_attenuation(
    length_m: float,
    bore_m: float,
    pressure_absolute_pa: float,
    reynolds: float,
    temperature_k: float = REFERENCE_TEMPERATURE_K,
) -> float:
    """Share of a change of flow at the inlet that arrives at the end of a line.

    Args:
        length_m: Length, 0 to 100 m [m].
        bore_m: Inside diameter, 1 to 50 mm [m].
        pressure_absolute_pa: Pressure at its end, absolute, 1 kPa to 20 MPa [Pa].
        reynolds: Reynolds number of the flow, 0 to 1e6; laminar up to 2300 [-].
        temperature_k: Absolute temperature, 200 to 450 K [K].

    Returns:
        exp[-(Rt R T/(2 p)) L/a], Rt = 32 mu/D^2 laminar, 0.158 (mu/D^2) Re^0.75 turbulent [-].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Richer and Hurmuzlu 2000, part I (abstract seen; formula from memory).

    Example:
        >>> round(line_attenuation(3.0, 0.006, 801300.0, 2e4), 6)
        0.940209
    """
    check(
        ("line length", length_m, 0.0, 100.0, "length"),
        ("line bore", bore_m, 0.001, 0.05, "length"),
        ("pressure", pressure_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("Reynolds number", reynolds, 0.0, 1e6, ""),
    )
    factor = 32.0 if reynolds <= LAMINAR_TO else 0.158 * reynolds**0.75
    resistance = factor * VISCOSITY_OF_AIR_PA_S / bore_m**2
    stretch = resistance * GAS_CONSTANT_J_PER_KG_K * temperature_k / (2.0 * pressure_absolute_pa)
    return math.exp(-stretch * length_m / sound_speed(temperature_k))
