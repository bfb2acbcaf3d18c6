"""Temperature of a steel face that takes friction heat: thin, thick, layered, in pulses and in cycles."""

from __future__ import annotations

import math

from fanwright.laws._range import check

_TERMS = 200


def lumped_rise_k(energy_j: float, mass_kg: float, specific_heat: float, heat_share: float = 1.0) -> float:
    """Find the rise of a body that is evenly warm.

    Args:
        energy_j: Heat made, 0 to 1e12 J [J].
        mass_kg: Mass that takes it, 1e-4 to 1e4 kg [kg].
        specific_heat: Heat for a kilogram and kelvin, 50 to 10 000 J/(kg K) [J/(kg K)].
        heat_share: Share of the heat that goes into this body, 0 to 1 [-].

    Returns:
        Share times energy over heat capacity [K].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Energy balance; good where h L / k is under 0.1 and the pulse lasts longer than L^2 / alpha.

    Example:
        >>> round(lumped_rise_k(14090.7018274, 3.5, 470.0, 0.96), 6)
        8.223145
    """
    check(
        ("energy", energy_j, 0.0, 1e12, "energy"),
        ("mass", mass_kg, 1e-4, 1e4, "mass"),
        ("specific heat", specific_heat, 50.0, 1e4, ""),
        ("share of the heat", heat_share, 0.0, 1.0, ""),
    )
    return heat_share * energy_j / (mass_kg * specific_heat)


def thick_rise_k(
    flux_w_per_m2: float, time_s: float, conductivity: float, diffusivity_m2_s: float, depth_m: float = 0.0
) -> float:
    """Find the rise in a body too thick to be warm behind, under an even heat flux.

    Args:
        flux_w_per_m2: Heat on its face, 0 to 1e9 W/m2 [W/m2].
        time_s: Since when, 1e-6 to 1e6 s [s].
        conductivity: Heat conductivity, 0.05 to 1 000 W/(m K) [W/(m K)].
        diffusivity_m2_s: Conductivity over heat capacity of volume, 1e-8 to 1e-3 m2/s [m2/s].
        depth_m: Depth below the face, 0 to 10 m [m].

    Returns:
        The rise there [K].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Carslaw and Jaeger, Conduction of Heat in Solids, section 2.9.

    Example:
        >>> round(thick_rise_k(3.2e5, 30.0, 45.0, 1.4e-5), 3)
        164.444
    """
    _check(flux_w_per_m2, time_s, conductivity, diffusivity_m2_s)
    check(("depth", depth_m, 0.0, 10.0, "length"))
    reach_m = math.sqrt(diffusivity_m2_s * time_s)
    return (
        2.0 * flux_w_per_m2 / conductivity * reach_m / math.sqrt(math.pi)
        * math.exp(-((depth_m / reach_m) ** 2) / 4.0)
        - flux_w_per_m2 * depth_m / conductivity * math.erfc(depth_m / (2.0 * reach_m))
    )  # fmt: skip


def falling_flux_rise_k(
    flux_w_per_m2: float, slip_s: float, time_s: float, conductivity: float, diffusivity_m2_s: float
) -> float:
    """Find the rise of a thick body's face under a flux that falls evenly to zero, as in a slip without load.

    Args:
        flux_w_per_m2: Heat on its face at the start, 0 to 1e9 W/m2 [W/m2].
        slip_s: How long it takes to fall to zero, 1e-6 to 1e6 s [s].
        time_s: Since the start, 1e-6 s to the end of the slip [s].
        conductivity: Heat conductivity, 0.05 to 1 000 W/(m K) [W/(m K)].
        diffusivity_m2_s: Conductivity over heat capacity of volume, 1e-8 to 1e-3 m2/s [m2/s].

    Returns:
        (2 q/k) sqrt(alpha t/pi) (1 - 2t/(3 ts)); highest half-way [K].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Duhamel's integral of the even flux.

    Example:
        >>> round(falling_flux_rise_k(5e5, 1.3, 0.65, 50.0, 50.0 / (7850.0 * 470.0)), 5)
        22.32656
    """
    _check(flux_w_per_m2, slip_s, conductivity, diffusivity_m2_s)
    check(("time", time_s, 1e-6, slip_s, "time"))
    even = 2.0 * flux_w_per_m2 / conductivity * math.sqrt(diffusivity_m2_s * time_s / math.pi)
    return even * (1.0 - 2.0 * time_s / (3.0 * slip_s))


