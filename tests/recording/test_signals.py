"""Layouts, identifiers and codes against general libraries: cantools with an own file, canmatrix's layout."""

from __future__ import annotations

import importlib.resources
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cantools
import cantools.j1939
import numpy as np
import pytest

from fanwright.errors import FileError
from fanwright.evidence.recording import read_recording
from fanwright.evidence.recording.codes import MODES, explained
from fanwright.evidence.recording.intake import Columns, Intake
from fanwright.evidence.recording.own import layout_with
from fanwright.evidence.recording.signals import STANDARD, STATES, Signal, most_valid
from fanwright.evidence.recording.traffic import Traffic
from fanwright.report.say import say

Write = Callable[[str | bytes, str], Path]

OWN = """VERSION ""
BU_: A
BO_ 2566831614 FD1: 8 A
 SG_ share : 0|8@1+ (0.4,0) [0|100] "%" A
 SG_ state : 8|4@1+ (1,0) [0|15] "" A
 SG_ fan : 16|16@1+ (0.125,0) [0|8031.875] "rpm" A
BO_ 2364540158 EEC1: 8 A
 SG_ speed : 24|16@1+ (0.125,0) [0|8031.875] "rpm" A
BO_ 2566844158 ET1: 8 A
 SG_ coolant : 0|8@1+ (1,-40) [-40|210] "degC" A
 SG_ oil : 16|16@1+ (0.03125,-273) [-273|1735] "degC" A
BO_ 2566845950 AMB: 8 A
 SG_ barometer : 0|8@1+ (0.5,0) [0|125] "kPa" A
 SG_ ambient : 24|16@1+ (0.03125,-273) [-273|1735] "degC" A
BO_ 2566844926 CCVS: 8 A
 SG_ road : 8|16@1+ (0.00390625,0) [0|250.996] "km/h" A
BO_ 2565865726 ERC1: 8 A
 SG_ retarder : 8|8@1+ (1,-125) [-125|125] "%" A
BO_ 2566827774 AIR1: 8 A
 SG_ service : 16|8@1+ (8,0) [0|2000] "kPa" A
BA_DEF_ SG_ "SPN" INT 0 524287;
BA_DEF_DEF_ "SPN" 0;
"""
UNITS = {"rpm": 0.10471975511965977, "%": 0.01, "km/h": 1 / 3.6, "kPa": 1000.0, "degC": 1.0, "": 1.0}
PAIRS = {
    "fan_percent": ("FD1", "share"),
    "fan_state": ("FD1", "state"),
    "fan_speed": ("FD1", "fan"),
    "engine_speed": ("EEC1", "speed"),
    "coolant": ("ET1", "coolant"),
    "oil": ("ET1", "oil"),
    "barometer": ("AMB", "barometer"),
    "ambient": ("AMB", "ambient"),
    "road_speed": ("CCVS", "road"),
    "retarder_torque": ("ERC1", "retarder"),
    "air_service_1": ("AIR1", "service"),
}


def _columns(payloads: list[bytes], length: int = 8) -> Columns:
    many = len(payloads)
    words = [int.from_bytes(one, "little") for one in payloads]
    return Columns(
        np.arange(many, dtype=np.int64),
        np.zeros(many, np.uint32),
        np.array(words, np.uint64),
        np.full(many, length, np.uint8),
        np.zeros(many, np.uint8),
        np.zeros(many, np.uint8),
    )


@pytest.mark.parametrize("key", PAIRS)
def test_values_agree_with_cantools(key: str) -> None:
    """Layouts typed here as a DBC file and decoded by cantools."""
    base: Any = cantools.database.load_string(OWN, "dbc")
    message, name = PAIRS[key]
    layout = base.get_message_by_name(message)
    unit = layout.get_signal_by_name(name).unit or ""
    payloads = [bytes(row) for row in np.random.default_rng(7).integers(0, 251, (300, 8), np.uint8)]
    value, valid = STANDARD.signals[key].read(_columns(payloads))
    expected = np.array([layout.decode(one, decode_choices=False)[name] for one in payloads], float)
    offset = 273.15 if unit == "degC" else 0.0
    checked = valid if key == "fan_state" else np.ones(len(valid), bool)
    assert valid.sum() > 200
    assert np.allclose(value[checked], expected[checked] * UNITS[unit] + offset)


def test_places_agree_with_the_layout_of_canmatrix() -> None:
    """``canmatrix/j1939.dbc`` (BSD): places, lengths and numbers; its scales are all 1.

    It has group 64817 for a joystick's lamps; public lists have the second fan drive there, which is kept.
    """
    path = importlib.resources.files("canmatrix") / "j1939.dbc"
    base: Any = cantools.database.load_string(path.read_text("latin-1"), "dbc", strict=False)
    theirs = {
        (_group(message.frame_id), signal.spn): (signal.start, signal.length)
        for message in base.messages
        for signal in message.signals
    }
    ours = {(one.group, one.number): (one.start, one.bits) for one in STANDARD.signals.values()}
    missing = {place for place in ours if place not in theirs}
    assert missing == {(64817, 1550), (64817, 1557), (64817, 1598)}
    assert {place: theirs[place] for place in ours if place not in missing} == {
        place: where for place, where in ours.items() if place not in missing
    }


