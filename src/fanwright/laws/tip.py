"""Speeds of a fan's blades: at their tips, past a fixed point, and at their root under their own pull."""

from __future__ import annotations

import math

from fanwright.laws._range import check


def tip_speed_m_s(diameter_m: float, speed_rad_s: float) -> float:
    """Find the speed of the blade tips.

    Args:
        diameter_m: Across the blade tips, 0.05 to 5 m [m].
        speed_rad_s: Speed of the fan, 0 to 1 000 rad/s [rad/s].

    Returns:
        Radius times speed [m/s].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Definition of circumferential speed.

    Example:
        >>> round(tip_speed_m_s(0.8128, 2400 * math.pi / 30), 4)
        102.1395
    """
    check(
        ("diameter", diameter_m, 0.05, 5.0, "length"),
        ("speed", speed_rad_s, 0.0, 1_000.0, "rotation"),
    )
    return diameter_m / 2.0 * speed_rad_s


def blade_pass_hz(blades: int, speed_rad_s: float) -> float:
    """Find how often a blade passes a fixed point.

    Args:
        blades: Number of blades, 1 to 60 [-].
        speed_rad_s: Speed of the fan, 0 to 1 000 rad/s [rad/s].

    Returns:
        Blades times turns a second [Hz].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Definition of the blade-pass frequency.

    Example:
        >>> round(blade_pass_hz(9, 2400 * math.pi / 30), 9)
        360.0
    """
    check(("blades", float(blades), 1.0, 60.0, ""), ("speed", speed_rad_s, 0.0, 1_000.0, "rotation"))
    return blades * speed_rad_s / (2.0 * math.pi)


def firing_hz(cylinders: int, speed_rad_s: float) -> float:
    """Find how often a four-stroke engine fires.

    Args:
        cylinders: Number of cylinders, 1 to 24 [-].
        speed_rad_s: Speed of the crank, 0 to 1 000 rad/s [rad/s].

    Returns:
        Half of the cylinders times turns a second [Hz].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        A four-stroke cylinder fires every second turn.

    Example:
        >>> round(firing_hz(6, 1800 * math.pi / 30), 9)
        90.0
    """
    check(("cylinders", float(cylinders), 1.0, 24.0, ""), ("speed", speed_rad_s, 0.0, 1_000.0, "rotation"))
    return cylinders * speed_rad_s / (4.0 * math.pi)
