"""Facing lost to friction energy, and how a life of energy follows from thickness."""

from __future__ import annotations

import math

from fanwright.laws._range import check

WEAR_THRESHOLD_K = 230.0 + 273.15
"""Above this the wear of resin-bonded facings rises steeply (a book on road-vehicle braking)."""

ACTIVATION_K = 3_000.0
"""Steepness of that rise, E/R; assumption: about eight times the wear at 500 °C of that at 230 °C."""


def ring_area_m2(inner_radius_m: float, outer_radius_m: float) -> float:
    """Find the area of a facing.

    Args:
        inner_radius_m: Inner radius, 0 to 2 m, not above the outer one [m].
        outer_radius_m: Outer radius, 0.001 to 2 m [m].

    Returns:
        Area of the ring [m2].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Geometry.

    Example:
        >>> round(ring_area_m2(0.070, 0.120) * 1e6, 3)
        29845.13
    """
    check(
        ("inner radius", inner_radius_m, 0.0, max(0.0, min(outer_radius_m, 2.0)), "length"),
        ("outer radius", outer_radius_m, 0.001, 2.0, "length"),
    )
    return math.pi * (outer_radius_m**2 - inner_radius_m**2)


def wear_per_energy_m3_per_j(wear_coefficient_m3_per_n_m: float, friction: float) -> float:
    """Turn the wear coefficient of Archard into facing lost for a unit of friction energy.

    Args:
        wear_coefficient_m3_per_n_m: Volume lost for force times way, 1e-18 to 1e-9 m3/(N m) [m3/(N m)].
        friction: Coefficient of friction, 0.01 to 1 [-].

    Returns:
        K over mu, because the friction energy is mu times force times way [m3/J].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Archard's law of wear with the definition of friction.

    Example:
        >>> round(wear_per_energy_m3_per_j(2e-14, 0.4) * 1e15, 9)
        50.0
    """
    check(
        ("wear coefficient", wear_coefficient_m3_per_n_m, 1e-18, 1e-9, ""),
        ("friction", friction, 0.01, 1.0, ""),
    )
    return wear_coefficient_m3_per_n_m / friction


def facing_loss_m(
    energy_j: float, rate_m3_per_j: float, area_m2: float, temperature_factor: float = 1.0
) -> float:
    """Find the thickness a facing loses to friction energy.

    Args:
        energy_j: Friction energy of this face, 0 to 1e15 J [J].
        rate_m3_per_j: Volume lost for a unit of energy, 1e-18 to 1e-9 m3/J [m3/J].
        area_m2: Area of the facing, 1e-4 to 10 m2 [m2].
        temperature_factor: How much more it wears when hot, 1 to 1 000 [-].

    Returns:
        Thickness lost [m].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Volume lost over area.

    Example:
        >>> round(facing_loss_m(14090.7018274, 30e-15, 29845.130209e-6) * 1e9, 3)
        14.164
    """
    _check(rate_m3_per_j, area_m2)
    check(
        ("energy", energy_j, 0.0, 1e15, "energy"),
        ("temperature factor", temperature_factor, 1.0, 1_000.0, ""),
    )
    return energy_j * rate_m3_per_j * temperature_factor / area_m2


def energy_for_depth_j(depth_m: float, rate_m3_per_j: float, area_m2: float) -> float:
    """Find the friction energy that takes a thickness off.

    Args:
        depth_m: Thickness that may go: present less limit, 0 to 0.1 m [m].
        rate_m3_per_j: Volume lost for a unit of energy, 1e-18 to 1e-9 m3/J [m3/J].
        area_m2: Area of the facing, 1e-4 to 10 m2 [m2].

    Returns:
        Energy until then [J].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Volume over wear per energy.

    Example:
        >>> round(energy_for_depth_j(0.003, 30e-15, 29845.130209e-6) / 1e6, 3)
        2984.513
    """
    _check(rate_m3_per_j, area_m2)
    check(("depth", depth_m, 0.0, 0.1, "length"))
    return depth_m * area_m2 / rate_m3_per_j


def rate_from_loss_m3_per_j(depth_m: float, area_m2: float, energy_j: float) -> float:
    """Find the wear for a unit of energy from two thickness readings and the energy between them.

    Args:
        depth_m: Thickness lost, 0 to 0.1 m [m].
        area_m2: Area of the facing, 1e-4 to 10 m2 [m2].
        energy_j: Friction energy of this face meanwhile, 1 to 1e15 J [J].

    Returns:
        Volume lost over energy [m3/J].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Volume over energy.

    Example:
        >>> round(rate_from_loss_m3_per_j(0.001, 29845.130209e-6, 1e5 * 14090.7018274) * 1e15, 6)
        21.180727
    """
    check(
        ("depth", depth_m, 0.0, 0.1, "length"),
        ("area", area_m2, 1e-4, 10.0, "area"),
        ("energy", energy_j, 1.0, 1e15, "energy"),
    )
    return depth_m * area_m2 / energy_j


def temperature_factor(
    temperature_k: float, threshold_k: float = WEAR_THRESHOLD_K, activation_k: float = ACTIVATION_K
) -> float:
    """Find how much more a resin-bonded facing wears when it is hot.

    Args:
        temperature_k: Temperature of the face, absolute, 200 to 1 200 K [K].
        threshold_k: Below this the factor is 1, absolute, 300 to 1 000 K [K].
        activation_k: Steepness, activation energy over gas constant, 0 to 20 000 K [K].

    Returns:
        exp(A (1/T0 - 1/T)) above the threshold, else 1 [-].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Arrhenius above about 230 °C: a book on braking of road vehicles, section on wear; the steepness is an
        assumption.

    Example:
        >>> temperature_factor(400.0), round(temperature_factor(773.15), 2)
        (1.0, 8.02)
    """
    check(
        ("temperature", temperature_k, 200.0, 1_200.0, "temperature"),
        ("threshold", threshold_k, 300.0, 1_000.0, "temperature"),
        ("steepness", activation_k, 0.0, 20_000.0, "temperature_difference"),
    )
    if temperature_k <= threshold_k:
        return 1.0
    return math.exp(activation_k * (1.0 / threshold_k - 1.0 / temperature_k))


def _check(rate: float, area: float) -> None:
    check(("wear for a unit of energy", rate, 1e-18, 1e-9, ""), ("area", area, 1e-4, 10.0, "area"))
