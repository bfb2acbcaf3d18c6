"""Torque of a friction ring, the force that clamps it, and a grip whose torque rises while it slips."""

from __future__ import annotations

import math

from fanwright.errors import OutOfRange
from fanwright.laws._range import Asked, check
from fanwright.words import Message, quantity

STEPS = 4_000


def torque_by_pressure_n_m(
    clamp_n: float, friction: float, inner_radius_m: float, outer_radius_m: float, faces: int = 1
) -> float:
    """Find the torque of a new, flat facing: the same pressure everywhere.

    Args:
        clamp_n: Force along the axis, 0 to 1e6 N [N].
        friction: Coefficient of friction, 0.01 to 1 [-].
        inner_radius_m: Inner radius of the ring, 0.001 to 2 m, below the outer one [m].
        outer_radius_m: Outer radius of the ring, 0.001 to 2 m [m].
        faces: Friction faces that work at once, 1 to 20 [-].

    Returns:
        n mu F (2/3)(ro^3 - ri^3)/(ro^2 - ri^2) [N m].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Uniform-pressure theory of disc clutches, any text on machine design.

    Example:
        >>> round(torque_by_pressure_n_m(5000.0, 0.25, 0.1125, 0.15), 6)
        165.178571
    """
    _check_ring(clamp_n, friction, inner_radius_m, outer_radius_m, faces)
    arm_m = (outer_radius_m**3 - inner_radius_m**3) / (outer_radius_m**2 - inner_radius_m**2) / 1.5
    return faces * friction * clamp_n * arm_m


def torque_by_wear_n_m(
    clamp_n: float, friction: float, inner_radius_m: float, outer_radius_m: float, faces: int = 1
) -> float:
    """Find the torque of a run-in facing: it wears at the same rate everywhere.

    Args:
        clamp_n: Force along the axis, 0 to 1e6 N [N].
        friction: Coefficient of friction, 0.01 to 1 [-].
        inner_radius_m: Inner radius of the ring, 0.001 to 2 m, below the outer one [m].
        outer_radius_m: Outer radius of the ring, 0.001 to 2 m [m].
        faces: Friction faces that work at once, 1 to 20 [-].

    Returns:
        n mu F (ro + ri)/2 [N m].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Uniform-wear theory of disc clutches, any text on machine design.

    Example:
        >>> torque_by_wear_n_m(5000.0, 0.25, 0.1125, 0.15)
        164.0625
    """
    _check_ring(clamp_n, friction, inner_radius_m, outer_radius_m, faces)
    return faces * friction * clamp_n * (outer_radius_m + inner_radius_m) / 2.0


def even_pressure_pa(clamp_n: float, inner_radius_m: float, outer_radius_m: float) -> float:
    """Find the pressure on a new, flat facing.

    Args:
        clamp_n: Force along the axis, 0 to 1e6 N [N].
        inner_radius_m: Inner radius of the ring, 0.001 to 2 m, below the outer one [m].
        outer_radius_m: Outer radius of the ring, 0.001 to 2 m [m].

    Returns:
        Force over area [Pa].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Uniform-pressure theory of disc clutches, any text on machine design.

    Example:
        >>> round(even_pressure_pa(5000.0, 0.1125, 0.15))
        161681
    """
    _check_ring(clamp_n, 0.3, inner_radius_m, outer_radius_m, 1)
    return clamp_n / (math.pi * (outer_radius_m**2 - inner_radius_m**2))


def inner_edge_pressure_pa(clamp_n: float, inner_radius_m: float, outer_radius_m: float) -> float:
    """Find the highest pressure on a run-in facing, at its inner edge.

    Args:
        clamp_n: Force along the axis, 0 to 1e6 N [N].
        inner_radius_m: Inner radius of the ring, 0.001 to 2 m, below the outer one [m].
        outer_radius_m: Outer radius of the ring, 0.001 to 2 m [m].

    Returns:
        F / (2 pi ri (ro - ri)) [Pa].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Uniform-wear theory of disc clutches, any text on machine design.

    Example:
        >>> round(inner_edge_pressure_pa(5000.0, 0.1125, 0.15))
        188628
    """
    _check_ring(clamp_n, 0.3, inner_radius_m, outer_radius_m, 1)
    return clamp_n / (2.0 * math.pi * inner_radius_m * (outer_radius_m - inner_radius_m))


