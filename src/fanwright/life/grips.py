"""What a grip costs: heat, temperature, facing; and the torque in hand, with the pull that would show it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fanwright.laws import clutch, fan, grip, heat, wear
from fanwright.truck.model import Truck
from fanwright.words import Message, number, quantity

RPM, KJ = math.pi / 30.0, 1000.0
STEEL = (50.0, 7850.0, 470.0)
"""Conductivity [W/(m K)], density [kg/m3], specific heat [J/(kg K)] of plain steel; textbook values."""

FACING = (0.80, 1600.0, 1250.0)
"""The same of woven resin-based facing: The Tribology Handbook, section on friction clutches, table 7.5."""

STEEL_THICKNESS_M = 0.010
TRANSFER_W_PER_M2_K = 60.0
"""Steel face: thickness and heat to the air; assumptions."""


@dataclass(frozen=True)
class GripCost:
    """One grip from rest, and many of them at an even pace.

    Args:
        engine_rpm: Engine speed [r/min].
        energy_j: Heat of the grip [J].
        slip_s: How long it slips [s].
        locks: Whether the fan reaches its pulley's speed.
        peak_rise_k: Rise of the steel face by this grip [K].
        mean_rise_k: Mean rise of the steel face at the pace given [K].
    """

    engine_rpm: float
    energy_j: float
    slip_s: float
    locks: bool
    peak_rise_k: float
    mean_rise_k: float

    def facing_lost_m(self, rate_m3_per_j: float, area_m2: float) -> float:
        """Facing lost to this grip with a truck's own wear for a unit of heat [m]."""
        return wear.facing_loss_m(self.energy_j, rate_m3_per_j, area_m2)


def grip_cost(
    truck: Truck,
    engine_rpm: float,
    grips_per_hour: float = 6.0,
    lost_gauge_pa: float = 0.0,
    run_s: float = 60.0,
) -> GripCost:
    """Work out what a grip costs.

    Args:
        truck: The machine.
        engine_rpm: Engine speed at the grip [r/min].
        grips_per_hour: How often it grips [1/h].
        lost_gauge_pa: Air left in a spring-on drive, or missing in an air-on one, gauge [Pa].
        run_s: How long the fan stays told on; a drive that never locks slips all that time [s].

    Returns:
        Heat, slip and temperatures.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> truck = presets()["line-haul spring-on"]
        >>> slow, fast = (grip_cost(truck, rpm).energy_j for rpm in (1300.0, 2100.0))
        >>> round(fast / slow, 1)
        2.9
    """
    torque = max(capacity_n_m(truck, lost_gauge_pa), 0.1)
    pulley = engine_rpm * RPM * truck.pulley_ratio
    load = fan.load_constant(truck.fan.power_w, truck.fan.speed_rad_s)
    locks = torque > load * pulley**2
    energy = clutch.slip_energy_within_j(torque, truck.fan.inertia_kg_m2, load, pulley, 0.0, duration_s=run_s)
    slip = min(run_s, clutch.lock_time_s(torque, truck.fan.inertia_kg_m2, load, pulley)) if locks else run_s
    area = wear.ring_area_m2(truck.facing.inner_radius_m, truck.facing.outer_radius_m)
    share = heat.heat_share(heat.effusivity(*STEEL), heat.effusivity(*FACING))
    conductivity, density, specific = STEEL
    flux = share * energy / truck.facing.faces / area / max(slip, 1e-3)
    peak = heat.slab_face_rise_k(
        flux, max(slip, 1e-3), STEEL_THICKNESS_M, conductivity, conductivity / (density * specific)
    )
    mass = density * area * STEEL_THICKNESS_M
    single = heat.lumped_rise_k(energy / truck.facing.faces, mass, specific, share)
    cooling = heat.cooling_time_s(mass, specific, TRANSFER_W_PER_M2_K, area)
    mean = heat.cycle_mean_k(min(single, 1e4), 3600.0 / grips_per_hour, cooling)
    return GripCost(engine_rpm, energy, slip, locks, peak, mean)


