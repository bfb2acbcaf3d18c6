"""The presets: whole, sourced, and physically sensible together."""

from __future__ import annotations

import math

import pytest

from fanwright.truck.loader import presets
from fanwright.truck.model import FlowPath, Truck

PSI = 6894.757293168
AIR_PA = 101325.0
NAMES = {
    "line-haul spring-on": ("spring", "nc", 12),
    "line-haul air-on": ("air", "no", 12),
    "regional spring-on": ("spring", "nc", 12),
    "city spring-on": ("spring", "nc", 12),
    "vocational spring-on": ("spring", "nc", 12),
    "mountain spring-on": ("spring", "nc", 12),
    "line-haul spring-on 24 V": ("spring", "nc", 24),
    "line-haul spring-on no": ("spring", "no", 12),
    "line-haul air-on nc": ("air", "nc", 12),
}
each_preset = pytest.mark.parametrize("truck", presets().values(), ids=presets().keys())


def test_names_and_arrangements():
    assert {name: (t.grips_by, t.valve, t.volts) for name, t in presets().items()} == NAMES
    assert all(truck.preset == name for name, truck in presets().items())


def numbers_of(thing: object) -> int:
    fields = getattr(thing, "__dataclass_fields__", {})
    values = [
        getattr(thing, name) for name in fields if name not in ("preset", "grips_by", "valve", "sources")
    ]
    return sum(1 if isinstance(value, int | float) else numbers_of(value) for value in values)


@each_preset
def test_each_number_has_a_source(truck: Truck):
    assert len(truck.sources) == numbers_of(truck) > 40
    assert all(source.strip() for source in truck.sources.values())


@each_preset
def test_the_limits_of_the_trade(truck: Truck):
    assert truck.facing.new_m == pytest.approx(11 / 32 * 0.0254)
    assert truck.facing.limit_m == pytest.approx(0.25 * 0.0254)
    assert truck.facing.watch_m == pytest.approx(0.280 * 0.0254)
    assert truck.full_stroke_gauge_pa < 90 * PSI
    assert truck.controller.least_ac_run_s >= 60
    assert truck.supply.cut_in_gauge_pa >= 100 * PSI  # 49 CFR 571.121 S5.1.1.1, trucks
    assert truck.supply.cut_out_gauge_pa <= 135 * PSI  # 49 CFR 570.57(a)(4)
    if truck.grips_by == "spring":
        assert 55 * PSI <= truck.lift_off_gauge_pa <= 70 * PSI


@each_preset
def test_the_drive_holds_its_fan_with_a_believable_friction(truck: Truck):
    force_n = truck.spring.preload_n
    if truck.grips_by == "air":
        force_n = (90 * PSI - truck.full_stroke_gauge_pa) * truck.piston.area_m2
    mean_radius_m = (truck.facing.inner_radius_m + truck.facing.outer_radius_m) / 2
    friction = truck.clutch_torque_n_m / (truck.facing.faces * force_n * mean_radius_m)
    assert 0.2 <= friction <= 0.4  # dry friction of clutch facings, from memory
    fastest_rad_s = 2100 * truck.pulley_ratio * math.pi / 30
    fan_torque = truck.fan.power_w / truck.fan.speed_rad_s * (fastest_rad_s / truck.fan.speed_rad_s) ** 2
    assert fan_torque < truck.clutch_torque_n_m


def flow(path: FlowPath, upstream: float, downstream: float) -> float:
    """Volume flow of ISO 6358, times its reference pressure: Pa m3/s."""
    ratio = downstream / upstream
    if ratio >= 1.0:
        return 0.0
    above = max(0.0, (ratio - path.critical_ratio) / (1 - path.critical_ratio))
    return path.conductance_m3_per_s_pa * upstream * math.sqrt(1 - above**2) * 1.185 * 287.05287 * 293.15


def in_series(truck: Truck, path: FlowPath) -> FlowPath:
    """Hand rule of squares, with the line as a tube of friction factor 0.02 (common teaching values)."""
    line = truck.air_line
    tube = (math.pi * line.bore_m**2 / 4) / (
        1.185 * math.sqrt(287.05287 * 293.15 * 0.02 * line.length_m / line.bore_m)
    )
    others = [tube] if path is line.exhaust else [tube, line.supply.conductance_m3_per_s_pa]
    total = sum(1 / c**2 for c in (path.conductance_m3_per_s_pa, *others)) ** -0.5
    return FlowPath(total, path.critical_ratio)


def time_s(truck: Truck, filling: bool, exponent: float, supply_gauge_pa: float) -> float:
    """March of a quasi-static piston in small steps, independent of the program's own simulation."""
    path = in_series(truck, truck.air_line.fill if filling else truck.air_line.exhaust)
    line_m3 = math.pi * truck.air_line.bore_m**2 / 4 * truck.air_line.length_m
    gauge, aim, elapsed, step = (0.0, 90 * PSI, 0.0, 5e-4) if filling else (90 * PSI, 2 * PSI, 0.0, 5e-4)
    span = truck.full_stroke_gauge_pa - truck.lift_off_gauge_pa
    while (gauge < aim) == filling and elapsed < 5.0:
        moved = min(1.0, max(0.0, (gauge - truck.lift_off_gauge_pa) / span)) * truck.piston.stroke_m
        moving = truck.piston.stroke_m / span if 0.0 < moved < truck.piston.stroke_m else 0.0
        volume = line_m3 + truck.piston.dead_volume_m3 + truck.piston.area_m2 * moved
        inside = gauge + AIR_PA
        rate = flow(path, supply_gauge_pa + AIR_PA, inside) if filling else -flow(path, inside, AIR_PA)
        gauge += step * exponent * rate / (volume + exponent * inside * truck.piston.area_m2 * moving)
        elapsed += step
    return elapsed


@each_preset
@pytest.mark.parametrize("supply_psi", [118, 120])
def test_a_sound_circuit_fills_and_vents_in_time(truck: Truck, supply_psi: float):
    for exponent in (1.1, 1.2, 1.3):
        fill, vent = (time_s(truck, filling, exponent, supply_psi * PSI) for filling in (True, False))
        assert 0.4 <= fill <= 0.8
        assert 0.4 <= vent <= 0.8
