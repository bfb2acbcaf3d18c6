"""The messages of one made-up second on the bus, as lines of a candump log.

They are laid out here on their own, apart from the reader's tables, so that each can check the other.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Final

from fanwright.virtual.day import DayStory, Second

NUMBERS: Final = {
    "charge_air": 2,
    "coolant": 4,
    "default": 7,
    "manual": 9,
    "air_conditioning": 11,
    "engine_brake": 13,
}


def codes_of(fault: str) -> tuple[tuple[int, int], ...]:
    """Give the active trouble codes of a fault: number and failure mode."""
    return {
        "temp_signal_always_asks": ((110, 3),),
        "wire_open": ((647, 5), (977, 7), (111, 17)),
        "cooling_side_fault": ((110, 16),),
        "vehicle_air_low": ((1087, 18),),
    }.get(fault, ())


def lines_of(story: DayStory, seconds: tuple[Second, ...]) -> tuple[tuple[str, ...], int]:
    """Give the log of a day, and how many of its lines are damaged."""
    chance = random.Random(story.seed + 1)  # noqa: S311  # a story, not a secret
    begin = round(story.begin.timestamp())
    lines: list[str] = []
    damaged = 0
    for number, second in enumerate(seconds):
        frames = sorted(_frames(story, second, number, chance))
        for offset_us, ident, data in frames:
            at = number * 1_000_000 + offset_us
            stamp = f"({begin + at // 1_000_000}.{at % 1_000_000:06d}) can0 "
            line = f"{stamp}{ident}#{data}\n"
            if story.damaged_share and chance.random() < story.damaged_share:
                line = "!" + line[chance.randrange(1, 30) :]
                damaged += 1
            lines.append(line)
    return tuple(lines), damaged


Frame = tuple[int, str, str]


def _frames(story: DayStory, second: Second, number: int, chance: random.Random) -> Iterator[Frame]:
    speed = _word(second.rpm * 8)
    many = round(1.0 / story.engine_every_s)
    for place in range(many):
        at = round(place * 1e6 / many)
        yield (
            at,
            "0CF00400",
            f"FF{_byte(second.load * 100 + 125)}{_byte(second.load * 100 + 125)}{speed}FFFFFF",
        )
    state = NUMBERS.get(second.reason, 0)
    fan = _word(second.fan_rpm * 8) if story.fan_sensor else "FFFF"
    yield 10_000 + chance.randrange(1_000), "18FEBD00", f"{'FA' if state else '00'}F{state:X}{fan}FFFFFFFF"
    manual = "FA" if second.reason == "manual" else "FF"
    yield 20_100, "18E0FF31", f"{manual}FFFFFFFFFFFFFF"
    yield (
        30_200,
        "18FEEE00",
        f"{_byte(second.coolant_c + 40)}FF{_word((second.coolant_c + 281) * 32)}FFFFFFFF",
    )
    yield 40_300, "18FEF600", f"FFFF{_byte(second.charge_c + 40)}FFFFFFFFFF"
    yield 50_400, "18FEF500", f"C8FFFF{_word((story.ambient_c + 273) * 32)}FFFFFF"
    air = _byte(second.air_kpa / 8)
    yield 60_500, "18FEAE30", f"FFFF{air}{air}FFFFFFFF"
    yield 70_600, "18FEF100", f"FF{_word(second.road_km_h * 256)}FFFFFFFFFF"
    yield 75_700, "18FEF131", "F3FFFFFFFFFFFFFF"
    yield 80_800, "18F00029", f"FF{_byte(second.retarder * 100 + 125)}FFFFFFFFFFFF"
    yield 90_900, "18FEE400", f"FFFF{'F5' if second.condenser_high else 'F4'}FFFFFFFFFF"
    yield 95_000, "0CF00300", f"FF{_byte(second.load * 250)}{_byte(second.load * 100)}FFFFFFFFFF"
    yield 97_000, "123", f"{number & 0xFF:02X}00"
    yield 98_000, "18FF2117", "0102030405060708"
    if number % 10 == 5:
        yield 120_000, "18FEE500", f"{_long(20 * (9_000 + number / 3600))}FFFFFFFF"
    yield from _trouble(story)
    if story.vehicle_number and number % 300 == 7:
        yield from _packets(500_000, 65260, (story.vehicle_number + "*").encode("ascii", "replace"))


def _trouble(story: DayStory) -> Iterator[Frame]:
    codes = codes_of(story.fault)
    packed = b"".join(
        bytes([number & 0xFF, number >> 8 & 0xFF, number >> 16 << 5 | mode, 1]) for number, mode in codes
    )
    if len(codes) < 2:
        body = b"\x44\xff" + (packed or bytes(4)) if codes else b"\x00\xff" + bytes(4)
        yield 200_000, "18FECA00", body.hex().upper() + "FFFF"
    else:
        yield from _packets(200_000, 65226, b"\x44\xff" + packed)


def _packets(at_us: int, group: int, content: bytes) -> Iterator[Frame]:
    many = -(-len(content) // 7)
    head = bytes([32, len(content) & 0xFF, len(content) >> 8, many, 0xFF]) + group.to_bytes(3, "little")
    yield at_us, "1CECFF00", head.hex().upper()
    for number in range(many):
        piece = content[7 * number : 7 * number + 7].ljust(7, b"\xff")
        yield at_us + 60_000 * (number + 1), "1CEBFF00", f"{number + 1:02X}{piece.hex().upper()}"


def _byte(value: float) -> str:
    return f"{min(max(round(value), 0), 250):02X}"


def _word(value: float) -> str:
    return min(max(round(value), 0), 0xFAFF).to_bytes(2, "little").hex().upper()


def _long(value: float) -> str:
    return min(max(round(value), 0), 0xFAFFFFFF).to_bytes(4, "little").hex().upper()