def _group(ident: int) -> int:
    group: int = cantools.j1939.pgn_from_frame_id(ident)  # type: ignore[no-untyped-call]  # untyped there
    return group


@pytest.mark.parametrize(
    ("ident", "group"),
    [
        (0x18FEBD00, 65213),
        (0x18E0FF31, 57344),
        (0x0CF00400, 61444),
        (0x18F00029, 61440),
        (0x1CECFF00, 60416),
        (0x1CEB31FE, 60160),
        (0x18FECA0B, 65226),
    ],
)
def test_identifiers_agree_with_cantools(ident: int, group: int) -> None:
    assert _group(ident) == group
    intake = Intake({group: 9})
    intake.sift(
        (
            np.zeros(1, np.int64),
            np.zeros(1, np.int64),
            np.array([ident], np.int64),
            np.zeros(1, np.uint64),
            np.full(1, 8, np.int64),
            np.zeros(1, np.int64),
            np.zeros(1, np.bool_),
        )
    )
    assert intake.columns().stream.tolist() == [9]


@pytest.mark.parametrize(("bits", "most"), [(2, 1), (4, 13), (8, 0xFA), (16, 0xFAFF), (32, 0xFAFFFFFF)])
def test_highest_valid_raw_value(bits: int, most: int) -> None:
    assert most_valid(bits) == most


def test_nothing_past_the_valid_range_is_a_value() -> None:
    signal = STANDARD.signals["coolant"]
    for raw in range(256):
        _, valid = signal.read(_columns([bytes([raw]) + bytes(7)]))
        assert bool(valid[0]) is (raw <= 0xFA)
    _, valid = STANDARD.signals["load"].read(_columns([bytes([0, 0, 127]) + bytes(5)]))
    assert not valid[0]


def test_short_messages_give_only_what_fits() -> None:
    columns = _columns([bytes.fromhex("FA0400000000000000"[:16])], length=2)
    assert STANDARD.signals["fan_percent"].raw(columns)[1][0]
    assert STANDARD.signals["fan_state"].raw(columns)[1][0]
    assert not STANDARD.signals["fan_speed"].raw(columns)[1][0]


def test_tables_of_states_and_failure_modes_are_complete() -> None:
    assert sorted(STATES) == list(range(15))
    assert sorted(MODES) == list(range(32))
    assert all(MODES.values())


def test_signals_do_not_overlap() -> None:
    taken: dict[tuple[int, int], str] = {}
    for key, signal in STANDARD.signals.items():
        for bit in range(signal.start, signal.start + signal.bits):
            assert taken.setdefault((signal.group, bit), key) == key
        assert signal.start + signal.bits <= 64


# --- Codes and messages of several packets ----------------------------------------------------------------


def _code(number: int, mode: int, count: int = 1, old: bool = False) -> bytes:
    return bytes([number & 0xFF, number >> 8 & 0xFF, number >> 16 << 5 | mode, count | (0x80 if old else 0)])


