"""What is read out of a recording as readings, and what becomes of them in a visit."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fanwright.cli.duty import command
from fanwright.desk.assess import assess_visit
from fanwright.desk.duty import read_duty
from fanwright.desk.new_visit import new_visit
from fanwright.evidence.recording import read_recording
from fanwright.truck.loader import presets
from fanwright.virtual.traffic import DayStory, make_day

Write = Callable[[str | bytes, str], Path]
INVENTED = "INVENTED000000214"
VISIT = """
[truck]
unit = "214"
preset = "line-haul spring-on"
{vin}
[visit]
date = 2026-04-14
kind = "complaint"
[files]
recording = "drive.log"
"""


@pytest.fixture(scope="module")
def day_of_another_truck() -> str:
    return make_day(
        DayStory(3, 0.4, "town", 33.0, "set_ac_time_short", engine_every_s=1.0, vehicle_number=INVENTED)
    ).text()


@pytest.mark.parametrize(
    ("vin", "refused"),
    [('vin = "INVENTED000000999"', True), (f'vin = "{INVENTED.lower()}"', False), ("", False)],
)
def test_a_recording_of_another_truck_is_not_judged(
    vin: str, refused: bool, day_of_another_truck: str, written: Write, tmp_path: Path
) -> None:
    written(day_of_another_truck, "drive.log")
    visit = tmp_path / "visit.toml"
    visit.write_text(VISIT.format(vin=vin), "utf-8")
    found = assess_visit(visit).assessment
    judged = {one.test: one.verdict for one in found.verdicts if one.test.startswith("recording_")}
    kept = [one for one in found.not_judged if one.test.startswith("recording_")]
    if refused:
        assert judged == {}
        assert {one.test for one in kept} >= {"recording_runs", "recording_grip_rate"}
        assert all("another truck" in one.why.template for one in kept)
        assert all(INVENTED not in str(one) for one in kept)
        assert found.overall == "not_judged"
    else:
        assert kept == []
        assert judged["recording_ac_run_median"] == "act_now"
        assert judged["recording_ac_run_spread"] == "none"
        assert judged["recording_grip_rate"] == "watch"


def _values(bus: Any, written: Write) -> dict[str, float]:
    found = read_recording([written(bus.text(), "drive.log")], truck=presets()["line-haul spring-on"])
    return {one.test: one.measured.si for one in found.evidence.readings if one.measured is not None}


def _temperatures(bus: Any, coolant_c: Callable[[int], float], charge_c: Callable[[int], float]) -> None:
    for second in range(1200):
        bus.send(second, 0x18FEEE00, bytes([round(coolant_c(second)) + 40]) + b"\xff" * 7)
        bus.send(second, 0x18FEF600, b"\xff\xff" + bytes([round(charge_c(second)) + 40]) + b"\xff" * 5)


def _one_run(bus: Any, state: int) -> None:
    bus.engine(0, 1200, 1400.0, every_s=1.0)
    bus.fan(0, 500, 0)
    bus.fan(500, 900, state)
    bus.fan(900, 1200, 0)


def test_a_rise_while_told_on_is_measured(bus: Any, written: Write) -> None:
    _one_run(bus, 4)
    _temperatures(bus, lambda s: 92 + max(0, s - 500) / 60, lambda s: 50 + max(0, s - 500) / 30)
    values = _values(bus, written)
    assert values["recording_coolant_rise"] * 60 == pytest.approx(1.0, abs=0.05)
    assert values["recording_charge_air_rise"] * 60 == pytest.approx(2.0, abs=0.05)
    assert values["recording_grip_rate"] * 3600 == pytest.approx(3.0, abs=0.02)


def test_an_engine_that_warms_up_is_no_rise(bus: Any, written: Write) -> None:
    """The fan is told on for the air conditioning while a cold engine warms: no fault of the cooling."""
    _one_run(bus, 11)
    _temperatures(bus, lambda s: 20 + s * 60 / 1200, lambda s: 20 + s / 60)
    values = _values(bus, written)
    assert "recording_coolant_rise" not in values
    assert "recording_charge_air_rise" not in values


def test_charge_air_rising_in_a_run_for_the_air_conditioning_is_the_hill(bus: Any, written: Write) -> None:
    _one_run(bus, 11)
    _temperatures(bus, lambda s: 92, lambda s: 40 + s / 60)
    values = _values(bus, written)
    assert values["recording_coolant_rise"] == pytest.approx(0.0, abs=1e-4)
    assert "recording_charge_air_rise" not in values


def test_under_a_quarter_of_an_hour_nothing_is_said(bus: Any, written: Write) -> None:
    bus.engine(0, 600, 1400.0, every_s=1.0)
    bus.fan(0, 300, 0)
    bus.fan(300, 600, 11)
    assert _values(bus, written) == {}


def test_nobody_is_asked_to_type_them(tmp_path: Path) -> None:
    body = new_visit(tmp_path / "v.toml", "214", "complaint", None, dt.date(2026, 4, 14)).read_text("utf-8")
    assert "# recording_runs = " in body
    assert "recording_grip_rate" not in body
    assert "recording_air_low" not in body


def _conditioning(bus: Any, lengths: list[int]) -> None:
    at = 0
    for length in lengths:
        bus.fan(at, at + 60, 0)
        bus.fan(at + 60, at + 60 + length, 11)
        at += 60 + length
    bus.fan(at, at + 600, 0)
    bus.engine(0, at + 600, 1400.0, every_s=1.0)


def test_runs_that_stack_at_60_s_are_good_though_one_was_long(bus: Any, written: Write) -> None:
    """A hot hour makes one run long; the timer is as good as before."""
    _conditioning(bus, [60, 60, 420, 60])
    done = read_duty([written(bus.text(), "drive.log")])
    judged = {one.test: one.verdict for one in done.judged}
    assert judged["recording_ac_run_median"] == "good"
    assert judged["recording_ac_run_shortest"] == "good"


def test_what_to_look_at_stands_in_text_and_json(bus: Any, written: Write) -> None:
    _conditioning(bus, [15] * 12)
    log = written(bus.text(), "drive.log")
    shown = CliRunner().invoke(command, [str(log)]).stdout
    assert "ACT NOW: Recorded traffic: middle length of A/C runs: 15 s against a limit of 59.5 s" in shown
    assert "Read the least A/C fan time" in shown
    data = json.loads(CliRunner().invoke(command, [str(log), "--json"]).stdout)
    found = {one["test"]: one["verdict"] for one in data["look_at"]}
    assert found["recording_ac_run_median"] == "act_now"
    assert found["recording_grip_rate"] == "watch"
    assert list(found.values()) == sorted(found.values())
    rate = next(one for one in data["readings"] if one["test"] == "recording_grip_rate")
    assert rate["value_per_h"] == pytest.approx(12 / (12 * 75 + 600) * 3600, rel=2e-3)


def test_a_quiet_recording_says_so(bus: Any, written: Write) -> None:
    bus.fan(0, 1200, 0)
    bus.engine(0, 1200, 1400.0, every_s=1.0)
    shown = CliRunner().invoke(command, [str(written(bus.text(), "drive.log"))]).stdout
    assert "nothing in it is beyond a limit" in shown


def test_another_truck_is_refused_in_words(day_of_another_truck: str, written: Write, tmp_path: Path) -> None:
    log = written(day_of_another_truck, "drive.log")
    visit = tmp_path / "visit.toml"
    visit.write_text(VISIT.format(vin='vin = "INVENTED000000999"'), "utf-8")
    shown = CliRunner().invoke(command, [str(log), "--truck", str(visit)]).stdout
    assert "not judged: the recording is of another truck" in shown
    assert "beyond a limit" not in shown
    assert INVENTED not in shown


def test_fault_codes_are_told_in_words(written: Write) -> None:
    day = make_day(DayStory(5, 0.3, "town", 33.0, "wire_open", engine_every_s=1.0))
    shown = CliRunner().invoke(command, [str(written(day.text(), "drive.log"))]).stdout
    assert "fan drive output: current too low, or the circuit is open" in shown
    assert "measure feed, ground and coil" in shown