def clamp_by_air_n(gauge_pa: float, area_m2: float, spring_n: float) -> float:
    """Find the force on the faces where air grips and a spring lets go.

    Args:
        gauge_pa: Air in the chamber, gauge, 0 to 2e6 Pa [Pa].
        area_m2: Area the air pushes on, 1e-4 to 1 m2 [m2].
        spring_n: Force of the spring that lets go, 0 to 1e6 N [N].

    Returns:
        p A - F of the spring, and 0 where the spring wins [N].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Balance of forces.

    Example:
        >>> round(clamp_by_air_n(620528.156, 6.67588439e-3, 900.0), 3)
        3242.574
    """
    _check_clamp(gauge_pa, area_m2, spring_n)
    return max(0.0, gauge_pa * area_m2 - spring_n)


def clamp_by_spring_n(gauge_pa: float, area_m2: float, spring_n: float) -> float:
    """Find the force on the faces where a spring grips and air lets go.

    Args:
        gauge_pa: Air left in the chamber, gauge, 0 to 2e6 Pa [Pa].
        area_m2: Area the air pushes on, 1e-4 to 1 m2 [m2].
        spring_n: Force of the spring with the faces shut, 0 to 1e6 N [N].

    Returns:
        F of the spring - p A, and 0 where the air wins [N].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Balance of forces.

    Example:
        >>> clamp_by_spring_n(1e5, 0.02, 9000.0)
        7000.0
    """
    _check_clamp(gauge_pa, area_m2, spring_n)
    return max(0.0, spring_n - gauge_pa * area_m2)


def balance_gauge_pa(area_m2: float, spring_n: float) -> float:
    """Find the air that just holds the spring: clamp and torque are zero there in both arrangements.

    Args:
        area_m2: Area the air pushes on, 1e-4 to 1 m2 [m2].
        spring_n: Force of the spring, 0 to 1e6 N [N].

    Returns:
        Pressure, gauge [Pa].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Balance of forces.

    Example:
        >>> round(balance_gauge_pa(6.67588439e-3, 900.0) / 6894.757293168, 5)
        19.55306
    """
    _check_clamp(0.0, area_m2, spring_n)
    return spring_n / area_m2


def worst_steady_slip_w(load_constant: float, pulley_speed_rad_s: float) -> float:
    """Find the most heat a steadily slipping drive can make at a pulley speed: the fan at two thirds of it.

    Args:
        load_constant: Torque of the fan over the square of its speed, 0 to 1 [N m s2/rad2].
        pulley_speed_rad_s: Speed of the pulley, 0 to 1 000 rad/s [rad/s].

    Returns:
        (4/27) k w^3 [W].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Greatest value of the slip term (Ni - No) No^2 K of SAE J1342 (2022), by its public summary.

    Example:
        >>> round(worst_steady_slip_w(0.0027, 100.0), 9)
        400.0
    """
    check(
        ("load constant", load_constant, 0.0, 1.0, ""),
        ("speed of the pulley", pulley_speed_rad_s, 0.0, 1_000.0, "rotation"),
    )
    return 4.0 / 27.0 * load_constant * pulley_speed_rad_s**3


def ramped_lock_time_s(
    torque_n_m: float, rise_s: float, inertia_kg_m2: float, load_constant: float, pulley_speed_rad_s: float
) -> float:
    """Find how long a grip from rest slips while its torque rises evenly to its full value and stays there.

    Args:
        torque_n_m: Full torque, 0.1 to 20 000 N m [N m].
        rise_s: How long the torque rises, 0 to 60 s [s].
        inertia_kg_m2: Moment of inertia of the fan and what turns with it, 1e-4 to 100 kg m2 [kg m2].
        load_constant: Torque of the fan over the square of its speed, 0 to 1 [N m s2/rad2].
        pulley_speed_rad_s: Speed of the pulley, held constant, 0.1 to 1 000 rad/s [rad/s].

    Returns:
        The time until lock-up [s].

    Raises:
        OutOfRange: An argument outside its range, or a torque that never locks, with the torque that would.

    Source:
        J dw/dt = T(t) - k w^2, solved by Runge-Kutta steps of fourth order over the speed of the fan.

    Example:
        >>> round(ramped_lock_time_s(120.0, 0.4, 0.5, 0.0, 2100 * math.pi / 30), 6)
        1.116298
    """
    return _ramped(torque_n_m, rise_s, inertia_kg_m2, load_constant, pulley_speed_rad_s)[0]


