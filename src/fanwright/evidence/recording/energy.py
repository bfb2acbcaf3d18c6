"""Heat of each grip, work of the fan and the fuel for both, from the drive's figures and the runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import OutOfRange
from fanwright.evidence.recording.signals import RPM
from fanwright.evidence.recording.told import FAN_GAP_US, Block
from fanwright.evidence.recording.traffic import Series, Traffic
from fanwright.laws.clutch import MOST_SPEED_RAD_S, settled_speed_rad_s, slip_energy_within_j
from fanwright.laws.fan import STANDARD_AIR_KG_PER_M3, dry_air_density_kg_m3, fuel_m3, load_constant
from fanwright.truck.model import Truck

LONGEST_STEP_US = 10_000_000


@dataclass(frozen=True)
class DriveFigures:
    """What must be known of a drive to work out heat, work and fuel.

    Args:
        pulley_ratio: Speed of the drive's pulley in turns of the engine [-].
        inertia_kg_m2: Moment of inertia of the fan and whatever turns with it [kg m2].
        torque_n_m: Torque of the drive while it slips [N m].
        power_w: Power the fan takes at one speed in air of 1.2 kg/m3 [W].
        speed_rad_s: That speed of the fan [rad/s].
    """

    pulley_ratio: float
    inertia_kg_m2: float
    torque_n_m: float
    power_w: float
    speed_rad_s: float

    @staticmethod
    def of(truck: Truck) -> DriveFigures:
        """Take them from a truck."""
        fan = truck.fan
        return DriveFigures(
            truck.pulley_ratio, fan.inertia_kg_m2, truck.clutch_torque_n_m, fan.power_w, fan.speed_rad_s
        )


def density_ratio(traffic: Traffic) -> float | None:
    """Give the air's density over 1.2 kg/m3, from the medians of ambient air and barometer; None without."""
    ambient, barometer = traffic.series("ambient"), traffic.series("barometer")
    if ambient is None or barometer is None:
        return None
    return ratio_of(barometer.value, ambient.value)


def ratio_of(barometer_absolute_pa: NDArray[np.float64], ambient_k: NDArray[np.float64]) -> float | None:
    """Give the air's density over 1.2 kg/m3 from the medians of pressures and temperatures; None without.

    Args:
        barometer_absolute_pa: Pressures of the air, absolute [Pa].
        ambient_k: Its temperatures [K].
    """
    if not len(barometer_absolute_pa) or not len(ambient_k):
        return None
    try:
        density = dry_air_density_kg_m3(float(np.median(barometer_absolute_pa)), float(np.median(ambient_k)))
    except OutOfRange:
        return None
    return density / STANDARD_AIR_KG_PER_M3


def slip_energies_j(
    figures: DriveFigures, runs: list[Block], grip_rpm: list[float | None], density: float
) -> list[float | None]:
    """Give the heat of each grip, the fan taken as standing still before it; None without engine speed."""
    load = load_constant(figures.power_w, figures.speed_rad_s) * density
    found: list[float | None] = []
    for run, rpm in zip(runs, grip_rpm, strict=True):
        pulley = None if rpm is None else rpm * RPM * figures.pulley_ratio
        if pulley is None or pulley > MOST_SPEED_RAD_S:
            found.append(None)
            continue
        duration = (run.end_us - run.start_us) / 1e6
        found.append(
            slip_energy_within_j(
                figures.torque_n_m, figures.inertia_kg_m2, load, pulley, 0.0, duration_s=duration
            )
        )
    return found


def fan_energies_j(figures: DriveFigures, runs: list[Block], engine: Series, density: float) -> list[float]:
    """Give the work of the fan in each run: cube law, at the pulley's speed or what the torque can carry."""
    work = _summed(engine.time_us, fan_power_w(figures, engine.value, density))
    start = np.interp([run.start_us for run in runs], engine.time_us, work)
    end = np.interp([run.end_us for run in runs], engine.time_us, work)
    return [float(value) for value in end - start]


def fan_power_w(
    figures: DriveFigures, engine_rad_s: NDArray[np.float64], density: float
) -> NDArray[np.float64]:
    """Give the power of the fan with the drive gripping: cube law, at what the torque can carry at most [W].

    Args:
        figures: The drive's figures.
        engine_rad_s: Speeds of the engine [rad/s].
        density: Density of the air over 1.2 kg/m3 [-].
    """
    load = load_constant(figures.power_w, figures.speed_rad_s) * density
    speed = engine_rad_s * figures.pulley_ratio
    if load > 0.0:
        speed = np.minimum(speed, settled_speed_rad_s(figures.torque_n_m, max(load, 1e-9)))
    return load * speed**3


def _summed(time_us: NDArray[np.int64], power_w: NDArray[np.float64]) -> NDArray[np.float64]:
    step = np.diff(time_us)
    step = np.where(step > max(LONGEST_STEP_US, FAN_GAP_US), 0, step) / 1e6
    return np.concatenate([[0.0], np.cumsum(0.5 * (power_w[1:] + power_w[:-1]) * step)])


def fuel_for_m3(fan_energy_j: float, slip_energy_j: float) -> float:
    """Give the fuel for the fan's work and the slip, at the crank [m3]."""
    return fuel_m3(fan_energy_j + slip_energy_j)