def slab_face_rise_k(
    flux_w_per_m2: float, time_s: float, thickness_m: float, conductivity: float, diffusivity_m2_s: float
) -> float:
    """Find the rise of the heated face of a plate whose back loses nothing.

    Args:
        flux_w_per_m2: Heat on its face, 0 to 1e9 W/m2 [W/m2].
        time_s: Since when, 1e-6 to 1e6 s [s].
        thickness_m: Thickness of the plate, 1e-5 to 1 m [m].
        conductivity: Heat conductivity, 0.05 to 1 000 W/(m K) [W/(m K)].
        diffusivity_m2_s: Conductivity over heat capacity of volume, 1e-8 to 1e-3 m2/s [m2/s].

    Returns:
        (qL/k)(Fo + 1/3 - (2/pi^2) sum exp(-n^2 pi^2 Fo)/n^2) [K].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Carslaw and Jaeger, Conduction of Heat in Solids, section 3.8.

    Example:
        >>> round(slab_face_rise_k(2e5, 10.0, 0.006, 50.0, 50.0 / (7850.0 * 470.0)), 5)
        98.34648
    """
    return _slab(flux_w_per_m2, time_s, thickness_m, conductivity, diffusivity_m2_s, heated=True)


def slab_back_rise_k(
    flux_w_per_m2: float, time_s: float, thickness_m: float, conductivity: float, diffusivity_m2_s: float
) -> float:
    """Find the rise of the back of a plate that is heated on its face and loses nothing.

    Args:
        flux_w_per_m2: Heat on its face, 0 to 1e9 W/m2 [W/m2].
        time_s: Since when, 1e-6 to 1e6 s [s].
        thickness_m: Thickness of the plate, 1e-5 to 1 m [m].
        conductivity: Heat conductivity, 0.05 to 1 000 W/(m K) [W/(m K)].
        diffusivity_m2_s: Conductivity over heat capacity of volume, 1e-8 to 1e-3 m2/s [m2/s].

    Returns:
        (qL/k)(Fo - 1/6 - (2/pi^2) sum (-1)^n exp(-n^2 pi^2 Fo)/n^2) [K].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Carslaw and Jaeger, Conduction of Heat in Solids, section 3.8.

    Example:
        >>> round(slab_back_rise_k(2e5, 10.0, 0.006, 50.0, 50.0 / (7850.0 * 470.0)), 5)
        86.34648
    """
    return _slab(flux_w_per_m2, time_s, thickness_m, conductivity, diffusivity_m2_s, heated=False)


def effusivity(conductivity: float, density_kg_m3: float, specific_heat: float) -> float:
    """Find how readily a body takes heat at its face.

    Args:
        conductivity: Heat conductivity, 0.05 to 1 000 W/(m K) [W/(m K)].
        density_kg_m3: Density, 10 to 30 000 kg/m3 [kg/m3].
        specific_heat: Heat for a kilogram and kelvin, 50 to 10 000 J/(kg K) [J/(kg K)].

    Returns:
        sqrt(k rho c) [W s^0.5/(m2 K)].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Definition; any text on heat conduction.

    Example:
        >>> round(effusivity(50.0, 7850.0, 470.0), 3)
        13582.157
    """
    check(
        ("conductivity", conductivity, 0.05, 1_000.0, ""),
        ("density", density_kg_m3, 10.0, 30_000.0, ""),
        ("specific heat", specific_heat, 50.0, 1e4, ""),
    )
    return math.sqrt(conductivity * density_kg_m3 * specific_heat)


def heat_share(effusivity_here: float, effusivity_there: float) -> float:
    """Find which share of the friction heat goes into one of two bodies.

    Args:
        effusivity_here: Of this body, 1 to 1e6 [W s^0.5/(m2 K)].
        effusivity_there: Of the other, 1 to 1e6 [W s^0.5/(m2 K)].

    Returns:
        The share [-].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Two half-spaces with one face temperature; any text on friction heating.

    Example:
        >>> round(heat_share(13582.157413, 1264.911064), 6)
        0.914804
    """
    check(
        ("effusivity here", effusivity_here, 1.0, 1e6, ""),
        ("effusivity there", effusivity_there, 1.0, 1e6, ""),
    )
    return effusivity_here / (effusivity_here + effusivity_there)


def cooling_time_s(mass_kg: float, specific_heat: float, transfer: float, area_m2: float) -> float:
    """Find the time constant of cooling down.

    Args:
        mass_kg: Mass that cools, 1e-4 to 1e4 kg [kg].
        specific_heat: Heat for a kilogram and kelvin, 50 to 10 000 J/(kg K) [J/(kg K)].
        transfer: Heat to the air for an area and kelvin, 0.1 to 1e5 W/(m2 K) [W/(m2 K)].
        area_m2: Area that gives it off, 1e-4 to 100 m2 [m2].

    Returns:
        m c / (h A) [s].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Newton's law of cooling of an evenly warm body.

    Example:
        >>> round(cooling_time_s(6.0, 470.0, 60.0, 0.15), 3)
        313.333
    """
    check(
        ("mass", mass_kg, 1e-4, 1e4, "mass"),
        ("specific heat", specific_heat, 50.0, 1e4, ""),
        ("heat transfer", transfer, 0.1, 1e5, ""),
        ("area", area_m2, 1e-4, 100.0, "area"),
    )
    return mass_kg * specific_heat / (transfer * area_m2)


