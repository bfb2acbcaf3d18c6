"""The air circuit of one truck as numbers a simulation takes: sound, or with faults put in by ``faults``."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fanwright.catalogue.model import GripsBy, Valve
from fanwright.laws.conductance import tube_conductance
from fanwright.truck.checks import Bound, Order, check_part, not_one_of
from fanwright.truck.model import Truck

Feed = Literal["as_told", "never", "always"]

_C, _B, _V = "conductance", "", "volume"
BOUNDS: dict[str, tuple[str, float, float, str]] = {
    "reservoir_volume_m3": ("reservoir volume", 1e-4, 1e6, _V),
    "ambient_absolute_pa": ("atmosphere", 2e4, 1.2e5, "pressure_absolute"),
    "temperature_k": ("temperature", 220.0, 400.0, "temperature"),
    "supply_conductance_m3_per_s_pa": ("supply conductance", 0.0, 1e-6, _C),
    "supply_critical_ratio": ("critical ratio of the supply", 0.0, 0.9, _B),
    "inlet_volume_m3": ("volume at the valve inlet", 1e-6, 1e6, _V),
    "fill_conductance_m3_per_s_pa": ("fill conductance", 0.0, 1e-6, _C),
    "fill_critical_ratio": ("critical ratio of the fill path", 0.0, 0.9, _B),
    "exhaust_conductance_m3_per_s_pa": ("exhaust conductance", 0.0, 1e-6, _C),
    "exhaust_critical_ratio": ("critical ratio of the exhaust", 0.0, 0.9, _B),
    "seat_leak_m3_per_s_pa": ("leak through the valve seat", 0.0, 1e-6, _C),
    "supply_leak_m3_per_s_pa": ("leak before the valve", 0.0, 1e-6, _C),
    "line_leak_m3_per_s_pa": ("leak of the drive line", 0.0, 1e-6, _C),
    "seal_leak_m3_per_s_pa": ("leak of the drive's seal", 0.0, 1e-6, _C),
    "leak_critical_ratio": ("critical ratio of a leak", 0.0, 0.9, _B),
    "line_length_m": ("length of the drive line", 0.05, 30.0, "length"),
    "line_bore_m": ("bore of the drive line", 1e-3, 0.03, "length"),
    "line_conductance_m3_per_s_pa": ("conductance of the drive line", 1e-13, 1e-6, _C),
    "dead_volume_m3": ("dead volume", 1e-6, 1.0, _V),
    "piston_area_m2": ("piston area", 1e-9, 0.2, "area"),
    "stroke_m": ("stroke", 1e-5, 0.05, "length"),
    "moving_mass_kg": ("moving mass", 0.01, 100.0, "mass"),
    "preload_n": ("spring force at the start of the stroke", 0.0, 1e5, "force"),
    "stiffness_n_per_m": ("spring stiffness", 0.0, 1e8, "stiffness"),
    "damping_n_s_per_m": ("damping of the piston in N s/m", 0.0, 1e6, _B),
    "sliding_friction_n": ("friction of the sliding piston", 0.0, 1e5, "force"),
    "breakaway_friction_n": ("friction that holds the piston", 0.0, 1e5, "force"),
    "exponent": ("exponent of the change of state", 1.0, 1.4, _B),
    "wall_time_s": ("time in which the drive's air takes the wall's temperature", 1e-3, math.inf, "time"),
    "send_delay_s": ("delay of the valve when it sends", 0.0, 10.0, "time"),
    "cut_delay_s": ("delay of the valve when it cuts off", 0.0, 10.0, "time"),
    "switch_time_s": ("travel time of the valve", 0.0, 10.0, "time"),
    "least_opening": ("least opening of the valve", 0.0, 1.0, "share"),
    "most_opening": ("most opening of the valve", 0.0, 1.0, "share"),
    "supply_gauge_pa": ("air in the reservoir", 0.0, 2e6, "pressure"),
}
"""Every number of a circuit in the solver's order, with its plain name, range and dimension."""

# What no data sheet gives, all assumptions: a short inlet, a small valve, light damping, little friction.
INLET_VOLUME_M3 = 5.0e-5
DAMPING_SHARE = 0.35
FRICTION_SHARE = 0.015
EXPONENT = 1.2
LEAK_CRITICAL_RATIO = 0.5


