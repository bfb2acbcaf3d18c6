"""The atmosphere round the truck, gauge and absolute pressure, and the water that air brings along."""

from __future__ import annotations

import math

from fanwright.laws._range import check

SEA_LEVEL_PA = 101325.0
SEA_LEVEL_TEMPERATURE_K = 288.15
LAPSE_K_PER_M = 0.0065
EARTH_RADIUS_M = 6356766.0
PRESSURE_POWER = 9.80665 * 0.0289644 / (8.31432 * LAPSE_K_PER_M)
FREEZING_K = 273.15
WATER_TO_AIR_MASS = 0.621945

_WATER = (611.2, 17.62, 243.12)
_ICE = (611.2, 22.46, 272.62)


def ambient_pressure(altitude_m: float) -> float:
    """Pressure of the standard atmosphere.

    Args:
        altitude_m: Height above sea level, -500 to 11000 m [m].

    Returns:
        Pressure, absolute [Pa].

    Raises:
        OutOfRange: The height lies outside its range.

    Source:
        U.S. Standard Atmosphere 1976, equation 33a with geopotential height by equation 18.

    Example:
        >>> round(ambient_pressure(1500.0), 1)
        84559.7
    """
    return SEA_LEVEL_PA * float((ambient_temperature(altitude_m) / SEA_LEVEL_TEMPERATURE_K) ** PRESSURE_POWER)


def ambient_temperature(altitude_m: float) -> float:
    """Temperature of the standard atmosphere.

    Args:
        altitude_m: Height above sea level, -500 to 11000 m [m].

    Returns:
        Temperature [K].

    Raises:
        OutOfRange: The height lies outside its range.

    Source:
        U.S. Standard Atmosphere 1976, equation 23 with geopotential height by equation 18.

    Example:
        >>> round(ambient_temperature(3000.0), 3)
        268.659
    """
    check(("height above sea level", altitude_m, -500.0, 11000.0, "length"))
    geopotential = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)
    return SEA_LEVEL_TEMPERATURE_K - LAPSE_K_PER_M * geopotential


def absolute_pressure(gauge_pa: float, altitude_m: float = 0.0) -> float:
    """Absolute pressure of what a gauge shows.

    Args:
        gauge_pa: Pressure, gauge, from the vacuum to 20 MPa [Pa].
        altitude_m: Height above sea level, -500 to 11000 m [m].

    Returns:
        Pressure, absolute [Pa].

    Raises:
        OutOfRange: An argument lies outside its range; no gauge falls below the vacuum.

    Source:
        A gauge shows the difference to the air round it; standard atmosphere of :func:`ambient_pressure`.

    Example:
        >>> round(absolute_pressure(689475.7) / 1000, 3)
        790.801
    """
    ambient = ambient_pressure(altitude_m)
    check(("gauge pressure", gauge_pa, -ambient, 2e7, "pressure"))
    return gauge_pa + ambient


def gauge_pressure(absolute_pa: float, altitude_m: float = 0.0) -> float:
    """What a gauge shows of an absolute pressure.

    Args:
        absolute_pa: Pressure, absolute, 0 to 20 MPa [Pa].
        altitude_m: Height above sea level, -500 to 11000 m [m].

    Returns:
        Pressure, gauge [Pa].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Inverse of :func:`absolute_pressure`.

    Example:
        >>> gauge_pressure(101325.0)
        0.0
    """
    check(("absolute pressure", absolute_pa, 0.0, 2e7, "pressure_absolute"))
    return absolute_pa - ambient_pressure(altitude_m)


def saturation_pressure(temperature_k: float) -> float:
    """Pressure of saturated water vapour: over ice below 0 degC, over water above.

    Args:
        temperature_k: Absolute temperature, 190 to 380 K [K].

    Returns:
        Vapour pressure, absolute [Pa].

    Raises:
        OutOfRange: The temperature lies outside its range.

    Source:
        Magnus form, coefficients from memory; within 0.3 K of an open property library in the range.

    Example:
        >>> round(saturation_pressure(273.15), 1)
        611.2
    """
    check(("temperature", temperature_k, 190.0, 380.0, "temperature"))
    celsius = temperature_k - FREEZING_K
    scale, slope, offset = _WATER if celsius >= 0.0 else _ICE
    return scale * math.exp(slope * celsius / (offset + celsius))


