"""Heat, work and fuel from a recording against sums written out here from the laws."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fanwright.evidence.recording import DriveFigures, read_recording
from fanwright.laws.clutch import slip_energy_j
from fanwright.laws.fan import fuel_m3, load_constant

Write = Callable[[str | bytes, str], Path]
RPM = math.pi / 30
FIGURES = DriveFigures(1.1, 0.5, 120.0, 18e3, 2100 * RPM)


def test_heat_work_and_fuel(bus: Any, written: Write) -> None:
    bus.engine(0, 300, 1400)
    bus.engine(300, 600, 1800)
    bus.fan(0, 100, 0)
    bus.fan(100, 200, 4)
    bus.fan(200, 400, 0)
    bus.fan(400, 450, 4)
    bus.fan(450, 600, 0)
    result = read_recording([written(bus.text(), "a.log")], figures=FIGURES)
    load = load_constant(18e3, 2100 * RPM)
    slips = [slip_energy_j(120.0, 0.5, load, rpm * 1.1 * RPM) for rpm in (1400, 1800)]
    works = [load * (rpm * 1.1 * RPM) ** 3 * time for rpm, time in ((1400, 100), (1800, 50))]
    assert [run.slip_energy_j for run in result.runs] == pytest.approx(slips)
    assert [run.fan_energy_j for run in result.runs] == pytest.approx(works)
    assert result.slip_energy_j == pytest.approx(sum(slips))
    assert result.fuel_m3 == pytest.approx(fuel_m3(sum(works) + sum(slips)))


def test_thin_air_takes_less(bus: Any, written: Write) -> None:
    bus.engine(0, 100, 1400)
    bus.fan(0, 50, 0)
    bus.fan(50, 100, 4)
    plain = read_recording([written(bus.text(), "a.log")], figures=FIGURES)
    bus.every_second(0, 100, 0x18FEF500, "A0FFFFA025FFFFFF")  # 80 kPa, 28 degC
    thin = read_recording([written(bus.text(), "b.log")], figures=FIGURES)
    ratio = 80e3 / (287.05287 * (273.15 + 28.0)) / 1.2
    assert thin.fan_energy_j == pytest.approx((plain.fan_energy_j or 0) * ratio, rel=1e-6)


def test_a_drive_too_weak_to_lock_slips_all_the_time(bus: Any, written: Write) -> None:
    bus.engine(0, 700, 1900)
    bus.fan(0, 50, 0)
    bus.fan(50, 650, 4)
    bus.fan(650, 700, 0)
    weak = DriveFigures(1.1, 0.5, 40.0, 18e3, 2100 * RPM)
    result = read_recording([written(bus.text(), "a.log")], figures=weak)
    settled = math.sqrt(40.0 / load_constant(18e3, 2100 * RPM))
    steady = 40.0 * (1900 * 1.1 * RPM - settled) * 600.0
    assert result.slip_energy_j == pytest.approx(steady, rel=0.02)
    assert result.fan_energy_j == pytest.approx(40.0 * settled * 600.0, rel=1e-6)


def test_without_figures_nothing_is_made_up(bus: Any, written: Write) -> None:
    bus.engine(0, 100, 1400)
    bus.fan(0, 100, 4)
    result = read_recording([written(bus.text(), "a.log")])
    assert result.slip_energy_j is None
    assert result.fuel_m3 is None


def test_slip_and_drag_from_a_fan_speed_sensor(bus: Any, written: Write) -> None:
    bus.engine(0, 1200, 1500)
    for second in range(1200):
        on = 300 <= second < 900
        rpm = 1500 * 1.1 * (0.93 if on else 0.4)
        raw = round(rpm * 8).to_bytes(2, "little")
        bus.send(second, 0x18FEBD00, bytes([250 if on else 0, 0xF4 if on else 0xF0]) + raw + b"\xff" * 4)
    result = read_recording([written(bus.text(), "a.log")], figures=FIGURES)
    measured = {one.test: one.measured for one in result.evidence.readings if one.measured}
    assert measured["fan_speed_on"].si == pytest.approx(0.93, abs=0.001)
    assert measured["fan_speed_off"].si == pytest.approx(0.4, abs=0.001)


def test_a_sensor_that_is_always_nothing_is_no_sensor(bus: Any, written: Write) -> None:
    bus.engine(0, 1200, 1500)
    for second in range(1200):
        bus.send(second, 0x18FEBD00, "FAF40000FFFFFFFF")
    result = read_recording([written(bus.text(), "a.log")], figures=FIGURES)
    assert not any(one.test.startswith("fan_speed") for one in result.evidence.readings)
    assert any("no fan speed" in one.template for one in result.evidence.cannot_tell)
