"""The machine as frozen parts that check themselves: what a part is, not what it does.

Every part holds SI floats. A part outside its bounds is refused at once, with every wrong field named.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from fanwright.catalogue.model import GripsBy, Valve
from fanwright.truck.checks import Bound, Order, check_part, not_one_of


@dataclass(frozen=True)
class Facing:
    """The friction ring that wears.

    Args:
        new_m: Thickness when new [m].
        limit_m: Thickness at which it is renewed [m].
        watch_m: Thickness from which it is watched [m].
        inner_radius_m: Inner radius of the ring [m].
        outer_radius_m: Outer radius of the ring [m].
        faces: Friction faces that work at once [-].
    """

    new_m: float
    limit_m: float
    watch_m: float
    inner_radius_m: float
    outer_radius_m: float
    faces: int

    def __post_init__(self) -> None:
        new = Bound("new thickness", self.new_m, 0.001, 0.05, "length")
        limit = Bound("limit", self.limit_m, 0.0005, 0.05, "length")
        watch = Bound("watch thickness", self.watch_m, 0.0005, 0.05, "length")
        inner = Bound("inner radius", self.inner_radius_m, 0.01, 0.4, "length")
        outer = Bound("outer radius", self.outer_radius_m, 0.02, 0.5, "length")
        check_part(
            "facing",
            [new, limit, watch, inner, outer, Bound("faces", self.faces, 1, 8)],
            [Order(limit, watch), Order(watch, new), Order(inner, outer)],
        )


@dataclass(frozen=True)
class Piston:
    """The air chamber of the drive and what moves in it.

    Args:
        area_m2: Area the air pushes on [m2].
        stroke_m: Way from gripping to fully let go, or the other way round [m].
        dead_volume_m3: Air space of the chamber at the start of the stroke, line not included [m3].
        moving_mass_kg: Mass that moves with it [kg].
    """

    area_m2: float
    stroke_m: float
    dead_volume_m3: float
    moving_mass_kg: float

    def __post_init__(self) -> None:
        check_part(
            "piston",
            [
                Bound("area", self.area_m2, 5e-4, 0.2, "area"),
                Bound("stroke", self.stroke_m, 2e-4, 0.05, "length"),
                Bound("dead volume", self.dead_volume_m3, 1e-6, 5e-3, "volume"),
                Bound("moving mass", self.moving_mass_kg, 0.05, 50.0, "mass"),
            ],
        )


@dataclass(frozen=True)
class Spring:
    """The spring that works against the air.

    Args:
        preload_n: Force at the start of the stroke [N].
        stiffness_n_per_m: Rise of force along the stroke [N/m].
    """

    preload_n: float
    stiffness_n_per_m: float


@dataclass(frozen=True)
class FlowPath:
    """A path of air by its two ISO 6358 numbers.

    Args:
        conductance_m3_per_s_pa: Sonic conductance C [m3/(s Pa)].
        critical_ratio: Critical pressure ratio b [-].
    """

    conductance_m3_per_s_pa: float
    critical_ratio: float

    def __post_init__(self) -> None:
        check_part(
            "flow path",
            [
                Bound("conductance", self.conductance_m3_per_s_pa, 1e-11, 1e-6, "conductance"),
                Bound("critical pressure ratio", self.critical_ratio, 0.0, 0.6),
            ],
        )


@dataclass(frozen=True)
class AirLine:
    """The way of the air from the reservoir to the drive and out again.

    Args:
        length_m: Length of the line from valve to drive [m].
        bore_m: Its inner diameter [m].
        supply: From the reservoir through the filter to the valve inlet.
        fill: Through the valve into the drive line.
        exhaust: From the drive line through the valve to the open air.
    """

    length_m: float
    bore_m: float
    supply: FlowPath
    fill: FlowPath
    exhaust: FlowPath

    def __post_init__(self) -> None:
        check_part(
            "air line",
            [
                Bound("length", self.length_m, 0.05, 30.0, "length"),
                Bound("bore", self.bore_m, 0.001, 0.03, "length"),
            ],
        )


@dataclass(frozen=True)
class Supply:
    """The truck's own air.

    Args:
        reservoir_volume_m3: Volume of the reservoirs that feed the drive [m3].
        cut_in_gauge_pa: Where the compressor starts, gauge [Pa].
        cut_out_gauge_pa: Where it stops, gauge [Pa].
    """

    reservoir_volume_m3: float
    cut_in_gauge_pa: float
    cut_out_gauge_pa: float

    def __post_init__(self) -> None:
        cut_in = Bound("cut-in", self.cut_in_gauge_pa, 3e5, 1.2e6, "pressure")
        cut_out = Bound("cut-out", self.cut_out_gauge_pa, 4e5, 1.3e6, "pressure")
        check_part(
            "supply",
            [Bound("reservoir volume", self.reservoir_volume_m3, 1e-3, 1.0, "volume"), cut_in, cut_out],
            [Order(cut_in, cut_out)],
        )


@dataclass(frozen=True)
class Fan:
    """The cooling fan.

    Args:
        diameter_m: Across the blade tips [m].
        inertia_kg_m2: Moment of inertia of fan and whatever turns with it [kg m2].
        power_w: Power it takes at one speed, sea level, 20 °C [W].
        speed_rad_s: That speed [rad/s].
        blades: Number of blades [-].
    """

    diameter_m: float
    inertia_kg_m2: float
    power_w: float
    speed_rad_s: float
    blades: int

    def __post_init__(self) -> None:
        check_part(
            "fan",
            [
                Bound("diameter", self.diameter_m, 0.2, 2.0, "length"),
                Bound("moment of inertia", self.inertia_kg_m2, 0.01, 20.0, "inertia"),
                Bound("power", self.power_w, 100.0, 2e5, "power"),
                Bound("speed at that power", self.speed_rad_s, 20.0, 600.0, "rotation"),
                Bound("blades", self.blades, 2, 24),
            ],
        )

    @property
    def radius_m(self) -> float:
        """Radius at the blade tips, where rim play is read [m]."""
        return self.diameter_m / 2.0


@dataclass(frozen=True)
class Belt:
    """The belt that turns the drive.

    Args:
        mass_per_length_kg_m: Mass of one metre of the whole belt [kg/m].
        span_m: Free length of the span that is plucked [m].
        tension_n: Tension it should have at rest [N].
        ribs: Number of ribs [-].
    """

    mass_per_length_kg_m: float
    span_m: float
    tension_n: float
    ribs: int

    def __post_init__(self) -> None:
        check_part(
            "belt",
            [
                Bound("mass per length", self.mass_per_length_kg_m, 0.001, 2.0, "mass_per_length"),
                Bound("free span", self.span_m, 0.05, 3.0, "length"),
                Bound("tension", self.tension_n, 20.0, 10_000.0, "force"),
                Bound("ribs", self.ribs, 1, 24),
            ],
        )


@dataclass(frozen=True)
class Bearings:
    """The hub bearing that carries the fan, by the numbers its sound depends on.

    Args:
        balls: Number of balls [-].
        ball_diameter_m: Diameter of a ball [m].
        pitch_diameter_m: Diameter of the circle of ball centres [m].
    """

    balls: int
    ball_diameter_m: float
    pitch_diameter_m: float

    def __post_init__(self) -> None:
        ball = Bound("ball diameter", self.ball_diameter_m, 0.001, 0.1, "length")
        pitch = Bound("pitch diameter", self.pitch_diameter_m, 0.005, 0.5, "length")
        check_part("hub bearing", [Bound("balls", self.balls, 3, 60), ball, pitch], [Order(ball, pitch)])


@dataclass(frozen=True)
class Coil:
    """The coil of the valve.

    Args:
        least_ohm: Least resistance of a sound one at 20 °C [ohm].
        most_ohm: Most resistance of a sound one at 20 °C [ohm].
    """

    least_ohm: float
    most_ohm: float

    def __post_init__(self) -> None:
        least = Bound("least resistance", self.least_ohm, 0.5, 1_000.0, "resistance")
        most = Bound("most resistance", self.most_ohm, 0.5, 2_000.0, "resistance")
        check_part("coil", [least, most], [Order(least, most)])


@dataclass(frozen=True)
class Controller:
    """The settings the fleet wants in the engine controller.

    Args:
        least_ac_run_s: Shortest run of the fan for the air conditioning [s].
        fan_with_engine_brake: Whether the fan is told on with the engine brake.
        on_temperature_k: Coolant temperature at which the fan is told on, absolute [K].
        off_temperature_k: Coolant temperature at which it is told off, absolute [K].
    """

    least_ac_run_s: float
    fan_with_engine_brake: bool
    on_temperature_k: float
    off_temperature_k: float

    def __post_init__(self) -> None:
        on = Bound("fan on", self.on_temperature_k, 323.15, 403.15, "temperature")
        off = Bound("fan off", self.off_temperature_k, 313.15, 403.15, "temperature")
        check_part(
            "controller",
            [
                Bound("shortest run for the air conditioning", self.least_ac_run_s, 0.0, 1_800.0, "time"),
                on,
                off,
            ],
            [Order(off, on)],
        )


@dataclass(frozen=True)
class Truck:
    """One kind of truck: the drive, the air that works it, and what it turns.

    Args:
        preset: Name of the preset its numbers come from.
        grips_by: What makes the drive grip: ``spring`` (air lets go) or ``air`` (a spring lets go).
        valve: ``nc`` (no current, no air passes) or ``no`` (no current, air passes).
        volts: Nominal voltage, 12 or 24 [V].
        lift_off_gauge_pa: Air at which the drive begins to change state, gauge [Pa].
        full_stroke_gauge_pa: Air at which it has changed fully, gauge [Pa].
        clutch_torque_n_m: Torque it holds when it grips: by its spring, or with 90 psi of air [N m].
        pulley_ratio: Speed of the drive's pulley in turns of the engine [-].
        facing: The friction ring.
        piston: The air chamber.
        air_line: The paths of the air.
        supply: The truck's own air.
        fan: The fan.
        belt: The belt.
        bearings: The hub bearing.
        coil: The coil of the valve.
        controller: The controller's settings.
        sources: Where each number comes from, by its place in the preset such as ``facing.new``.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> round(presets()["line-haul spring-on"].facing.new_m * 1000, 5)
        8.73125
    """

    preset: str
    grips_by: GripsBy
    valve: Valve
    volts: float
    lift_off_gauge_pa: float
    full_stroke_gauge_pa: float
    clutch_torque_n_m: float
    pulley_ratio: float
    facing: Facing
    piston: Piston
    air_line: AirLine
    supply: Supply
    fan: Fan
    belt: Belt
    bearings: Bearings
    coil: Coil
    controller: Controller
    sources: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        lift_off = Bound("lift-off pressure", self.lift_off_gauge_pa, 1e4, 1e6, "pressure")
        full_stroke = Bound("full-stroke pressure", self.full_stroke_gauge_pa, 1e4, 1.2e6, "pressure")
        check_part(
            "drive",
            [
                lift_off,
                full_stroke,
                Bound("clutch torque", self.clutch_torque_n_m, 5.0, 5_000.0, "torque"),
                Bound("pulley ratio", self.pulley_ratio, 0.3, 3.0),
            ],
            [Order(lift_off, full_stroke)],
            *not_one_of("grips_by", self.grips_by, ("spring", "air")),
            *not_one_of("valve", self.valve, ("nc", "no")),
            *not_one_of("volts", self.volts, (12.0, 24.0)),
        )
        object.__setattr__(self, "sources", MappingProxyType(dict(self.sources)))

    @property
    def spring(self) -> Spring:
        """The spring that the lift-off and full-stroke pressures speak of, by the balance of forces."""
        preload_n = self.lift_off_gauge_pa * self.piston.area_m2
        full_n = self.full_stroke_gauge_pa * self.piston.area_m2
        return Spring(preload_n, (full_n - preload_n) / self.piston.stroke_m)
