"""Clocks that jump, run in a wrong unit or start anew, copies, channels, and files that follow each other."""

from __future__ import annotations

import contextlib
import gzip
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fanwright.errors import FileError
from fanwright.evidence.recording import read_recording
from fanwright.report.say import say

Write = Callable[[str | bytes, str], Path]


def _story(bus: Any) -> None:
    bus.engine(0, 300, 1400)
    bus.fan(0, 100, 0)
    bus.fan(100, 160, 4)
    bus.fan(160, 300, 0)
    bus.every_second(0.5, 300, 0x18FEEE00, "7DFFFFFFFFFFFFFF")


def _restamped(lines: list[str], new: Callable[[float], str]) -> str:
    return "".join(f"({new(float(line[1:18]))}{line[18:]}\n" for line in lines)


@pytest.mark.parametrize(
    ("factor", "ratio"), [(1e3, (1, 1000)), (1e6, (1, 1_000_000)), (1e-3, (1000, 1)), (1.0, (1, 1))]
)
def test_a_wrong_unit_is_noticed(bus: Any, written: Write, factor: float, ratio: tuple[int, int]) -> None:
    bus.start_s = 0.0
    _story(bus)
    text = _restamped(bus.lines(), lambda time: f"{time * factor:.6f}")
    result = read_recording([written(text, "a.log")])
    assert [round(run.duration_s, 1) for run in result.runs] == [60.0]
    assert result.span_s == pytest.approx(299.9, abs=0.7)
    said = any("another unit" in note.template for note in result.evidence.notes)
    assert said is (ratio != (1, 1))


def test_zero_based_and_absolute_clocks(bus: Any, make_bus: Any, written: Write) -> None:
    _story(bus)
    zero = make_bus(start_s=0.0)
    _story(zero)
    absolute = read_recording([written(bus.text(), "a.log")])
    relative = read_recording([written(zero.text(), "b.log")])
    assert absolute.exhibit.clock == "absolute"
    assert relative.exhibit.clock == "relative"
    assert absolute.fan_on_s == pytest.approx(relative.fan_on_s)
    assert any("zero of their own" in one.template for one in relative.evidence.cannot_tell)


def test_whole_seconds_only(bus: Any, written: Write) -> None:
    _story(bus)
    text = _restamped(bus.lines(), lambda time: f"{int(time)}.000000")
    assert read_recording([written(text, "a.log")]).fan_on_s == pytest.approx(60.0)


def test_a_step_back_keeps_both_parts(bus: Any, make_bus: Any, written: Write) -> None:
    _story(bus)
    later = make_bus(start_s=bus.start_s - 1000.0)
    _story(later)
    result = read_recording([written(bus.text() + later.text(), "a.log")])
    assert len(result.runs) == 2
    assert result.span_s == pytest.approx(2 * 299.9)
    assert any("steps back" in note.template for note in result.evidence.notes)


@pytest.mark.parametrize("wrong", ["9790000130.000000", "0000000130.000000", "1790000330.000000"])
def test_a_single_wrong_stamp_is_left_out(bus: Any, written: Write, wrong: str) -> None:
    _story(bus)
    lines = bus.lines()
    plain = read_recording([written("\n".join(lines) + "\n", "a.log")])
    place = next(n for n, line in enumerate(lines) if float(line[1:18]) >= bus.start_s + 130)
    lines[place] = f"({wrong}" + lines[place][18:]
    changed = read_recording([written("\n".join(lines) + "\n", "b.log")])
    assert changed.runs == plain.runs
    assert changed.span_s == plain.span_s
    assert changed.files[0].tally.glitches == 1
    assert any("fits nowhere" in note.template for note in changed.evidence.notes)


def test_frames_further_apart_than_a_gap_are_all_kept(bus: Any, written: Write) -> None:
    bus.every_second(0, 300, 0x18FEEE00, "7DFFFFFFFFFFFFFF", every_s=15.0)
    result = read_recording([written(bus.text(), "a.log")])
    assert result.span_s == pytest.approx(270.0)  # the last one has nothing to confirm it
    assert result.sessions == 10


def test_a_gap_ends_the_session(bus: Any, make_bus: Any, written: Write) -> None:
    for start in (0, 900):
        bus.engine(start, start + 300, 1400)
        bus.fan(start, start + 300, 4)
    result = read_recording([written(bus.text(), "a.log")])
    assert result.sessions == 2
    assert [run.open_end for run in result.runs] == [True, True]
    assert result.span_s == pytest.approx(1199.9)
    assert result.fan_known_s == pytest.approx(598.0)


@pytest.mark.parametrize(("ran_on", "stepped"), [(False, True), (True, False)])
def test_a_step_forward_is_told_from_a_pause(
    bus: Any, make_bus: Any, written: Write, ran_on: bool, stepped: bool
) -> None:
    later = make_bus(start_s=bus.start_s + 3600.0)
    for one, hours in ((bus, 9000.0), (later, 9001.0 if ran_on else 9000.05)):
        one.engine(0, 60, 1400)
        raw = round(hours * 20).to_bytes(4, "little").hex()
        one.every_second(0, 60, 0x18FEE500, raw + "FFFFFFFF", every_s=5.0)
    result = read_recording([written(bus.text() + later.text(), "a.log")])
    assert any("steps of the clock" in note.template for note in result.evidence.notes) is stepped