def _packets(sender: int, group: int, content: bytes, receiver: int = 255) -> list[tuple[int, bytes]]:
    many = -(-len(content) // 7)
    announcement = bytes([32 if receiver == 255 else 16, len(content) & 0xFF, len(content) >> 8, many, 0xFF])
    found = [(0x1CEC0000 | receiver << 8 | sender, announcement + group.to_bytes(3, "little"))]
    for number in range(many):
        piece = content[7 * number : 7 * number + 7].ljust(7, b"\xff")
        found.append((0x1CEB0000 | receiver << 8 | sender, bytes([number + 1]) + piece))
    return found


def _codes(result: Any) -> dict[tuple[int, int, int], int]:
    return {(code.sender, code.number, code.mode): code.messages for code in result.codes}


def _send(bus: Any, time_s: float, frames: list[tuple[int, bytes]], step_s: float = 0.06) -> None:
    for number, (ident, data) in enumerate(frames):
        bus.send(time_s + number * step_s, ident, data)


def test_interleaved_lists_of_codes(bus: Any, written: Write) -> None:
    three = b"\x44\xff" + _code(647, 5) + _code(110, 0) + _code(520_192 + 77, 31)
    two = b"\x04\xff" + _code(985, 3) + _code(985, 3)
    for second in range(10):
        _send(bus, second, _packets(0, 65226, three))
        _send(bus, second + 0.03, _packets(49, 65226, two))
        bus.send(second + 0.5, 0x18FECA0B, b"\x00\xff" + bytes(4) + b"\xff\xff")
        bus.send(second + 0.6, 0x18FECA03, b"\x00\xff" + _code(177, 4) + b"\xff\xff")
    found = _codes(read_recording([written(bus.text(), "a.log")]))
    assert found == {
        (0, 647, 5): 10,
        (0, 110, 0): 10,
        (0, 520_269, 31): 10,
        (49, 985, 3): 10,
        (3, 177, 4): 10,
    }


@pytest.mark.parametrize("number", [110, 65_535, 65_536, 524_287])
def test_all_19_bits_of_a_number(bus: Any, written: Write, number: int) -> None:
    bus.send(0.0, 0x18FECA00, b"\x00\xff" + _code(number, 31, 126) + b"\xff\xff")
    result = read_recording([written(bus.text(), "a.log")])
    assert (result.codes[0].number, result.codes[0].mode, result.codes[0].occurrences) == (number, 31, 126)


def test_packets_out_of_order_repeated_and_missing(bus: Any, written: Write) -> None:
    content = b"\x44\xff" + b"".join(_code(100 + place, 3) for place in range(20))
    head, *rest = _packets(0, 65226, content)
    _send(bus, 0.0, [head, rest[1], rest[0], rest[0], *rest[2:]])
    _send(bus, 2.0, [head, *rest[:-1]])  # the last is missing
    _send(bus, 5.0, [head, *rest], step_s=0.8)  # silent for too long
    _send(bus, 30.0, [head, *rest[:5], head, *rest])  # begun anew
    _send(bus, 40.0, _packets(0, 65227, b"\x00\xff" + _code(111, 1) * 3, receiver=49))
    result = read_recording([written(bus.text(), "a.log")])
    active = [code for code in result.codes if code.active]
    assert len(active) == 20
    assert {code.messages for code in active} == {2}
    assert [(code.number, code.messages) for code in result.codes if not code.active] == [(111, 1)]
    assert any("incomplete" in note.template for note in result.evidence.notes)


@pytest.mark.parametrize("many", [2, 20, 50, 445])
def test_lists_of_any_length(bus: Any, written: Write, many: int) -> None:
    content = b"\x00\xff" + b"".join(_code(1000 + place, place % 32) for place in range(many))
    _send(bus, 0.0, _packets(0, 65226, content), step_s=0.05)
    assert len(read_recording([written(bus.text(), "a.log")]).codes) == many


def test_codes_are_explained(bus: Any, written: Write) -> None:
    bus.send(0.0, 0x18FECA00, b"\x00\xff" + _code(647, 5) + b"\xff\xff")
    said = say(explained(read_recording([written(bus.text(), "a.log")]).codes[0]))
    assert "fan drive output" in said
    assert "circuit is open" in said
    assert "measure feed" in said


# --- The vehicle's number ---------------------------------------------------------------------------------

NUMBER = "DEMO0000000000214"


@pytest.mark.parametrize(
    ("given", "matches"), [(NUMBER, True), (NUMBER.lower(), True), ("DEMO0000000000999", False), ("", None)]
)
def test_the_vehicle_number_is_compared_and_never_shown(
    bus: Any, written: Write, given: str, matches: bool | None
) -> None:
    bus.engine(0, 1200, 1400)
    bus.fan(0, 1200, 0)
    _send(bus, 0.0, _packets(0, 65260, NUMBER.encode() + b"*"))
    result = read_recording([written(bus.text(), "a.log")], vehicle_number=given)
    assert result.vehicle_number_matches is matches
    assert NUMBER not in repr(result)
    refused = [reading.cannot_judge for reading in result.evidence.readings]
    assert refused
    assert all((one is not None) is (matches is False) for one in refused)


# --- A shop's own layout ----------------------------------------------------------------------------------

SHOP = """VERSION ""
BU_: A
BO_ 2566848254 OWNAIR: 8 A
 SG_ tank : 7|16@0+ (0.5,0) [0|2000] "kPa" A
BA_DEF_ SG_ "SPN" INT 0 524287;
BA_DEF_DEF_ "SPN" 0;
BA_ "SPN" SG_ 2566848254 tank {number};
"""


def test_own_layout_takes_the_place_of_ours(bus: Any, written: Write) -> None:
    layout = layout_with(written(SHOP.replace("{number}", "46"), "own.dbc"))
    signal: Signal = layout.signals["air_supply"]
    assert signal.group == _group(2566848254 & 0x1FFFFFFF)
    bus.every_second(0, 5, 0x18000000 | signal.group << 8, "06400000FFFFFFFF")
    intake = Intake(layout.numbers, layout.intervals_us)
    from fanwright.evidence.recording.formats import candump_log
    from fanwright.evidence.recording.source import Source

    candump_log.read(Source(written(bus.text(), "a.log")), intake)
    series = Traffic(intake.columns(), layout).series("air_supply")
    assert series is not None
    assert series.value.tolist() == [0x0640 * 500.0] * 5


@pytest.mark.parametrize(
    ("content", "word"),
    [
        ("no such thing", "cannot be read as DBC"),
        (SHOP.replace("{number}", "3"), "SPN"),
        (SHOP.replace("{number}", "46").replace("kPa", "furlong"), "furlong"),
    ],
)
def test_own_layouts_that_cannot_be_used(written: Write, content: str, word: str) -> None:
    with pytest.raises(FileError) as refused:
        layout_with(written(content, "own.dbc"))
    assert word in say(refused.value.messages[0])
