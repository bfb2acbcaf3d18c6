"""Nothing false is said of a drive whose piston stands still, leaks much, or whose trace is very long."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fanwright.desk.assess import assess_visit
from fanwright.evidence.trace import reader
from fanwright.evidence.trace.identify import identify
from fanwright.evidence.trace.identify_machine import machine_of, machine_of_volumes
from fanwright.evidence.trace.identify_result import Identified, Interval
from fanwright.evidence.trace.maker import examine, read_trace
from fanwright.evidence.trace.reader import Oddities, RawTrace
from fanwright.truck.loader import presets
from fanwright.virtual.air import Circuit, circuit_of, cycles, with_faults
from fanwright.virtual.logger import PSI, Logger, simulate_trace, write_csv
from fanwright.virtual.story import Story

PRESET = "line-haul spring-on"
DEAD_M3, AREA_M2, STROKE_M = 2.0e-4, 0.021, 2.5e-3
HOLD_LAST = Story(27.0, ((1.0, 4.0), (8.0, 11.0), (15.0, 27.0)), shut=((19.0, 26.0),), settle_s=2.0)


def found(circuit: Circuit, machine: Any, story: Story, noise_psi: float = 0.3) -> Identified:
    one = simulate_trace(circuit, story, Logger(100.0, noise_psi * PSI, 0.1 * PSI, seed=5))
    columns = (one.time_s, one.supply_gauge_pa, one.drive_gauge_pa, one.air_sent, one.shut)
    return identify(examine(RawTrace("made.csv", "0" * 64, 0.01, *columns, Oddities(), ())), machine)


def holds(interval: Interval | None, truth: float) -> bool:
    return interval is not None and interval.low <= truth <= interval.high


@pytest.mark.parametrize("arrived", [False, True])
def test_a_piston_that_stands_still_is_not_given_a_lift_off(arrived: bool) -> None:
    machine = machine_of_volumes(DEAD_M3, AREA_M2, STROKE_M)
    dead = DEAD_M3 + (AREA_M2 * STROKE_M if arrived else 0.0)
    circuit = replace(machine.circuit, dead_volume_m3=dead, preload_n=8.0e4)
    said = found(circuit, machine, cycles(2, 5.0, 5.0))
    assert (said.lift_off_pa, said.full_stroke_pa, said.friction_pa) == (None, None, None)
    assert holds(said.fill, circuit.fill_conductance_m3_per_s_pa)
    assert holds(said.exhaust, circuit.exhaust_conductance_m3_per_s_pa)
    assert not {"lift_off", "full_stroke"} & set(said.alike)
    assert any("Where the piston begins to move" in one.template for one in said.cannot_tell)


def test_a_large_leak_that_only_the_last_cycle_shows_apart() -> None:
    truck = presets()[PRESET]
    circuit = with_faults(circuit_of(truck, 118.0 * PSI), {"drive_seal_leaks": 0.6})
    machine = machine_of(truck)
    said = found(circuit, machine, HOLD_LAST)
    truth, _ = machine.with_line(circuit.fill_conductance_m3_per_s_pa, 0.3, fills=True)
    assert said.fill is not None
    assert said.fill.value == pytest.approx(truth, rel=0.12)
    assert said.leak is not None
    assert said.leak.value == pytest.approx(circuit.seal_leak_m3_per_s_pa, rel=0.15)


@pytest.fixture
def visit_file(tmp_path: Path, root: Path) -> Path:
    return Path(shutil.copy(root / "examples" / "demo" / "202.toml", tmp_path))


@pytest.mark.parametrize(("weak", "verdict"), [(0.0, "good"), (0.4, "act_now")])
def test_a_visit_is_told_where_the_piston_lifts(visit_file: Path, weak: float, verdict: str) -> None:
    circuit = with_faults(circuit_of(presets()[PRESET], 118.0 * PSI), {"clamp_spring_weak": weak})
    write_csv(simulate_trace(circuit, cycles(2, 4.0, 5.0)), visit_file.parent / "202-air.csv")
    verdicts = {one.test: one for one in assess_visit(visit_file).assessment.verdicts}
    judged = verdicts["lift_off_pressure"]
    assert (judged.verdict, judged.reading.origin) == (verdict, "trace")


def test_volumes_are_not_guessed_for_a_visit_without_a_preset(visit_file: Path) -> None:
    written = visit_file.read_text("utf-8")
    visit_file.write_text(written.replace(f'preset = "{PRESET}"\n', ""), "utf-8")
    assert visit_file.read_text("utf-8") != written
    circuit = circuit_of(presets()[PRESET], 118.0 * PSI)
    write_csv(simulate_trace(circuit, cycles(2, 4.0, 5.0)), visit_file.parent / "202-air.csv")
    assessment = assess_visit(visit_file).assessment
    tests = {one.test for one in assessment.verdicts} | {one.test for one in assessment.not_judged}
    assert "lift_off_pressure" not in tests


def test_a_very_long_trace_is_held_in_single_precision_and_says_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "long.csv"
    write_csv(simulate_trace(circuit_of(presets()[PRESET], 118.0 * PSI), HOLD_LAST), path)
    short = read_trace(path)
    monkeypatch.setattr(reader, "LONG_ROWS", 1000)
    long = read_trace(path)
    assert long.exhibit.drive_gauge_pa.dtype == np.float32
    assert (long.exhibit.time_s.dtype, short.exhibit.drive_gauge_pa.dtype) == (np.float64, np.float64)
    assert long.exhibit.shut is not None
    assert short.exhibit.shut is not None
    assert np.array_equal(long.exhibit.shut, short.exhibit.shut)
    for one, other in zip(long.evidence.readings, short.evidence.readings, strict=True):
        assert one.test == other.test
        if one.measured is not None and other.measured is not None:
            assert one.measured.si == pytest.approx(other.measured.si, rel=1e-6, abs=0.2)