def test_lines_out_of_order_are_sorted(bus: Any, written: Write) -> None:
    _story(bus)
    lines = bus.lines()
    plain = read_recording([written("\n".join(lines) + "\n", "a.log")])
    chance = random.Random(3)
    for place in range(0, len(lines) - 8, 8):
        piece = lines[place : place + 5]
        chance.shuffle(piece)
        lines[place : place + 5] = piece
    shuffled = read_recording([written("\n".join(lines) + "\n", "b.log")])
    assert shuffled.runs == plain.runs
    assert shuffled.files[0].tally.disorder > 100


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 2**32), st.floats(0.0, 0.3), st.floats(0.0, 0.2))
def test_order_and_repeats_change_nothing(
    make_bus: Any, written: Write, seed: int, repeated: float, moved: float
) -> None:
    bus = make_bus()
    bus.engine(0, 60, 1400, every_s=0.5)
    bus.fan(0, 20, 0)
    bus.fan(20, 40, 11)
    bus.fan(40, 60, 0)
    lines = bus.lines()
    plain = read_recording([written("\n".join(lines) + "\n", "a.log")])
    chance = random.Random(seed)
    other = [line for line in lines for _ in range(1 + (chance.random() < repeated))]
    for place in range(0, len(other) - 1, 2):
        if chance.random() < moved:
            other[place], other[place + 1] = other[place + 1], other[place]
    changed = read_recording([written("\n".join(other) + "\n", "b.log")])
    assert changed.runs == plain.runs
    assert changed.engine_on_s == plain.engine_on_s


def test_bridged_channels_and_echoes_are_copies(bus: Any, written: Write) -> None:
    _story(bus)
    lines = []
    for line in bus.lines():
        lines.append(line)
        stamp = f"({float(line[1:18]) + 0.0012:.6f})"
        lines.append(stamp + line[19:].replace("can0", "can1"))
    result = read_recording([written("\n".join(lines) + "\n", "a.log")])
    assert len(result.runs) == 1
    assert result.fan_on_s == pytest.approx(60.0)
    assert any("copies" in note.template for note in result.evidence.notes)
    assert not any("differ" in note.template for note in result.evidence.notes)


def test_two_trucks_in_one_file(bus: Any, make_bus: Any, written: Write) -> None:
    _story(bus)
    other = make_bus(channel="can1")
    other.engine(0, 300, 900)
    other.fan(0.3, 250.3, 11)
    text = "".join(sorted(line + "\n" for line in [*bus.lines(), *other.lines()]))
    result = read_recording([written(text, "a.log")])
    assert [run.reason for run in result.runs] == ["coolant"]
    said = [say(note) for note in result.evidence.notes if "differ" in note.template]
    assert len(said) == 1
    assert "only can0 of can0, can1" in said[0]


def test_files_that_follow_each_other_are_one(bus: Any, written: Write) -> None:
    _story(bus)
    lines = bus.lines()
    half = next(place for place, line in enumerate(lines) if float(line[1:18]) >= bus.start_s + 130)
    one = written("\n".join(lines[:half]) + "\n", "a.log")
    two = written(gzip.compress(("\n".join(lines[half:]) + "\n").encode()), "b.log.gz")
    result = read_recording([two, one])
    whole = read_recording([written("\n".join(lines) + "\n", "c.log")])
    assert result.runs == whole.runs
    assert result.engine_on_s == whole.engine_on_s


def test_the_same_bytes_twice_count_once(bus: Any, written: Write) -> None:
    _story(bus)
    one, two = written(bus.text(), "a.log"), written(bus.text(), "b.log")
    alone, both = read_recording([one]), read_recording([one, two])
    assert both.runs == alone.runs
    assert both.engine_on_s == alone.engine_on_s
    assert both.overlap_s == pytest.approx(alone.span_s)
    assert any("same bytes" in note.template for note in both.evidence.notes)


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02\xff" * 5000, "no recording"),
        (b"date Thu Sep 30 15:06:13 2021\nbase hex  timestamps absolute\n", "no frames"),
        (b"LOGG" + bytes(200), "no frames"),
        (b"time;id;data\n", "no frames"),
        (b"just some words\n" * 100, "no recording"),
        (b" can0  18FEBD00   [8]  00 F0 FF FF FF FF FF FF\n", "no time stamps"),
        (gzip.compress(b""), "empty"),
        (b"\x1f\x8b\x08 no gzip at all", "empty"),
    ],
)
def test_bad_files_are_refused_in_one_line(written: Write, content: bytes, word: str) -> None:
    with pytest.raises(FileError) as refused:
        read_recording([written(content, "a b'\u00e9.log")])
    assert len(refused.value.messages) == 1
    assert word in say(refused.value.messages[0])


def test_all_missing_files_are_named_together(tmp_path: Path) -> None:
    with pytest.raises(FileError) as refused:
        read_recording([tmp_path / "one.log", tmp_path / "two.log", tmp_path])
    assert len(refused.value.messages) == 3


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_damaged_files_never_crash(make_bus: Any, written: Write, data: st.DataObject) -> None:
    bus = make_bus()
    bus.engine(0, 20, 1400, every_s=0.5)
    bus.fan(0, 20, 4)
    bus.send(3.0, 0x1CECFF00, "200E0002FFCAFE00")
    bus.send(3.1, 0x1CEBFF00, "0144FF87021F016E")
    raw = bytearray(bus.text().encode())
    for _ in range(data.draw(st.integers(1, 30))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    with contextlib.suppress(FileError):
        result = read_recording([written(bytes(raw), "a.log")])
        assert result.fan_on_s <= 20.0 or result.sessions > 1