SLOW_RPM, FAST_RPM = 1300.0, 2100.0
"""Engine speeds at which the same grip is put side by side: cruising, and braking or climbing hard."""


def side_by_side(truck: Truck, lost_gauge_pa: float = 0.0) -> tuple[GripCost, GripCost]:
    """Give the same grip at a low and at a high engine speed.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> slow, fast = side_by_side(presets()["line-haul spring-on"])
        >>> slow.energy_j < fast.energy_j
        True
    """
    slow, fast = (grip_cost(truck, rpm, lost_gauge_pa=lost_gauge_pa) for rpm in (SLOW_RPM, FAST_RPM))
    return slow, fast


def capacity_n_m(truck: Truck, lost_gauge_pa: float = 0.0) -> float:
    """Torque the drive holds, with the clamp lost to rest pressure or to low air [N m].

    Example:
        >>> from fanwright.truck.loader import presets
        >>> truck = presets()["line-haul spring-on"]
        >>> capacity_n_m(truck, 0.5 * truck.lift_off_gauge_pa) / capacity_n_m(truck)
        0.5
    """
    lost = grip.clamp_by_spring_n(0.0, truck.piston.area_m2, truck.spring.preload_n)
    if truck.grips_by == "spring":
        left = grip.clamp_by_spring_n(lost_gauge_pa, truck.piston.area_m2, truck.spring.preload_n)
        return truck.clutch_torque_n_m * left / lost
    full_gauge_pa = 90.0 * 6894.757293168
    spring_n = truck.full_stroke_gauge_pa * truck.piston.area_m2
    clamps = [
        grip.clamp_by_air_n(max(0.0, full_gauge_pa - missing), truck.piston.area_m2, spring_n)
        for missing in (0.0, lost_gauge_pa)
    ]
    return truck.clutch_torque_n_m * clamps[1] / clamps[0]


@dataclass(frozen=True)
class TorqueInHand:
    """What the drive can hold beside what the fan takes at a speed.

    Args:
        capacity_n_m: Torque the drive holds [N m].
        needed_n_m: Torque the fan takes [N m].
        pull_n: Pull at the root of a blade at which a sound drive begins to slip [N].
        arm_m: Radius of that root [m].
    """

    capacity_n_m: float
    needed_n_m: float
    pull_n: float
    arm_m: float

    @property
    def ratio(self) -> float:
        """Capacity over need: under 1 it slips under load [-]."""
        return self.capacity_n_m / self.needed_n_m

    @property
    def message(self) -> Message:
        """How to see it with a spring scale, with its cautions."""
        return Message(
            "the drive holds {capacity}, the fan takes {needed}: {ratio} times; engine off and locked out, "
            "drive gripping, a spring scale at the root of a blade, {arm} from the middle and square to it, "
            "must not turn the fan below {pull}: pull at the root only, never at a tip or a cracked blade",
            {
                "capacity": quantity(self.capacity_n_m, "torque"),
                "needed": quantity(self.needed_n_m, "torque"),
                "ratio": number(self.ratio),
                "arm": quantity(self.arm_m, "length"),
                "pull": quantity(self.pull_n, "force"),
            },
        )


def torque_in_hand(truck: Truck, engine_rpm: float, lost_gauge_pa: float = 0.0) -> TorqueInHand:
    """Compare what the drive holds with what the fan takes.

    Args:
        truck: The machine.
        engine_rpm: Rated engine speed [r/min].
        lost_gauge_pa: Air left in a spring-on drive, or missing in an air-on one, gauge [Pa].

    Returns:
        Both torques and the pull that shows them.
    """
    capacity = capacity_n_m(truck, lost_gauge_pa)
    needed = (
        fan.load_constant(truck.fan.power_w, truck.fan.speed_rad_s)
        * (engine_rpm * RPM * truck.pulley_ratio) ** 2
    )
    arm = 0.3 * truck.fan.radius_m
    return TorqueInHand(capacity, needed, capacity / arm, arm)
