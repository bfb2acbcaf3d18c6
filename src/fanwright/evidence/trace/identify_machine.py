"""What is known of the drive whose air circuit is identified: its volumes, and a healthy one beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fanwright.laws.air import Element, series_conductance
from fanwright.truck.checks import Bound, check_part
from fanwright.truck.model import Truck
from fanwright.virtual.circuit import Circuit, circuit_of

VOLUME_OFF = 0.10  # how far given volumes may lie from the true ones, either way; assumption
PLAIN_SUPPLY_PA = 8.3e5
PLAIN_LIFT_OFF_PA, PLAIN_SPAN_PA = 3.0e5, 1.2e5
PLAIN_MASS_KG, PLAIN_DAMPING_SHARE = 1.5, 0.1
PLAIN_RESERVOIR_M3 = 0.08
PLAIN_CONDUCTANCE, PLAIN_SUPPLY_CONDUCTANCE = 4.0e-9, 1.5e-8
LARGEST = 1.0e-6


@dataclass(frozen=True)
class Machine:
    """The drive a trace was taken on.

    Args:
        circuit: Its air circuit; the volumes are taken from it, the rest is where the search begins.
        preset: Name of the healthy truck it is compared with; empty where only volumes are known.
    """

    circuit: Circuit
    preset: str = ""

    @property
    def line_volume_m3(self) -> float:
        """Air space of the drive line [m3]."""
        if not self.circuit.line_segments:
            return 0.0
        return 0.25 * math.pi * self.circuit.line_bore_m**2 * self.circuit.line_length_m

    def with_line(self, conductance_m3_per_s_pa: float, critical_ratio: float, *, fills: bool) -> Element:
        """Put the drive line in series with the valve: the whole path between the gauge and its other end.

        Args:
            conductance_m3_per_s_pa: Of the valve's path [m3/(s Pa)].
            critical_ratio: Of the valve's path [-].
            fills: Whether the air passes the valve first.

        Returns:
            Conductance [m3/(s Pa)] and critical ratio [-] of both together.
        """
        if not self.circuit.line_segments:
            return conductance_m3_per_s_pa, critical_ratio
        line = (self.circuit.line_conductance_m3_per_s_pa, 0.0)
        valve = (conductance_m3_per_s_pa, critical_ratio)
        return series_conductance([valve, line] if fills else [line, valve])


def machine_of(truck: Truck) -> Machine:
    """Take the machine from a truck, drive line included.

    Args:
        truck: The truck.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> round(machine_of(presets()["line-haul spring-on"]).line_volume_m3 * 1e6, 1)
        79.2
    """
    return Machine(circuit_of(truck), truck.preset)


def machine_of_volumes(dead_volume_m3: float, piston_area_m2: float, stroke_m: float) -> Machine:
    """Take a machine of which only the volumes are known.

    Args:
        dead_volume_m3: All air space from the valve to the piston at the start of its stroke, line and gauge
            fittings included [m3].
        piston_area_m2: Area the air pushes on [m2].
        stroke_m: Way of the piston [m].

    Raises:
        InputError: A number cannot be that of a fan drive; every mistake.

    Example:
        >>> machine_of_volumes(2e-4, 0.02, 2.5e-3).preset
        ''
    """
    check_part(
        "drive",
        [
            Bound("dead volume", dead_volume_m3, 5e-6, 1e-2, "volume"),
            Bound("piston area", piston_area_m2, 1e-4, 0.2, "area"),
            Bound("stroke", stroke_m, 2e-4, 0.05, "length"),
        ],
    )
    stiffness = PLAIN_SPAN_PA * piston_area_m2 / stroke_m
    return Machine(
        Circuit(
            grips_by="spring",
            valve="nc",
            reservoir_volume_m3=PLAIN_RESERVOIR_M3,
            supply_conductance_m3_per_s_pa=PLAIN_SUPPLY_CONDUCTANCE,
            fill_conductance_m3_per_s_pa=PLAIN_CONDUCTANCE,
            exhaust_conductance_m3_per_s_pa=2.0 * PLAIN_CONDUCTANCE,
            line_length_m=1.0,
            line_bore_m=6e-3,
            line_conductance_m3_per_s_pa=LARGEST,
            dead_volume_m3=dead_volume_m3,
            piston_area_m2=piston_area_m2,
            stroke_m=stroke_m,
            moving_mass_kg=PLAIN_MASS_KG,
            preload_n=PLAIN_LIFT_OFF_PA * piston_area_m2,
            stiffness_n_per_m=stiffness,
            damping_n_s_per_m=2.0 * PLAIN_DAMPING_SHARE * math.sqrt(stiffness * PLAIN_MASS_KG),
            sliding_friction_n=0.0,
            breakaway_friction_n=0.0,
            supply_gauge_pa=PLAIN_SUPPLY_PA,
            line_segments=0,
        )
    )
