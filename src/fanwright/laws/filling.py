"""Filling and emptying a fixed volume through one element, and what a long line does to the front of it.

Pressures are absolute. Filling and polytropic emptying keep the air that flows at one temperature; the
exponent n of the volume's change of state lies between 1 (slow, isothermal) and 1.4 (quick, adiabatic), and
both ends bracket the real case. All closed forms hold for a subsonic index m of 0.5.
"""

from __future__ import annotations

import math

from fanwright.laws._range import Asked, check
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


def time_constant(
    volume_m3: float,
    conductance_m3_per_s_pa: float,
    exponent: float = 1.0,
    temperature_k: float = REFERENCE_TEMPERATURE_K,
) -> float:
    """Time constant of a volume behind a choked element.

    Args:
        volume_m3: Volume, over 0 to 10 m3 [m3].
        conductance_m3_per_s_pa: Conductance C, over 0 to 1e-4 [m3/(s Pa)].
        exponent: Exponent n of the change of state, 1 to 1.4 [-].
        temperature_k: Temperature of the air that flows, 200 to 450 K [K].

    Returns:
        V/(n C rho0 R sqrt(T0 T)) [s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Perfect gas and ISO 6358 choked flow.

    Example:
        >>> round(time_constant(0.05, 5e-8), 4)
        10.0284
    """
    check(*_of_volume(volume_m3, conductance_m3_per_s_pa, 0.0, exponent, temperature_k))
    return _time_constant(volume_m3, conductance_m3_per_s_pa, exponent, temperature_k)


def _time_constant(volume: float, conductance: float, exponent: float, temperature: float) -> float:
    flow = REFERENCE_DENSITY_KG_PER_M3 * conductance * math.sqrt(REFERENCE_TEMPERATURE_K * temperature)
    return volume / (exponent * GAS_CONSTANT_J_PER_KG_K * flow)


