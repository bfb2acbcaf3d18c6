"""Trouble codes (DM1 active, DM2 earlier), one message or several packets, and the vehicle's number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.recording.kernels import compiled
from fanwright.evidence.recording.signals import SENDERS, VEHICLE_NUMBER
from fanwright.evidence.recording.traffic import Traffic
from fanwright.words import Message, count, phrase, text

ACTIVE, EARLIER = 65226, 65227
ANNOUNCEMENT, PACKET = 60416, 60160
PROPRIETARY_FROM = 520_192

MODES: Mapping[int, str] = MappingProxyType(
    {
        0: "reads far too high",
        1: "reads far too low",
        2: "is erratic or does not make sense",
        3: "voltage too high, or shorted to power",
        4: "voltage too low, or shorted to ground",
        5: "current too low, or the circuit is open",
        6: "current too high, or shorted to ground",
        7: "does not answer as it should",
        8: "wrong frequency or pulse width",
        9: "its message comes at the wrong rate",
        10: "changes too fast",
        11: "cause not known",
        12: "the unit itself is bad",
        13: "out of calibration",
        14: "see the engine maker's own instruction",
        15: "reads a little too high",
        16: "reads too high",
        17: "reads a little too low",
        18: "reads too low",
        19: "what it received over the bus was in error",
        20: "has drifted high",
        21: "has drifted low",
        **dict.fromkeys(range(22, 31), "reserved number"),
        31: "the condition is there",
    }
)
"""Failure modes (FMI) in own words; numbers 0 to 21 and 31 as public code has them."""

FAN_OUTPUT, FAN_STATUS, AIR = "fan_output", "fan_status", "air"
NAMES: Mapping[int, str] = MappingProxyType(
    {
        46: "air supply pressure",
        84: "road speed",
        105: "charge air temperature",
        110: "coolant temperature",
        111: "coolant level",
        168: "battery voltage",
        175: "engine oil temperature",
        177: "transmission oil temperature",
        190: "engine speed",
        605: "refrigerant high-pressure switch",
        647: "fan drive output",
        875: "refrigerant low-pressure switch",
        975: "estimated fan speed",
        977: "fan drive state",
        985: "air conditioning pressure switch for the fan",
        986: "fan speed asked by the cab",
        1071: "fan drive output",
        1087: "service air, circuit 1",
        1088: "service air, circuit 2",
        1089: "auxiliary air",
        1090: "air suspension supply",
        1639: "fan speed sensor",
        2609: "refrigerant pressure",
        2650: "fan override",
        4211: "fan motor pressure",
        4212: "fan bypass",
        4214: "fan reverse output",
    }
)
CIRCUIT = frozenset({647, 1071, 2650, 4214})
FAN = CIRCUIT | {975, 977, 986, 1639, 4211, 4212}
FALLS_BACK = frozenset({105, 110, 111, 175, 177, 985, 605, 875, 2609})
"""Numbers whose sensor or circuit, when bad, makes the controller run the fan to be safe."""
AIR_SUPPLY = frozenset({46, 1087, 1088, 1089, 1090})


@dataclass(frozen=True)
class TroubleCode:
    """One code of one sender.

    Args:
        sender: Source address.
        number: Suspect parameter number (SPN).
        mode: Failure mode (FMI).
        messages: Messages that carried it.
        active: Whether it was active (DM1), else earlier (DM2).
        old_order: Whether the sender marks its numbers as packed in an older order; they may be wrong then.
        occurrences: Highest occurrence count sent; None where it is not given.
    """

    sender: int
    number: int
    mode: int
    messages: int
    active: bool
    old_order: bool = False
    occurrences: int | None = None

    @property
    def of_the_fan(self) -> bool:
        """Whether it concerns the fan drive itself."""
        return self.number in FAN


@dataclass(frozen=True)
class Packets:
    """What came in several packets.

    Args:
        codes: Trouble codes: sender, group and four bytes, once a message.
        vehicle_numbers: Vehicle numbers heard; never shown, only compared.
        incomplete: Sessions that stayed incomplete.
    """

    codes: NDArray[np.int64]
    vehicle_numbers: tuple[str, ...]
    incomplete: int


def packets(traffic: Traffic) -> Packets:
    """Put messages of several packets together and read them."""
    announced, sent = traffic.frames(ANNOUNCEMENT), traffic.frames(PACKET)
    time = np.concatenate([announced.time_us, sent.time_us])
    order = np.argsort(time, kind="stable")
    ident = np.concatenate([announced.ident, sent.ident])[order]
    payload = np.concatenate([announced.payload, sent.payload])[order]
    short = np.concatenate([announced.length, sent.length])[order] < 8
    frames = time[order][~short], ident[~short], payload[~short]
    found = np.zeros((len(announced.time_us) + 1, 5), np.int64)
    content = np.zeros(7 * len(sent.time_us) + 7, np.uint8)
    wanted = np.array([ACTIVE, EARLIER, VEHICLE_NUMBER], np.int64)
    kernels = compiled()
    messages, incomplete = kernels.reassemble(frames, wanted, found, content)
    rows = np.zeros((len(content) // 4 + 1, 3), np.int64)
    found = found[:messages]
    of_codes = found[found[:, 2] != VEHICLE_NUMBER]
    of_numbers = found[found[:, 2] == VEHICLE_NUMBER]
    many = int(kernels.trouble_codes(of_codes, len(of_codes), content, rows))
    numbers = [content[first : first + size].tobytes() for _, _, _, first, size in of_numbers.tolist()]
    return Packets(
        rows[:many], tuple(dict.fromkeys(_vehicle_number(raw) for raw in numbers)), int(incomplete)
    )


def _vehicle_number(raw: bytes) -> str:
    return raw.split(b"*")[0].decode("ascii", "replace").strip().upper()


def trouble_codes(traffic: Traffic, several: Packets) -> list[TroubleCode]:
    """List all codes, those of the most messages first."""
    rows = [several.codes, *(_single(traffic, group) for group in (ACTIVE, EARLIER))]
    every = np.concatenate(rows)
    if not len(every):
        return []
    key = (every[:, 0] << 42) | (every[:, 1] << 24) | (every[:, 2] & 0x00FFFFFF)
    unique, place, many = np.unique(key, return_inverse=True, return_counts=True)
    last = np.zeros(len(unique), np.int64)
    np.maximum.at(last, place, every[:, 2] >> 24)
    found = [
        _code(one >> 42, (one >> 24) & 0x3FFFF, one & 0x00FFFFFF, byte, messages)
        for one, byte, messages in zip(unique.tolist(), last.tolist(), many.tolist(), strict=True)
    ]
    return sorted(
        found, key=lambda code: (not code.active, -code.messages, code.sender, code.number, code.mode)
    )


def _code(sender: int, group: int, code: int, last: int, messages: int) -> TroubleCode:
    number = (code & 0xFFFF) | ((code >> 21) << 16)
    occurrences = last & 0x7F
    return TroubleCode(
        sender,
        number,
        (code >> 16) & 0x1F,
        messages,
        group == ACTIVE,
        bool(last >> 7),
        None if occurrences == 0x7F else occurrences,
    )


def _single(traffic: Traffic, group: int) -> NDArray[np.int64]:
    frames = traffic.frames(group)
    code = ((frames.payload >> np.uint64(16)) & np.uint64(0xFFFFFFFF)).astype(np.int64)
    real = (code & 0x00FFFFFF != 0) & (code != 0xFFFFFFFF) & (frames.length >= 6)
    sender = (frames.ident & 0xFF).astype(np.int64)
    rows = np.column_stack([sender, np.full(len(sender), group, np.int64), code])
    chosen: NDArray[np.int64] = rows[real]
    return chosen


def explained(code: TroubleCode) -> Message:
    """Say in a sentence what a code means for the fan drive."""
    name = NAMES.get(code.number, "")
    values = {
        "sender": phrase(SENDERS.get(code.sender, "sender")),
        "address": count(code.sender),
        "number": count(code.number),
        "mode": count(code.mode),
        "what": phrase(MODES[code.mode]),
        "messages": count(code.messages),
    }
    when = "active" if code.active else "earlier"
    template = "{sender} ({address}), code {number}/{mode}, {when}: {what}; in {messages} messages"
    if name:
        template = (
            "{sender} ({address}), code {number}/{mode}, {when}: {name}: {what}; in {messages} messages"
        )
        values["name"] = phrase(name)
    if advice := _advice(code):
        template += ". {advice}"
        values["advice"] = phrase(advice)
    return Message(template, {**values, "when": text(when)})


def _advice(code: TroubleCode) -> str:
    if code.old_order:
        return "The sender packs its numbers in an older order, so the number may be another"
    if code.number in CIRCUIT:
        return "This is the circuit of the fan drive's valve: measure feed, ground and coil"
    if code.number in FALLS_BACK and code.mode in (2, 3, 4, 5, 6):
        return "With this sensor or wire bad the controller runs the fan to be safe"
    if code.number in AIR_SUPPLY:
        return "Without air the drive cannot change state"
    if code.number >= PROPRIETARY_FROM:
        return "A number of the maker's own"
    return ""
