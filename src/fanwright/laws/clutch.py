"""Slip of a friction drive that takes a fan from one speed to the speed of its pulley.

The pulley turns at a constant speed, the drive slips at a constant torque and the fan loads it with the
square of its speed: J dw/dt = T - k w^2. With a = sqrt(T / k) and b = sqrt(T k) / J the fan follows
w = a tanh(b t + atanh(w0 / a)), so that lock-up time and slip energy have closed forms (own derivation;
checked against a numerical solution of the same equation). The private functions check nothing.
"""

from __future__ import annotations

import math

from fanwright.errors import OutOfRange
from fanwright.laws._range import check
from fanwright.words import Message, quantity

MOST_SPEED_RAD_S = 1_000.0
NO_LOAD = 1e-12
"""Below this a load constant is no load: at 1 000 rad/s it is a millionth of a newton metre [N m s2/rad2]."""


def settled_speed_rad_s(torque_n_m: float, load_constant: float) -> float:
    """Find the speed at which a slipping drive's torque just carries the fan.

    Args:
        torque_n_m: Torque of the drive while it slips, 0.1 to 20 000 N m [N m].
        load_constant: Torque of the fan over the square of its speed, 1e-9 to 1 [N m s2/rad2].

    Returns:
        The speed, sqrt(T / k); a drive locks only where this lies above the pulley's speed [rad/s].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Balance of the constant torque with the square-law load; own derivation.

    Example:
        >>> round(settled_speed_rad_s(60.0, 1.692500349e-3) * 30 / math.pi, 3)
        1797.971
    """
    check(("torque", torque_n_m, 0.1, 20_000.0, "torque"), ("load constant", load_constant, 1e-9, 1.0, ""))
    return math.sqrt(torque_n_m / load_constant)


def lock_time_s(
    torque_n_m: float,
    inertia_kg_m2: float,
    load_constant: float,
    pulley_speed_rad_s: float,
    start_speed_rad_s: float = 0.0,
) -> float:
    """Find how long a grip slips until the fan turns with the pulley.

    Args:
        torque_n_m: Torque of the drive while it slips, 0.1 to 20 000 N m [N m].
        inertia_kg_m2: Moment of inertia of the fan and what turns with it, 1e-4 to 100 kg m2 [kg m2].
        load_constant: Torque of the fan over the square of its speed, 0 (no load) to 1 [N m s2/rad2].
        pulley_speed_rad_s: Speed of the pulley, held constant, 0 to 1 000 rad/s [rad/s].
        start_speed_rad_s: Speed of the fan before (windmilling), 0 to the pulley's [rad/s].

    Returns:
        The time until lock-up [s].

    Raises:
        OutOfRange: An argument outside its range, or a torque that never locks, with the torque that would.

    Source:
        The equation at the top of this file; own derivation.

    Example:
        >>> round(lock_time_s(120.0, 0.5, 1.692500349e-3, 2100 * math.pi / 30), 6)
        1.303697
    """
    _check(torque_n_m, inertia_kg_m2, load_constant, pulley_speed_rad_s, start_speed_rad_s)
    _must_lock(torque_n_m, load_constant, pulley_speed_rad_s)
    return _lock_time(torque_n_m, inertia_kg_m2, load_constant, pulley_speed_rad_s, start_speed_rad_s)


def slip_energy_j(
    torque_n_m: float,
    inertia_kg_m2: float,
    load_constant: float,
    pulley_speed_rad_s: float,
    start_speed_rad_s: float = 0.0,
) -> float:
    """Find the heat of one grip, from its beginning to lock-up.

    Args:
        torque_n_m: Torque of the drive while it slips, 0.1 to 20 000 N m [N m].
        inertia_kg_m2: Moment of inertia of the fan and what turns with it, 1e-4 to 100 kg m2 [kg m2].
        load_constant: Torque of the fan over the square of its speed, 0 (no load) to 1 [N m s2/rad2].
        pulley_speed_rad_s: Speed of the pulley, held constant, 0 to 1 000 rad/s [rad/s].
        start_speed_rad_s: Speed of the fan before (windmilling), 0 to the pulley's [rad/s].

    Returns:
        The energy turned into heat between the faces, T (w1 t - angle of the fan); without load
        J (w1 - w0)^2 / 2 whatever the torque [J].

    Raises:
        OutOfRange: An argument outside its range, or a torque that never locks, with the torque that would.

    Source:
        The equation at the top of this file; own derivation.

    Example:
        >>> round(slip_energy_j(120.0, 0.5, 1.692500349e-3, 2100 * math.pi / 30), 2)
        14090.7
    """
    _check(torque_n_m, inertia_kg_m2, load_constant, pulley_speed_rad_s, start_speed_rad_s)
    _must_lock(torque_n_m, load_constant, pulley_speed_rad_s)
    time = _lock_time(torque_n_m, inertia_kg_m2, load_constant, pulley_speed_rad_s, start_speed_rad_s)
    turned = _angle(torque_n_m, inertia_kg_m2, load_constant, start_speed_rad_s, time)
    return torque_n_m * (pulley_speed_rad_s * time - turned)