def fill_time(
    volume_m3: float,
    conductance_m3_per_s_pa: float,
    critical_ratio: float,
    supply_absolute_pa: float,
    from_absolute_pa: float,
    to_absolute_pa: float,
    exponent: float = 1.0,
) -> float:
    """Time to fill a volume from a constant supply at 20 degC, choked and then not.

    Args:
        volume_m3: Volume, over 0 to 10 m3 [m3].
        conductance_m3_per_s_pa: Conductance C, over 0 to 1e-4 [m3/(s Pa)].
        critical_ratio: Critical ratio b, 0 to 0.9 [-].
        supply_absolute_pa: Supply, absolute, 1 kPa to 20 MPa [Pa].
        from_absolute_pa: Pressure at the start, absolute, 0 to the supply [Pa].
        to_absolute_pa: Pressure at the end, absolute, from the start to the supply [Pa].
        exponent: Exponent n of the change of state, 1 to 1.4 [-].

    Returns:
        Time; finite even to the supply itself [s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        ISO 6358 flow into a fixed volume, integrated: linear while choked, then an arc of the ellipse.

    Example:
        >>> round(fill_time(1e-3, 1e-8, 0.3, 701300.0, 101300.0, 701300.0), 6)
        1.258671
    """
    check(
        *_of_volume(volume_m3, conductance_m3_per_s_pa, critical_ratio, exponent, REFERENCE_TEMPERATURE_K),
        ("supply pressure", supply_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("pressure at the start", from_absolute_pa, 0.0, supply_absolute_pa, "pressure_absolute"),
        ("pressure at the end", to_absolute_pa, from_absolute_pa, supply_absolute_pa, "pressure_absolute"),
    )
    tau = _time_constant(volume_m3, conductance_m3_per_s_pa, exponent, REFERENCE_TEMPERATURE_K)
    start, end = from_absolute_pa / supply_absolute_pa, to_absolute_pa / supply_absolute_pa
    return tau * (_fill_clock(end, critical_ratio) - _fill_clock(start, critical_ratio))


def _fill_clock(ratio: float, critical: float) -> float:
    # Time in units of tau, counted from the moment the choked flow would end.
    if ratio <= critical:
        return ratio - critical
    return (1.0 - critical) * math.asin(min(1.0, (ratio - critical) / (1.0 - critical)))


def fill_pressure(
    time_s: float,
    volume_m3: float,
    conductance_m3_per_s_pa: float,
    critical_ratio: float,
    supply_absolute_pa: float,
    from_absolute_pa: float,
    exponent: float = 1.0,
) -> float:
    """Pressure in a volume some time after it began to fill from a constant supply at 20 degC.

    Args:
        time_s: Time since the start, 0 to 1e7 s [s].
        volume_m3: Volume, over 0 to 10 m3 [m3].
        conductance_m3_per_s_pa: Conductance C, over 0 to 1e-4 [m3/(s Pa)].
        critical_ratio: Critical ratio b, 0 to 0.9 [-].
        supply_absolute_pa: Supply, absolute, 1 kPa to 20 MPa [Pa].
        from_absolute_pa: Pressure at the start, absolute, 0 to the supply [Pa].
        exponent: Exponent n of the change of state, 1 to 1.4 [-].

    Returns:
        Pressure, absolute [Pa].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        ISO 6358 flow into a fixed volume: ps {b + (1-b) sin[(t-tc)/(tau (1-b))]} once the flow is not choked.

    Example:
        >>> round(fill_pressure(0.3, 1e-3, 1e-8, 0.3, 701300.0, 101300.0))
        310390
    """
    check(
        ("time", time_s, 0.0, 1e7, "time"),
        *_of_volume(volume_m3, conductance_m3_per_s_pa, critical_ratio, exponent, REFERENCE_TEMPERATURE_K),
        ("supply pressure", supply_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("pressure at the start", from_absolute_pa, 0.0, supply_absolute_pa, "pressure_absolute"),
    )
    tau = _time_constant(volume_m3, conductance_m3_per_s_pa, exponent, REFERENCE_TEMPERATURE_K)
    clock = time_s / tau + _fill_clock(from_absolute_pa / supply_absolute_pa, critical_ratio)
    if clock <= 0.0:
        return supply_absolute_pa * (critical_ratio + clock)
    angle = min(0.5 * math.pi, clock / (1.0 - critical_ratio))
    return supply_absolute_pa * (critical_ratio + (1.0 - critical_ratio) * math.sin(angle))


def vent_time(
    volume_m3: float,
    conductance_m3_per_s_pa: float,
    critical_ratio: float,
    from_absolute_pa: float,
    to_absolute_pa: float,
    ambient_absolute_pa: float = 101325.0,
    exponent: float = 1.0,
) -> float:
    """Time to empty a volume into the atmosphere, choked and then not, air leaving at 20 degC.

    Args:
        volume_m3: Volume, over 0 to 10 m3 [m3].
        conductance_m3_per_s_pa: Conductance C, over 0 to 1e-4 [m3/(s Pa)].
        critical_ratio: Critical ratio b, 0 to 0.9 [-].
        from_absolute_pa: Pressure at the start, absolute, 1 kPa to 20 MPa [Pa].
        to_absolute_pa: Pressure at the end, absolute, from the atmosphere to the start [Pa].
        ambient_absolute_pa: Atmosphere, absolute, 1 kPa to 120 kPa [Pa].
        exponent: Exponent n of the change of state, 1 to 1.4 [-].

    Returns:
        Time; finite even to the atmosphere itself [s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        ISO 6358 flow out of a fixed volume, integrated: exponential while choked, then the integral of
        (1-b)/(b + (1-b) sin x) over the angle of the ellipse.

    Example:
        >>> round(vent_time(0.002, 0.8e-8, 0.3, 701300.0, 574180.0), 2)
        0.5
    """
    check(
        *_of_volume(volume_m3, conductance_m3_per_s_pa, critical_ratio, exponent, REFERENCE_TEMPERATURE_K),
        ("atmosphere", ambient_absolute_pa, LEAST_PRESSURE_PA, 1.2e5, "pressure_absolute"),
        (
            "pressure at the start",
            from_absolute_pa,
            ambient_absolute_pa,
            MOST_PRESSURE_PA,
            "pressure_absolute",
        ),
        ("pressure at the end", to_absolute_pa, ambient_absolute_pa, from_absolute_pa, "pressure_absolute"),
    )
    tau = _time_constant(volume_m3, conductance_m3_per_s_pa, exponent, REFERENCE_TEMPERATURE_K)
    first, last = ambient_absolute_pa / from_absolute_pa, ambient_absolute_pa / to_absolute_pa
    if last <= critical_ratio:
        return tau * math.log(last / first)
    choked = math.log(critical_ratio / first) if first < critical_ratio else 0.0
    begin = _vent_angle(max(first, critical_ratio), critical_ratio)
    end = _vent_angle(last, critical_ratio)
    return tau * (choked + _vent_clock(end, critical_ratio) - _vent_clock(begin, critical_ratio))


def _vent_angle(ratio: float, critical: float) -> float:
    return math.asin(min(1.0, (ratio - critical) / (1.0 - critical)))


def _vent_clock(angle: float, critical: float) -> float:
    # Antiderivative of (1-b)/(b + (1-b) sin x), with half-angle tangent.
    half, rest = math.tan(0.5 * angle), 1.0 - critical
    spread = rest**2 - critical**2
    if abs(spread) < 1e-9:
        return math.tan(0.5 * angle - 0.25 * math.pi)
    root = math.sqrt(abs(spread))
    if spread > 0.0:
        near = half + critical / (rest + root)
        return rest / root * math.log(near / (critical * half + rest + root))
    return 2.0 * rest / root * math.atan((critical * half + rest) / root)


def adiabatic_vent_time(
    volume_m3: float,
    conductance_m3_per_s_pa: float,
    from_absolute_pa: float,
    to_absolute_pa: float,
    from_temperature_k: float = REFERENCE_TEMPERATURE_K,
) -> float:
    """Time to empty a volume through a choked element while the air left behind cools.

    Args:
        volume_m3: Volume, over 0 to 10 m3 [m3].
        conductance_m3_per_s_pa: Conductance C, over 0 to 1e-4 [m3/(s Pa)].
        from_absolute_pa: Pressure at the start, absolute, 1 kPa to 20 MPa [Pa].
        to_absolute_pa: Pressure at the end, absolute, 1 kPa to the start; the flow must stay choked [Pa].
        from_temperature_k: Temperature at the start, 200 to 450 K [K].

    Returns:
        Time [s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Adiabatic blow-down of a perfect gas: (2 tau1/(k-1)) [(p1/p)^((k-1)/(2k)) - 1].

    Example:
        >>> round(adiabatic_vent_time(0.05, 5e-8, 801300.0, 337667.0), 4)
        6.5885
    """
    check(
        *_of_volume(volume_m3, conductance_m3_per_s_pa, 0.0, 1.0, from_temperature_k),
        ("pressure at the start", from_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("pressure at the end", to_absolute_pa, LEAST_PRESSURE_PA, from_absolute_pa, "pressure_absolute"),
    )
    tau = _time_constant(volume_m3, conductance_m3_per_s_pa, 1.0, from_temperature_k)
    power = (HEAT_RATIO - 1.0) / (2.0 * HEAT_RATIO)
    return 2.0 * tau / (HEAT_RATIO - 1.0) * (float((from_absolute_pa / to_absolute_pa) ** power) - 1.0)


def adiabatic_vent_temperature(
    from_absolute_pa: float, to_absolute_pa: float, from_temperature_k: float = REFERENCE_TEMPERATURE_K
) -> float:
    """Temperature of the air left in a volume that emptied too quickly to take up heat.

    Args:
        from_absolute_pa: Pressure at the start, absolute, 1 kPa to 20 MPa [Pa].
        to_absolute_pa: Pressure at the end, absolute, 1 kPa to the start [Pa].
        from_temperature_k: Temperature at the start, 200 to 450 K [K].

    Returns:
        Temperature [K].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Isentropic expansion of a perfect gas (textbook).

    Example:
        >>> round(adiabatic_vent_temperature(801300.0, 337667.0), 2)
        229.01
    """
    check(
        ("pressure at the start", from_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("pressure at the end", to_absolute_pa, LEAST_PRESSURE_PA, from_absolute_pa, "pressure_absolute"),
        ("temperature", from_temperature_k, LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K, "temperature"),
    )
    return from_temperature_k * float((to_absolute_pa / from_absolute_pa) ** (1.0 - 1.0 / HEAT_RATIO))


def hot_fill_temperature(
    from_absolute_pa: float, to_absolute_pa: float, temperature_k: float = REFERENCE_TEMPERATURE_K
) -> float:
    """Temperature of the air in a volume that filled too quickly to give off heat.

    Args:
        from_absolute_pa: Pressure at the start, absolute, 1 kPa to 20 MPa [Pa].
        to_absolute_pa: Pressure at the end, absolute, from the start to 20 MPa [Pa].
        temperature_k: Temperature of the supply and at the start, 200 to 450 K [K].

    Returns:
        Temperature; once cool, the absolute pressure has sagged by the ratio of the temperatures [K].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Energy balance of adiabatic filling: T0 p2/(p1 + (p2-p1)/k) (textbook).

    Example:
        >>> round(hot_fill_temperature(101300.0, 701300.0), 2)
        387.99
    """
    check(
        ("pressure at the start", from_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("pressure at the end", to_absolute_pa, from_absolute_pa, MOST_PRESSURE_PA, "pressure_absolute"),
        ("temperature", temperature_k, LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K, "temperature"),
    )
    held = from_absolute_pa + (to_absolute_pa - from_absolute_pa) / HEAT_RATIO
    return temperature_k * to_absolute_pa / held


def _of_volume(
    volume: float, conductance: float, critical: float, exponent: float, temperature: float
) -> tuple[Asked, ...]:
    return (
        ("volume", volume, 1e-9, 10.0, "volume"),
        ("conductance", conductance, 1e-15, MOST_CONDUCTANCE, "conductance"),
        ("critical ratio", critical, 0.0, 0.9, ""),
        ("exponent of the change of state", exponent, 1.0, 1.4, ""),
        ("temperature", temperature, LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K, "temperature"),
    )