def dew_point(vapour_pressure_absolute_pa: float) -> float:
    """Temperature at which air of a known vapour pressure sheds water, or frost below 0 degC.

    Args:
        vapour_pressure_absolute_pa: Vapour pressure, absolute, 0.05 Pa to 120 kPa [Pa].

    Returns:
        Dew point, or frost point below 0 degC [K].

    Raises:
        OutOfRange: The vapour pressure lies outside its range.

    Source:
        Inverse of :func:`saturation_pressure`.

    Example:
        >>> round(dew_point(611.2), 2)
        273.15
    """
    check(("vapour pressure", vapour_pressure_absolute_pa, 0.05, 1.2e5, "pressure_absolute"))
    scale, slope, offset = _WATER if vapour_pressure_absolute_pa >= _WATER[0] else _ICE
    height = math.log(vapour_pressure_absolute_pa / scale)
    return FREEZING_K + offset * height / (slope - height)


def dew_point_at(dew_point_k: float, from_absolute_pa: float, to_absolute_pa: float) -> float:
    """Dew point of the same air at another pressure, such as line air let out to the atmosphere.

    Args:
        dew_point_k: Dew point at the first pressure, 190 to 380 K [K].
        from_absolute_pa: First pressure, absolute, 10 kPa to 20 MPa [Pa].
        to_absolute_pa: Second pressure, absolute, 10 kPa to 20 MPa [Pa].

    Returns:
        Dew point at the second pressure [K].

    Raises:
        OutOfRange: An argument, or the vapour pressure it leads to, lies outside its range.

    Source:
        Dalton: the vapour's share of the pressure stays; perfect gas.

    Example:
        >>> round(dew_point_at(276.15, 801325.0, 101325.0) - 273.15, 2)
        -20.78
    """
    check(
        ("first pressure", from_absolute_pa, 1e4, 2e7, "pressure_absolute"),
        ("second pressure", to_absolute_pa, 1e4, 2e7, "pressure_absolute"),
    )
    return dew_point(saturation_pressure(dew_point_k) * to_absolute_pa / from_absolute_pa)


def line_dew_point(
    intake_temperature_k: float,
    relative_humidity: float,
    line_absolute_pa: float,
    ambient_absolute_pa: float = SEA_LEVEL_PA,
) -> float:
    """Dew point in the line of air that a compressor takes in and nothing dries.

    Args:
        intake_temperature_k: Temperature of the air taken in, 230 to 330 K [K].
        relative_humidity: Its relative humidity, 0.001 to 1 [-].
        line_absolute_pa: Pressure in the line, absolute, 10 kPa to 20 MPa [Pa].
        ambient_absolute_pa: Pressure of the air taken in, absolute, 10 kPa to 20 MPa [Pa].

    Returns:
        Dew point in the line: it sheds water wherever the line is colder [K].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Dalton: the vapour's share of the pressure stays; perfect gas.

    Example:
        >>> round(line_dew_point(303.15, 0.70, 801325.0) - 273.15, 2)
        63.45
    """
    check(
        ("temperature of the intake air", intake_temperature_k, 230.0, 330.0, "temperature"),
        ("relative humidity", relative_humidity, 0.001, 1.0, "share"),
        ("pressure in the line", line_absolute_pa, 1e4, 2e7, "pressure_absolute"),
        ("pressure of the intake air", ambient_absolute_pa, 1e4, 2e7, "pressure_absolute"),
    )
    vapour = relative_humidity * saturation_pressure(intake_temperature_k)
    return dew_point(vapour * line_absolute_pa / ambient_absolute_pa)


def humidity_ratio(dew_point_k: float, pressure_absolute_pa: float) -> float:
    """Water that a kilogram of dry air carries.

    Args:
        dew_point_k: Dew point at that pressure, 190 to 350 K [K].
        pressure_absolute_pa: Pressure, absolute, 50 kPa to 2 MPa [Pa].

    Returns:
        Mass of water by mass of dry air, as perfect gases; compressed air really holds about 3 % more at
        8 bar [kg/kg].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        Dalton, molar masses 18.01528 and 28.9647.

    Example:
        >>> round(humidity_ratio(276.15, 801325.0) * 1000, 2)
        0.59
    """
    check(
        ("dew point", dew_point_k, 190.0, 350.0, "temperature"),
        ("pressure", pressure_absolute_pa, 5e4, 2e6, "pressure_absolute"),
    )
    vapour = saturation_pressure(dew_point_k)
    return WATER_TO_AIR_MASS * vapour / (pressure_absolute_pa - vapour)