def slip_energy_within_j(
    torque_n_m: float,
    inertia_kg_m2: float,
    load_constant: float,
    pulley_speed_rad_s: float,
    start_speed_rad_s: float,
    *,
    duration_s: float,
) -> float:
    """Find the heat of a grip that lasts a given time, whether the drive locks within it, later or never.

    Args:
        torque_n_m: Torque of the drive while it slips, 0.1 to 20 000 N m [N m].
        inertia_kg_m2: Moment of inertia of the fan and what turns with it, 1e-4 to 100 kg m2 [kg m2].
        load_constant: Torque of the fan over the square of its speed, 0 (no load) to 1 [N m s2/rad2].
        pulley_speed_rad_s: Speed of the pulley, held constant, 0 to 1 000 rad/s [rad/s].
        start_speed_rad_s: Speed of the fan before, 0 to the pulley's; one above the speed that the torque
            can carry counts as that speed [rad/s].
        duration_s: How long the drive is told to grip, 0 to 1e7 s [s].

    Returns:
        The energy turned into heat between the faces [J].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        The equation at the top of this file; own derivation.

    Example:
        >>> round(slip_energy_within_j(60.0, 0.5, 1.692500349e-3, 220.0, 0.0, duration_s=3600.0))
        6863146
    """
    _check(torque_n_m, inertia_kg_m2, load_constant, pulley_speed_rad_s, start_speed_rad_s)
    check(("duration", duration_s, 0.0, 1e7, "time"))
    time, start = duration_s, start_speed_rad_s
    if _locks(torque_n_m, load_constant, pulley_speed_rad_s):
        time = min(
            time, _lock_time(torque_n_m, inertia_kg_m2, load_constant, pulley_speed_rad_s, start_speed_rad_s)
        )
    else:
        settled = math.sqrt(torque_n_m / load_constant)
        if start >= settled:
            return torque_n_m * (pulley_speed_rad_s - settled) * time
    turned = _angle(torque_n_m, inertia_kg_m2, load_constant, start, time)
    return torque_n_m * (pulley_speed_rad_s * time - turned)


def slip_power_w(torque_n_m: float, load_constant: float, pulley_speed_rad_s: float) -> float:
    """Find the steady heat of a drive that never locks.

    Args:
        torque_n_m: Torque of the drive while it slips, 0.1 to 20 000 N m [N m].
        load_constant: Torque of the fan over the square of its speed, 0 (no load) to 1 [N m s2/rad2].
        pulley_speed_rad_s: Speed of the pulley, held constant, 0 to 1 000 rad/s [rad/s].

    Returns:
        T (w1 - a), and 0 where the drive locks [W].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        The same as the slip term (Ni - No) No^2 K of SAE J1342 (2022), by its public summary.

    Example:
        >>> round(slip_power_w(60.0, 1.692500349e-3, 2100 * math.pi / 30), 3)
        1897.706
    """
    _check(torque_n_m, 1.0, load_constant, pulley_speed_rad_s, 0.0)
    if _locks(torque_n_m, load_constant, pulley_speed_rad_s):
        return 0.0
    return torque_n_m * (pulley_speed_rad_s - math.sqrt(torque_n_m / load_constant))


def _check(torque: float, inertia: float, load: float, pulley: float, start: float) -> None:
    check(
        ("torque", torque, 0.1, 20_000.0, "torque"),
        ("moment of inertia", inertia, 1e-4, 100.0, "inertia"),
        ("load constant", load, 0.0, 1.0, ""),
        ("speed of the pulley", pulley, 0.0, MOST_SPEED_RAD_S, "rotation"),
        ("speed of the fan before", start, 0.0, max(0.0, min(pulley, MOST_SPEED_RAD_S)), "rotation"),
    )


def _must_lock(torque: float, load: float, pulley: float) -> None:
    if _locks(torque, load, pulley):
        return
    raise OutOfRange(
        Message(
            "a torque of {torque} never brings the fan to {speed}: it takes more than {needed}",
            {
                "torque": quantity(torque, "torque"),
                "speed": quantity(pulley, "rotation"),
                "needed": quantity(load * pulley**2, "torque"),
            },
        )
    )


def _locks(torque: float, load: float, pulley: float) -> bool:
    return torque > load * pulley * pulley


def _lock_time(torque: float, inertia: float, load: float, pulley: float, start: float) -> float:
    if load < NO_LOAD:
        return inertia * (pulley - start) / torque
    settled = math.sqrt(torque / load)
    rate = math.sqrt(torque * load) / inertia
    return (math.atanh(pulley / settled) - math.atanh(start / settled)) / rate


def _angle(torque: float, inertia: float, load: float, start: float, time: float) -> float:
    if load < NO_LOAD:
        return start * time + 0.5 * torque / inertia * time * time
    rate = math.sqrt(torque * load) / inertia
    before = math.atanh(start / math.sqrt(torque / load))
    return inertia / load * (_log_cosh(rate * time + before) - _log_cosh(before))


def _log_cosh(x: float) -> float:
    if x < 1.0:
        return math.log1p(2.0 * math.sinh(0.5 * x) ** 2)
    return x + math.log1p(math.exp(-2.0 * x)) - math.log(2.0)
