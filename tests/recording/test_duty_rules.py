"""The rules by which told-on time is counted, each against a recording with a known truth."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fanwright.evidence.recording import read_recording

Write = Callable[[str | bytes, str], Path]


def _read(bus: Any, written: Write, **more: Any) -> Any:
    return read_recording([written(bus.text(), "drive.log")], **more)


def test_runs_time_and_reasons(bus: Any, written: Write) -> None:
    bus.engine(0, 600, 1400)
    for begin, end, state in ((0, 100, 0), (100, 160, 4), (160, 190, 2), (190, 300, 0), (300, 320, 11)):
        bus.fan(begin, end, state)
    bus.fan(320, 600, 0)
    result = _read(bus, written)
    assert len(result.runs) == 2
    assert result.fan_on_s == pytest.approx(110.0)
    assert result.by_reason()["coolant"].runs == 1
    assert result.by_reason()["coolant"].fan_on_s == pytest.approx(60.0)
    assert result.by_reason()["charge_air"].runs == 0
    assert result.by_reason()["charge_air"].fan_on_s == pytest.approx(30.0)
    assert len(result.short_runs) == 1
    assert result.fan_share == pytest.approx(110.0 / 599.0)
    assert result.grips_per_hour == pytest.approx(2 * 3600 / 599.0)
    first = result.runs[0]
    assert first.whole
    assert first.grip_rpm == pytest.approx(1400)
    assert first.start_s - first.earliest_start_s == pytest.approx(1.0)
    assert first.duration_sd_s == pytest.approx((2 / 12) ** 0.5)


def test_every_state_has_its_reason(bus: Any, written: Write) -> None:
    expected = {
        1: "engine_general",
        2: "charge_air",
        3: "oil",
        4: "coolant",
        5: "oil",
        6: "oil",
        7: "default",
        8: "other",
        9: "manual",
        10: "retarder",
        11: "air_conditioning",
        12: "timer",
        13: "engine_brake",
        14: "other",
    }
    bus.engine(0, 1000, 1400)
    for state in range(1, 15):
        bus.fan(60 * state, 60 * state + 20, 0)
        bus.fan(60 * state + 20, 60 * state + 60, state)
    bus.fan(900, 1000, 0)
    assert [run.reason for run in _read(bus, written).runs] == [expected[state] for state in range(1, 15)]


def test_not_available_is_not_off(bus: Any, written: Write) -> None:
    bus.engine(0, 300, 1400)
    bus.fan(0, 100, 0)
    bus.fan(100, 200, 15, percent=-1)
    bus.fan(200, 300, 0)
    result = _read(bus, written)
    assert result.fan_known_s == pytest.approx(199.0)
    assert not result.runs


@pytest.mark.parametrize("percent", [0.0, -1.0])
def test_unknown_state_of_a_sender_that_gives_states_is_never_off(
    bus: Any, written: Write, percent: float
) -> None:
    bus.engine(0, 300, 1400)
    bus.fan(0, 100, 0)
    bus.fan(100, 200, 15, percent=percent)
    bus.fan(200, 300, 4)
    result = _read(bus, written)
    assert result.fan_known_s == pytest.approx(199.0)
    assert result.runs[0].open_start


def test_percentage_alone_tells_on_and_off(bus: Any, written: Write) -> None:
    bus.engine(0, 300, 1400)
    bus.fan(0, 100, 15, percent=0.0)
    bus.fan(100, 150, 15, percent=99.6)
    bus.fan(150, 300, 15, percent=0.0)
    result = _read(bus, written)
    assert [run.reason for run in result.runs] == ["unknown"]
    assert result.fan_on_s == pytest.approx(50.0)
    assert result.fan_known_s == pytest.approx(299.0)


def test_state_wins_over_percentage_and_the_difference_is_said(bus: Any, written: Write) -> None:
    bus.engine(0, 300, 1400)
    bus.fan(0, 100, 0, percent=100.0)
    bus.fan(100, 200, 4, percent=0.0)
    bus.fan(200, 300, 0)
    result = _read(bus, written)
    assert result.fan_on_s == pytest.approx(100.0)
    assert any("differ" in note.template for note in result.evidence.notes)


def test_high_nibble_of_the_state_byte_does_not_count(bus: Any, written: Write) -> None:
    bus.engine(0, 100, 1400)
    for second in range(100):
        bus.send(second, 0x18FEBD00, bytes([0xF9, 0x04 if second >= 50 else 0xF0]) + b"\xff" * 6)
    assert _read(bus, written).fan_on_s == pytest.approx(49.0)


def test_nothing_counts_with_the_engine_stopped(bus: Any, written: Write) -> None:
    bus.engine(0, 100, 0)
    bus.engine(100, 200, 1400)
    bus.engine(200, 300, 0)
    bus.fan(0, 300, 4)
    result = _read(bus, written)
    assert result.engine_on_s == pytest.approx(100.0)
    assert result.fan_on_s == pytest.approx(100.0)
    assert len(result.runs) == 1
    assert result.runs[0].open_end
    assert result.runs[0].open_start
    assert result.fan_known_s == pytest.approx(100.0)


@pytest.mark.parametrize(("rpm", "on"), [(399.875, False), (400.0, True)])
def test_engine_is_on_from_400(bus: Any, written: Write, rpm: float, on: bool) -> None:
    bus.engine(0, 60, rpm)
    bus.fan(0, 60, 4)
    assert bool(_read(bus, written).runs) is on


@pytest.mark.parametrize(("gap", "runs"), [(3.0, 1), (3.001, 2), (8.0, 2)])
def test_a_gap_of_more_than_three_seconds_splits(bus: Any, written: Write, gap: float, runs: int) -> None:
    bus.engine(0, 120 + gap, 1400)
    bus.fan(0, 50, 4)
    bus.fan(49 + gap, 120 + gap, 4)
    result = _read(bus, written)
    assert len(result.runs) == runs
    if runs == 2:
        assert result.runs[0].open_end
        assert result.runs[0].end_s - result.exhibit.first_s == pytest.approx(49.0)
        assert result.runs[1].open_start


def test_without_engine_speed_runs_cannot_be_told(bus: Any, written: Write) -> None:
    bus.fan(0, 100, 4)
    result = _read(bus, written)
    assert result.engine_on_s is None
    assert result.fan_share is None
    assert not result.told
    assert any("engine speed" in one.template for one in result.evidence.cannot_tell)


def test_without_the_fan_message_the_fan_is_unknown(bus: Any, written: Write) -> None:
    bus.engine(0, 100, 1400)
    result = _read(bus, written)
    assert result.fan_share is None
    assert any("65213" in one.template for one in result.evidence.cannot_tell)


def test_signals_are_keyed_by_sender(bus: Any, written: Write) -> None:
    """The cab sends the engine group with nothing available; another sender speaks of another fan."""
    bus.engine(0, 200, 1400)
    bus.every_second(0.01, 200, 0x0CF00431, "FFFFFFFFFFFFFFFF", every_s=0.1)
    bus.fan(0, 100, 0)
    bus.fan(100, 200, 4)
    bus.fan(0, 200, 15, percent=-1, sender=78)
    result = _read(bus, written)
    assert result.engine_on_s == pytest.approx(199.9)
    assert result.fan_on_s == pytest.approx(99.0)


def test_other_senders_of_the_fan_message_are_accepted_and_said(bus: Any, written: Write) -> None:
    bus.engine(0, 200, 1400)
    bus.fan(0, 200, 4, sender=78)
    result = _read(bus, written)
    assert result.fan_on_s == pytest.approx(199.0)
    assert any("address" in note.template for note in result.evidence.notes)


def test_low_air_counts_by_arrangement(bus: Any, written: Write) -> None:
    from fanwright.truck.loader import presets

    bus.engine(0, 300, 1400)
    bus.fan(0, 100, 4)
    bus.fan(100, 300, 0)
    bus.every_second(0, 40, 0x18FEAE30, "FFFF4DFFFFFFFFFF")  # 616 kPa, under 90 psi
    bus.every_second(40, 150, 0x18FEAE30, "FFFF4EFFFFFFFFFF")  # 624 kPa
    bus.every_second(150, 300, 0x18FEAE30, "FFFF10FFFFFFFFFF")
    result = _read(bus, written, truck=presets()["line-haul spring-on"])
    assert result.air_low_on_s == pytest.approx(40.0)
    assert result.air_low_off_s == pytest.approx(149.0)


def test_many_short_runs_of_the_air_conditioning(bus: Any, written: Write) -> None:
    bus.engine(0, 1800, 1300)
    for minute in range(30):
        bus.fan(60 * minute, 60 * minute + 45, 0)
        bus.fan(60 * minute + 45, 60 * minute + 60, 11)
    result = _read(bus, written)
    words = {reading.test: reading.outcome for reading in result.evidence.readings if reading.outcome}
    assert words["recording_runs"] == "many_short"
    assert words["recording_reason"] == "ac"
    assert all(reading.origin == "recording" for reading in result.evidence.readings)


def test_a_run_of_sixty_seconds_with_jitter_is_not_short(bus: Any, written: Write) -> None:
    bus.engine(0, 300, 1300)
    bus.fan(0, 100, 0)
    for second in range(60):
        bus.send(100.003 + second * 0.9998, 0x18FEBD00, "FAFBFFFFFFFFFFFF")
    bus.fan(159.99, 300, 0)
    result = _read(bus, written)
    assert len(result.runs) == 1
    assert not result.short_runs


def test_too_short_a_recording_gives_no_words(bus: Any, written: Write) -> None:
    bus.engine(0, 300, 1300)
    bus.fan(0, 300, 4)
    result = _read(bus, written)
    assert not result.evidence.readings
    assert any("too little" in one.template for one in result.evidence.cannot_tell)


def test_asked_on_yet_it_heats_up(bus: Any, written: Write) -> None:
    bus.engine(0, 1200, 1300)
    bus.fan(0, 300, 0)
    bus.fan(300, 1200, 4)
    for second in range(1200):
        kelvin = 95 + max(0.0, (second - 300) / 60.0)
        bus.send(second + 0.5, 0x18FEEE00, bytes([round(kelvin + 40)]) + b"\xff" * 7)
    result = _read(bus, written)
    words = {reading.test: reading.outcome for reading in result.evidence.readings}
    assert words["recording_runs"] == "asked_but_heats_up"
    assert result.runs[0].coolant_rise_k_per_s == pytest.approx(1 / 60, rel=0.02)


def test_hot_but_never_asked(bus: Any, written: Write) -> None:
    bus.engine(0, 1200, 1300)
    bus.fan(0, 1200, 0)
    bus.every_second(0, 1200, 0x18FEEE00, bytes([108 + 40]).hex() + "FF" * 7)
    words = {reading.test: reading.outcome for reading in _read(bus, written).evidence.readings}
    assert words == words | {"recording_runs": "not_asked_though_hot", "recording_reason": "none"}