def ramped_slip_energy_j(
    torque_n_m: float, rise_s: float, inertia_kg_m2: float, load_constant: float, pulley_speed_rad_s: float
) -> float:
    """Find the heat of a grip from rest whose torque rises evenly to its full value.

    Args:
        torque_n_m: Full torque, 0.1 to 20 000 N m [N m].
        rise_s: How long the torque rises, 0 to 60 s [s].
        inertia_kg_m2: Moment of inertia of the fan and what turns with it, 1e-4 to 100 kg m2 [kg m2].
        load_constant: Torque of the fan over the square of its speed, 0 to 1 [N m s2/rad2].
        pulley_speed_rad_s: Speed of the pulley, held constant, 0.1 to 1 000 rad/s [rad/s].

    Returns:
        The energy turned into heat between the faces [J].

    Raises:
        OutOfRange: An argument outside its range, or a torque that never locks, with the torque that would.

    Source:
        The integral of T(t) (w1 - w) along the same solution; without load J w1^2 / 2 whatever the rise.

    Example:
        >>> round(ramped_slip_energy_j(120.0, 0.4, 0.5, 0.0, 2100 * math.pi / 30), 4)
        12090.2654
    """
    return _ramped(torque_n_m, rise_s, inertia_kg_m2, load_constant, pulley_speed_rad_s)[1]


def _ramped(torque: float, rise: float, inertia: float, load: float, pulley: float) -> tuple[float, float]:
    check(
        ("torque", torque, 0.1, 20_000.0, "torque"),
        ("rise of the torque", rise, 0.0, 60.0, "time"),
        ("moment of inertia", inertia, 1e-4, 100.0, "inertia"),
        ("load constant", load, 0.0, 1.0, ""),
        ("speed of the pulley", pulley, 0.1, 1_000.0, "rotation"),
    )
    needed = load * pulley * pulley
    if torque <= needed:
        raise OutOfRange(
            Message(
                "a torque of {torque} never brings the fan to full speed: it takes more than {needed}",
                {"torque": quantity(torque, "torque"), "needed": quantity(needed, "torque")},
            )
        )
    time, speed, energy = _rise(torque, rise, inertia, load, pulley)
    if speed < pulley:
        later, more = _steady(torque, inertia, load, pulley, speed)
        time, energy = time + later, energy + more
    return time, energy


def _steady(torque: float, inertia: float, load: float, pulley: float, speed: float) -> tuple[float, float]:
    """Time and heat from a speed to lock-up at full torque, in closed form."""
    if load < 1e-12:
        time = inertia * (pulley - speed) / torque
        return time, inertia * (pulley - speed) ** 2 / 2.0
    settled, rate = math.sqrt(torque / load), math.sqrt(torque * load) / inertia
    time = (math.atanh(pulley / settled) - math.atanh(speed / settled)) / rate
    angle = inertia / (2.0 * load) * math.log((settled**2 - speed**2) / (settled**2 - pulley**2))
    return time, torque * (pulley * time - angle)


def _rise(
    torque: float, rise: float, inertia: float, load: float, pulley: float
) -> tuple[float, float, float]:
    """Time, speed and heat at the end of the rise, or at lock-up if that comes first."""
    step, speed, energy = rise / STEPS, 0.0, 0.0

    def gain(at: float, now: float) -> tuple[float, float]:
        here = torque * at / rise
        return (here - load * now * now) / inertia, here * (pulley - now)

    for number in range(STEPS if rise > 0.0 else 0):
        at = number * step
        one, heat_one = gain(at, speed)
        two, heat_two = gain(at + step / 2.0, speed + step / 2.0 * one)
        three, heat_three = gain(at + step / 2.0, speed + step / 2.0 * two)
        four, heat_four = gain(at + step, speed + step * three)
        after = speed + step / 6.0 * (one + 2.0 * two + 2.0 * three + four)
        heat = step / 6.0 * (heat_one + 2.0 * heat_two + 2.0 * heat_three + heat_four)
        if after >= pulley:
            part = (pulley - speed) / (after - speed)
            slip = torque * (at + part * step / 2.0) / rise * (pulley - speed) / 2.0
            return at + part * step, pulley, energy + slip * part * step
        speed, energy = after, energy + heat
    return rise, speed, energy


def _check_ring(clamp: float, friction: float, inner: float, outer: float, faces: int) -> None:
    largest = max(0.001, min(outer, 2.0) * (1.0 - 1e-6))
    check(
        ("clamp", clamp, 0.0, 1e6, "force"),
        ("friction", friction, 0.01, 1.0, ""),
        ("inner radius", inner, 0.001, largest, "length"),
        ("outer radius", outer, 0.001, 2.0, "length"),
        ("faces", float(faces), 1.0, 20.0, ""),
    )


def _check_clamp(gauge: float, area: float, spring: float) -> None:
    asked: tuple[Asked, ...] = (
        ("air", gauge, 0.0, 2e6, "pressure"),
        ("area", area, 1e-4, 1.0, "area"),
        ("force of the spring", spring, 0.0, 1e6, "force"),
    )
    check(*asked)