@dataclass(frozen=True)
class Circuit:
    """The air circuit. Pressures named gauge are gauge, all others absolute; conductances are ISO 6358 C.

    Args:
        grips_by: What makes the drive grip, ``spring`` or ``air``.
        valve: ``nc`` (no current, no air passes) or ``no``.
        reservoir_volume_m3: Volume of the reservoirs; nothing refills them [m3].
        supply_conductance_m3_per_s_pa: Reservoir to valve inlet, filter included [m3/(s Pa)].
        fill_conductance_m3_per_s_pa: Valve inlet to drive line [m3/(s Pa)].
        exhaust_conductance_m3_per_s_pa: Drive line to open air [m3/(s Pa)].
        line_length_m: Drive line, length [m].
        line_bore_m: Drive line, inside diameter [m].
        line_conductance_m3_per_s_pa: Drive line, with a critical ratio of 0 [m3/(s Pa)].
        dead_volume_m3: Air space of the drive at the start of the stroke, line not included [m3].
        piston_area_m2: Area the air pushes on [m2].
        stroke_m: Way of the piston between its stops [m].
        moving_mass_kg: Mass that moves with it [kg].
        preload_n: Spring force at the start of the stroke [N].
        stiffness_n_per_m: Rise of the spring force along the stroke [N/m].
        damping_n_s_per_m: Force by speed of the piston [N s/m].
        sliding_friction_n: Dry friction while it slides [N].
        breakaway_friction_n: Dry friction that must be overcome from rest, not below the sliding one [N].
        supply_gauge_pa: Air in the reservoirs at the start, gauge [Pa].
        supply_critical_ratio: Critical ratio of the supply [-].
        fill_critical_ratio: Critical ratio of the fill path [-].
        exhaust_critical_ratio: Critical ratio of the exhaust [-].
        inlet_volume_m3: Air space between supply path and valve; a very large one keeps the inlet constant
            [m3].
        seat_leak_m3_per_s_pa: Leak through the valve into the drive line [m3/(s Pa)].
        supply_leak_m3_per_s_pa: Leak into the open before the valve [m3/(s Pa)].
        line_leak_m3_per_s_pa: Leak of the drive line at the valve's end [m3/(s Pa)].
        seal_leak_m3_per_s_pa: Leak at the drive [m3/(s Pa)].
        leak_critical_ratio: Critical ratio of every leak [-].
        exponent: Exponent of the change of state of all but the reservoirs, 1 to 1.4 [-].
        wall_time_s: Time in which the air in the drive takes on the wall's temperature; infinite for never
            [s].
        send_delay_s: From the coil's change to the valve's start when it sends air [s].
        cut_delay_s: The same when it cuts air off [s].
        switch_time_s: Time the valve travels [s].
        least_opening: Share open when it should be shut [-].
        most_opening: Share open when it should be open [-].
        ambient_absolute_pa: The atmosphere, absolute [Pa].
        temperature_k: Temperature of supply, walls and surroundings [K].
        line_segments: Pieces the line is cut into; 0 hangs the drive straight on the valve [-].
        feed: Whether the wiring feeds the coil as told, never, or always.
        coil_open: Whether the coil is dead whatever feeds it.
        valve_swapped: Whether the valve does the opposite of its kind (wrong kind, or ports crossed).

    Raises:
        InputError: One message for each number outside its range.
    """

    grips_by: GripsBy
    valve: Valve
    reservoir_volume_m3: float
    supply_conductance_m3_per_s_pa: float
    fill_conductance_m3_per_s_pa: float
    exhaust_conductance_m3_per_s_pa: float
    line_length_m: float
    line_bore_m: float
    line_conductance_m3_per_s_pa: float
    dead_volume_m3: float
    piston_area_m2: float
    stroke_m: float
    moving_mass_kg: float
    preload_n: float
    stiffness_n_per_m: float
    damping_n_s_per_m: float
    sliding_friction_n: float
    breakaway_friction_n: float
    supply_gauge_pa: float
    supply_critical_ratio: float = 0.3
    fill_critical_ratio: float = 0.3
    exhaust_critical_ratio: float = 0.3
    inlet_volume_m3: float = INLET_VOLUME_M3
    seat_leak_m3_per_s_pa: float = 0.0
    supply_leak_m3_per_s_pa: float = 0.0
    line_leak_m3_per_s_pa: float = 0.0
    seal_leak_m3_per_s_pa: float = 0.0
    leak_critical_ratio: float = LEAK_CRITICAL_RATIO
    exponent: float = EXPONENT
    wall_time_s: float = math.inf
    send_delay_s: float = 0.02
    cut_delay_s: float = 0.02
    switch_time_s: float = 0.01
    least_opening: float = 0.0
    most_opening: float = 1.0
    ambient_absolute_pa: float = 101325.0
    temperature_k: float = 293.15
    line_segments: int = 1
    feed: Feed = "as_told"
    coil_open: bool = False
    valve_swapped: bool = False

    def __post_init__(self) -> None:
        shown = {name: Bound(entry[0], getattr(self, name), *entry[1:]) for name, entry in BOUNDS.items()}
        least, most = shown["least_opening"], shown["most_opening"]
        sliding, holding = shown["sliding_friction_n"], shown["breakaway_friction_n"]
        orders = [
            Order(low, high) for low, high in ((least, most), (sliding, holding)) if low.value > high.value
        ]
        check_part(
            "air circuit",
            [*shown.values(), Bound("line segments", self.line_segments, 0, 8)],
            orders,
            *not_one_of("grips_by", self.grips_by, ("spring", "air")),
            *not_one_of("valve", self.valve, ("nc", "no")),
            *not_one_of("feed", self.feed, ("as_told", "never", "always")),
        )

    def vector(self) -> NDArray[np.float64]:
        """Give the numbers in the solver's order, shape (35,) [SI]."""
        return np.array([getattr(self, name) for name in BOUNDS])

    def passes(self, told: bool, unplugged: bool = False, jumper: bool = False) -> bool:
        """Say whether the valve is moved to pass air.

        Args:
            told: Whether the controller wants air sent.
            unplugged: Whether the connector is off the coil.
            jumper: Whether the coil is fed by hand.
        """
        wired = {"as_told": told == (self.valve == "nc"), "never": False, "always": True}[self.feed]
        drawn = (jumper or (wired and not unplugged)) and not self.coil_open
        return (drawn == (self.valve == "nc")) != self.valve_swapped


