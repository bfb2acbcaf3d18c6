"""The copper coil of a valve: resistance, current and pull-in volts at its temperature.

A coil pulls in at a current, not at a voltage: a hot coil has more ohms and needs more volts for it.
"""

from __future__ import annotations

from fanwright.laws._range import Asked, check

REFERENCE_K = 293.15
COPPER_PER_K = 0.00393
LEAST_K, MOST_K = 213.15, 473.15


def resistance_ohm(resistance_20_ohm: float, temperature_k: float) -> float:
    """Find the resistance of a copper coil at a temperature.

    Args:
        resistance_20_ohm: Its resistance at 20 °C, 0.01 to 10 000 ohm [ohm].
        temperature_k: Temperature of the winding, absolute, 213.15 to 473.15 K (-60 to 200 °C) [K].

    Returns:
        Its resistance, R20 (1 + 0.00393 (T - 293.15)) [ohm].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        IEC 60028:1925, standard annealed copper: 0.00393 in 1 K at 20 °C (figure from memory, agrees with the
        resistivities of copper printed in the CRC Handbook to 0.7 % of the resistance up to 100 °C).

    Example:
        >>> round(resistance_ohm(14.0, 373.15), 2)
        18.4
    """
    check(_ohms("resistance at 20 °C", resistance_20_ohm), _kelvins("coil temperature", temperature_k))
    return resistance_20_ohm * _copper(temperature_k)


def resistance_20_ohm(resistance_ohm: float, temperature_k: float) -> float:
    """Find what a copper coil measured at a temperature would read at 20 °C.

    Args:
        resistance_ohm: Its resistance as measured, 0.01 to 10 000 ohm [ohm].
        temperature_k: Temperature of the winding then, absolute, 213.15 to 473.15 K (-60 to 200 °C) [K].

    Returns:
        Its resistance at 20 °C [ohm].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        The law of :func:`resistance_ohm`, solved for the resistance at 20 °C.

    Example:
        >>> round(resistance_20_ohm(18.4, 373.15), 2)
        14.0
    """
    check(_ohms("resistance", resistance_ohm), _kelvins("coil temperature", temperature_k))
    return resistance_ohm / _copper(temperature_k)


def current_a(feed_v: float, resistance_ohm: float) -> float:
    """Find the steady current of a coil whose resistance is known at its present temperature.

    Args:
        feed_v: Volts across the coil, 0 to 60 V [V].
        resistance_ohm: Its resistance at the same temperature, 0.01 to 10 000 ohm [ohm].

    Returns:
        The current after the first tenth of a second, U / R [A].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Ohm's law.

    Example:
        >>> round(current_a(12.0, 14.0), 3)
        0.857
    """
    check(_volts("volts at the coil", feed_v), _ohms("resistance", resistance_ohm))
    return feed_v / resistance_ohm


def pull_in_v(cold_pull_in_v: float, cold_k: float, hot_k: float) -> float:
    """Find the pull-in volts of a coil at one temperature from those found at another.

    Args:
        cold_pull_in_v: Lowest volts that moved the valve, 0 to 60 V [V].
        cold_k: Temperature of the winding then, absolute, 213.15 to 473.15 K (-60 to 200 °C) [K].
        hot_k: Temperature of the winding asked about, absolute, same range [K].

    Returns:
        Volts that give the same current, U R(hot) / R(cold) [V].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Same current, same pull (Ohm's law and :func:`resistance_ohm`); spring and friction of the valve are
        taken as unchanged (assumption).

    Example:
        >>> round(pull_in_v(8.4, 293.15, 373.15), 2)
        11.04
    """
    check(_volts("pull-in volts", cold_pull_in_v), *_cold_and_hot(cold_k, hot_k))
    return cold_pull_in_v * _copper(hot_k) / _copper(cold_k)


def most_cold_pull_in_v(feed_v: float, cold_k: float, hot_k: float) -> float:
    """Find the highest cold pull-in volts with which a hot coil still moves the valve.

    Args:
        feed_v: Volts at the plug with the coil drawing current, 0 to 60 V [V].
        cold_k: Temperature of the winding in the cold test, absolute, 213.15 to 473.15 K [K].
        hot_k: Temperature of the winding at work, absolute, same range [K].

    Returns:
        The highest cold pull-in volts, U R(cold) / R(hot) [V].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        The law of :func:`pull_in_v`, solved for the cold test.

    Example:
        >>> round(most_cold_pull_in_v(11.3, 293.15, 373.15) / 12.0, 3)
        0.716
    """
    check(_volts("volts at the plug", feed_v), *_cold_and_hot(cold_k, hot_k))
    return feed_v * _copper(cold_k) / _copper(hot_k)


def _copper(temperature: float) -> float:
    return 1.0 + COPPER_PER_K * (temperature - REFERENCE_K)


def _kelvins(name: str, temperature_k: float) -> Asked:
    return (name, temperature_k, LEAST_K, MOST_K, "temperature")


def _cold_and_hot(cold_k: float, hot_k: float) -> tuple[Asked, Asked]:
    return _kelvins("cold coil temperature", cold_k), _kelvins("hot coil temperature", hot_k)


def _ohms(name: str, ohms: float) -> Asked:
    return (name, ohms, 0.01, 10_000.0, "resistance")


def _volts(name: str, volts: float) -> Asked:
    return (name, volts, 0.0, 60.0, "voltage")