def cycle_peak_k(single_rise_k: float, period_s: float, cooling_s: float) -> float:
    """Find the rise just after a grip, when grips have come at an even pace for long.

    Args:
        single_rise_k: Rise of a single grip, 0 to 1e4 K [K].
        period_s: From grip to grip, 0.01 to 1e7 s [s].
        cooling_s: Time constant of cooling down, 0.01 to 1e7 s [s].

    Returns:
        dT / (1 - exp(-P/tau)) [K].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Sum of the geometric series.

    Example:
        >>> round(cycle_peak_k(14090.7018274 / 2820.0, 120.0, 2820.0 / 9.0), 5)
        15.70438
    """
    return _cycle(single_rise_k, period_s, cooling_s)


def cycle_trough_k(single_rise_k: float, period_s: float, cooling_s: float) -> float:
    """Find the rise just before a grip, when grips have come at an even pace for long.

    Args:
        single_rise_k: Rise of a single grip, 0 to 1e4 K [K].
        period_s: From grip to grip, 0.01 to 1e7 s [s].
        cooling_s: Time constant of cooling down, 0.01 to 1e7 s [s].

    Returns:
        The peak times exp(-P/tau) [K].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Sum of the geometric series.

    Example:
        >>> round(cycle_trough_k(14090.7018274 / 2820.0, 120.0, 2820.0 / 9.0), 5)
        10.70768
    """
    return _cycle(single_rise_k, period_s, cooling_s) * math.exp(-period_s / cooling_s)


def cycle_mean_k(single_rise_k: float, period_s: float, cooling_s: float) -> float:
    """Find the mean rise, when grips have come at an even pace for long.

    Args:
        single_rise_k: Rise of a single grip, 0 to 1e4 K [K].
        period_s: From grip to grip, 0.01 to 1e7 s [s].
        cooling_s: Time constant of cooling down, 0.01 to 1e7 s [s].

    Returns:
        dT tau / P: heat in over heat given off for a kelvin, whatever the mass [K].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Energy balance over a period.

    Example:
        >>> round(cycle_mean_k(14090.7018274 / 2820.0, 120.0, 2820.0 / 9.0), 5)
        13.04695
    """
    _cycle(single_rise_k, period_s, cooling_s)
    return single_rise_k * cooling_s / period_s


def _cycle(single: float, period: float, cooling: float) -> float:
    check(
        ("rise of a grip", single, 0.0, 1e4, "temperature_difference"),
        ("time from grip to grip", period, 0.01, 1e7, "time"),
        ("time constant", cooling, 0.01, 1e7, "time"),
    )
    return single / -math.expm1(-period / cooling)


def _slab(
    flux: float, time: float, thickness: float, conductivity: float, diffusivity: float, *, heated: bool
) -> float:
    _check(flux, time, conductivity, diffusivity)
    check(("thickness", thickness, 1e-5, 1.0, "length"))
    number = diffusivity * time / thickness**2
    if number < 0.05:
        return _slab_by_images(flux, time, thickness, conductivity, diffusivity, heated=heated)
    series = sum(
        (1.0 if heated else (-1.0) ** n) / n**2 * math.exp(-((n * math.pi) ** 2) * number)
        for n in range(1, _TERMS)
    )
    constant = 1.0 / 3.0 if heated else -1.0 / 6.0
    return flux * thickness / conductivity * (number + constant - 2.0 / math.pi**2 * series)


def _slab_by_images(
    flux: float, time: float, thickness: float, conductivity: float, diffusivity: float, *, heated: bool
) -> float:
    """Short times: the thick body's rise at the distances of the mirror images of the source."""

    def rise(depth: float) -> float:
        return thick_rise_k(flux, time, conductivity, diffusivity, depth)

    if heated:
        return rise(0.0) + 2.0 * sum(rise(2.0 * n * thickness) for n in range(1, 4))
    return 2.0 * sum(rise((2.0 * n + 1.0) * thickness) for n in range(3))


def _check(flux: float, time: float, conductivity: float, diffusivity: float) -> None:
    check(
        ("heat flux", flux, 0.0, 1e9, ""),
        ("time", time, 1e-6, 1e6, "time"),
        ("conductivity", conductivity, 0.05, 1_000.0, ""),
        ("diffusivity", diffusivity, 1e-8, 1e-3, ""),
    )