def circuit_of(truck: Truck, supply_gauge_pa: float | None = None) -> Circuit:
    """Build the circuit of a sound truck.

    Args:
        truck: The truck.
        supply_gauge_pa: Air in its reservoirs, gauge; without it, cut-out pressure [Pa].

    Returns:
        The circuit; inlet volume, damping, friction, valve times and exponent are assumptions.

    Raises:
        InputError: A number lies outside its range.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> circuit_of(presets()["line-haul spring-on"]).valve
        'nc'
    """
    line, piston, spring = truck.air_line, truck.piston, truck.spring
    friction = FRICTION_SHARE * spring.preload_n
    return Circuit(
        grips_by=truck.grips_by,
        valve=truck.valve,
        reservoir_volume_m3=truck.supply.reservoir_volume_m3,
        supply_conductance_m3_per_s_pa=line.supply.conductance_m3_per_s_pa,
        supply_critical_ratio=line.supply.critical_ratio,
        fill_conductance_m3_per_s_pa=line.fill.conductance_m3_per_s_pa,
        fill_critical_ratio=line.fill.critical_ratio,
        exhaust_conductance_m3_per_s_pa=line.exhaust.conductance_m3_per_s_pa,
        exhaust_critical_ratio=line.exhaust.critical_ratio,
        line_length_m=line.length_m,
        line_bore_m=line.bore_m,
        line_conductance_m3_per_s_pa=tube_conductance(line.length_m, line.bore_m),
        dead_volume_m3=piston.dead_volume_m3,
        piston_area_m2=piston.area_m2,
        stroke_m=piston.stroke_m,
        moving_mass_kg=piston.moving_mass_kg,
        preload_n=spring.preload_n,
        stiffness_n_per_m=spring.stiffness_n_per_m,
        damping_n_s_per_m=2 * DAMPING_SHARE * math.sqrt(spring.stiffness_n_per_m * piston.moving_mass_kg),
        sliding_friction_n=friction,
        breakaway_friction_n=friction,
        supply_gauge_pa=truck.supply.cut_out_gauge_pa if supply_gauge_pa is None else supply_gauge_pa,
    )
