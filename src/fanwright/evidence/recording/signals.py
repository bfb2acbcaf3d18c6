"""What the messages of heavy-truck traffic carry: a signal by parameter group, number and place.

Places, scales and offsets agree in several public transcriptions of SAE J1939-71 (checked there and against
the layout file of the ``canmatrix`` package); the standard itself was not read. Rates are as public lists and
recordings of real trucks have them. Values are brought to SI here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.recording.intake import Columns
from fanwright.evidence.recording.loops.frames import ENGINE_STREAM, FAN_STREAM

KELVIN = 273.15
RPM = 0.10471975511965977


@dataclass(frozen=True)
class Signal:
    """One signal of a message.

    Args:
        key: Its name here.
        group: Parameter group.
        number: Suspect parameter number (SPN); two signals of one number differ in their group.
        start: Its lowest bit, counted from the first bit of the first byte.
        bits: How many bits it has.
        scale: SI units for a step.
        offset: SI value of the raw value 0.
        most: Highest raw value that is valid; beyond it a raw value says error or not available.
        dimension: Key of ``quantities``; empty for a code.
        big_endian: Whether its highest byte comes first; ``start`` then counts from the last bit of byte 8.
    """

    key: str
    group: int
    number: int
    start: int
    bits: int
    scale: float
    offset: float
    most: int
    dimension: str = ""
    big_endian: bool = False

    @property
    def needed_bytes(self) -> int:
        """How long a message must be to carry it whole [bytes]."""
        if self.big_endian:
            return 8 - self.start // 8
        return (self.start + self.bits + 7) // 8

    def raw(self, columns: Columns) -> tuple[NDArray[np.uint64], NDArray[np.bool_]]:
        """Give the raw values and which of them are valid."""
        word = columns.payload.byteswap() if self.big_endian else columns.payload
        raw = (word >> np.uint64(self.start)) & np.uint64((1 << self.bits) - 1)
        return raw, (raw <= np.uint64(self.most)) & (columns.length >= self.needed_bytes)

    def read(self, columns: Columns) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
        """Give the values in SI and which of them are valid."""
        raw, valid = self.raw(columns)
        return raw.astype(np.float64) * self.scale + self.offset, valid


def most_valid(bits: int) -> int:
    """Give the highest valid raw value of a width: 0xFA in the highest byte; 1 of two bits; 13 of four.

    Example:
        >>> hex(most_valid(8)), hex(most_valid(16)), most_valid(2)
        ('0xfa', '0xfaff', 1)
    """
    if bits % 8:
        return {1: 1, 2: 1, 4: 13}.get(bits, (1 << bits) - 1)
    return (0xFB << (bits - 8)) - 1


@dataclass(frozen=True)
class Stream:
    """One message that is read.

    Args:
        name: Its short name.
        group: Parameter group.
        number: Its number among the messages here.
        keep_every_us: Shortest interval kept of one sender, 0 for all [us].
        period_us: Its usual period, 0 where it varies [us].
    """

    name: str
    group: int
    number: int
    keep_every_us: int
    period_us: int


_S = 1_000_000
_STREAMS = (
    Stream("EEC1", 61444, ENGINE_STREAM, _S // 5, 0),
    Stream("FD1", 65213, FAN_STREAM, 0, _S),
    Stream("CM1", 57344, 3, 0, _S),
    Stream("EEC2", 61443, 4, _S * 9 // 10, 0),
    Stream("ET1", 65262, 5, 0, _S),
    Stream("IC1", 65270, 6, _S * 9 // 10, 0),
    Stream("AMB", 65269, 7, 0, _S),
    Stream("AIR1", 65198, 8, 0, _S),
    Stream("CCVS1", 65265, 9, _S * 9 // 10, 0),
    Stream("ERC1", 61440, 10, _S * 4 // 10, 0),
    Stream("VDHR", 65217, 11, 0, _S),
    Stream("VD", 65248, 12, 10 * _S, 0),
    Stream("HOURS", 65253, 13, 0, 0),
    Stream("LFE1", 65266, 14, _S * 9 // 10, 0),
    Stream("EFL", 65263, 15, _S * 9 // 10, 0),
    Stream("TRF1", 65272, 16, 0, _S),
    Stream("SHUTDN", 65252, 17, 0, _S),
    Stream("CACI", 64993, 18, 0, 0),
    Stream("VEP1", 65271, 19, _S * 9 // 10, 0),
    Stream("FD2", 64817, 20, 0, _S),
    Stream("DM1", 65226, 21, 0, 0),
    Stream("DM2", 65227, 22, 0, 0),
    Stream("TP.CM", 60416, 23, 0, 0),
    Stream("TP.DT", 60160, 24, 0, 0),
)
FIRST_OWN_STREAM = 30
"""Numbers from here on are for messages that a shop's own file adds."""

VEHICLE_NUMBER, TRIP_FAN = 65260, 65211
"""Groups that come in several packets only."""


def _signal(
    key: str, group: int, number: int, start: int, bits: int, scale: float = 1.0, offset: float = 0.0,
    dimension: str = "", most: int | None = None,
) -> Signal:  # fmt: skip
    valid = most_valid(bits) if most is None else most
    return Signal(key, group, number, start, bits, scale, offset, valid, dimension)


_WIDE = 0.03125
_SIGNALS = (
    _signal("fan_percent", 65213, 975, 0, 8, 0.004, 0.0, "share"),
    _signal("fan_state", 65213, 977, 8, 4, most=14),
    _signal("fan_speed", 65213, 1639, 16, 16, 0.125 * RPM, 0.0, "rotation"),
    _signal("fan_motor_pressure", 65213, 4211, 32, 16, 500.0, 0.0, "pressure"),
    _signal("fan_bypass", 65213, 4212, 48, 8, 0.004, 0.0, "share"),
    _signal("fan_request", 57344, 986, 0, 8, 0.004, 0.0, "share"),
    _signal("fan_2_percent", 64817, 1550, 0, 8, 0.004, 0.0, "share"),
    _signal("fan_2_state", 64817, 1557, 8, 4, most=14),
    _signal("fan_2_speed", 64817, 1598, 16, 16, 0.125 * RPM, 0.0, "rotation"),
    _signal("engine_speed", 61444, 190, 24, 16, 0.125 * RPM, 0.0, "rotation"),
    _signal("demand_torque", 61444, 512, 8, 8, 0.01, -1.25, "share"),
    _signal("actual_torque", 61444, 513, 16, 8, 0.01, -1.25, "share"),
    _signal("torque_mode", 61444, 899, 0, 4, most=14),
    _signal("pedal", 61443, 91, 8, 8, 0.004, 0.0, "share"),
    _signal("load", 61443, 92, 16, 8, 0.01, 0.0, "share", most=125),
    _signal("coolant", 65262, 110, 0, 8, 1.0, KELVIN - 40.0, "temperature"),
    _signal("fuel_temperature", 65262, 174, 8, 8, 1.0, KELVIN - 40.0, "temperature"),
    _signal("oil", 65262, 175, 16, 16, _WIDE, KELVIN - 273.0, "temperature"),
    _signal("boost", 65270, 102, 8, 8, 2000.0, 0.0, "pressure"),
    _signal("charge_air", 65270, 105, 16, 8, 1.0, KELVIN - 40.0, "temperature"),
    _signal("barometer", 65269, 108, 0, 8, 500.0, 0.0, "pressure_absolute"),
    _signal("ambient", 65269, 171, 24, 16, _WIDE, KELVIN - 273.0, "temperature"),
    _signal("air_supply", 65198, 46, 0, 8, 8000.0, 0.0, "pressure"),
    _signal("air_parking", 65198, 1086, 8, 8, 8000.0, 0.0, "pressure"),
    _signal("air_service_1", 65198, 1087, 16, 8, 8000.0, 0.0, "pressure"),
    _signal("air_service_2", 65198, 1088, 24, 8, 8000.0, 0.0, "pressure"),
    _signal("air_auxiliary", 65198, 1089, 32, 8, 8000.0, 0.0, "pressure"),
    _signal("air_suspension", 65198, 1090, 40, 8, 8000.0, 0.0, "pressure"),
    _signal("compressor", 65198, 1351, 48, 2),
    _signal("road_speed", 65265, 84, 8, 16, 1.0 / 256.0 / 3.6, 0.0, "speed"),
    _signal("parking_brake", 65265, 70, 2, 2),
    _signal("brake", 65265, 597, 28, 2),
    _signal("cruise", 65265, 595, 24, 2),
    _signal("retarder_mode", 61440, 900, 0, 4, most=14),
    _signal("retarder_torque", 61440, 520, 8, 8, 0.01, -1.25, "share"),
    _signal("retarder_heats_coolant", 61440, 1082, 24, 2),
    _signal("distance_fine", 65217, 917, 0, 32, 5.0, 0.0, "distance"),
    _signal("trip_distance_fine", 65217, 918, 32, 32, 5.0, 0.0, "distance"),
    _signal("trip_distance", 65248, 244, 0, 32, 125.0, 0.0, "distance"),
    _signal("distance", 65248, 245, 32, 32, 125.0, 0.0, "distance"),
    _signal("engine_time", 65253, 247, 0, 32, 180.0, 0.0, "engine_time"),
    _signal("revolutions", 65253, 249, 32, 32, 1000.0, 0.0, ""),
    _signal("fuel_rate", 65266, 183, 0, 16, 0.05e-3 / 3600.0, 0.0, "volume_flow"),
    _signal("fuel_economy", 65266, 184, 16, 16, 1e9 / 512.0, 0.0, ""),
    _signal("fuel_pressure", 65263, 94, 0, 8, 4000.0, 0.0, "pressure"),
    _signal("oil_level", 65263, 98, 16, 8, 0.004, 0.0, "share"),
    _signal("oil_pressure", 65263, 100, 24, 8, 4000.0, 0.0, "pressure"),
    _signal("crankcase_pressure", 65263, 101, 32, 16, 1000.0 / 128.0, -250_000.0, "pressure"),
    _signal("coolant_pressure", 65263, 109, 48, 8, 2000.0, 0.0, "pressure"),
    _signal("coolant_level", 65263, 111, 56, 8, 0.004, 0.0, "share"),
    _signal("transmission_oil", 65272, 177, 32, 16, _WIDE, KELVIN - 273.0, "temperature"),
    _signal("ac_high_pressure", 65252, 985, 16, 2),
    _signal("ac_low_switch", 65252, 875, 18, 2),
    _signal("ac_high_switch", 65252, 605, 20, 2),
    _signal("idle_shutdown", 65252, 593, 0, 2),
    _signal("protection_shutdown", 65252, 1110, 32, 2),
    _signal("ac_pressure", 64993, 2609, 0, 8, 16_000.0, 0.0, "pressure"),
    _signal("battery", 65271, 168, 32, 16, 0.05, 0.0, "voltage"),
)


@dataclass(frozen=True)
class Layout:
    """All messages and signals that are read.

    Args:
        streams: Messages by parameter group.
        signals: Signals by their name here.
    """

    streams: Mapping[int, Stream]
    signals: Mapping[str, Signal]

    @property
    def numbers(self) -> dict[int, int]:
        """Number of the message by its group."""
        return {group: stream.number for group, stream in self.streams.items()}

    @property
    def intervals_us(self) -> dict[int, int]:
        """Shortest interval kept by the number of the message [us]."""
        return {stream.number: stream.keep_every_us for stream in self.streams.values()}


STANDARD = Layout(
    MappingProxyType({stream.group: stream for stream in _STREAMS}),
    MappingProxyType({signal.key: signal for signal in _SIGNALS}),
)

STATES: Mapping[int, str] = MappingProxyType(
    {
        0: "",
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
)
"""Fan drive state (SPN 977, 1557) to the reason for which the fan is told on; 15 is not available."""

UNKNOWN = "unknown"

SENDERS: Mapping[int, str] = MappingProxyType(
    {
        0: "engine",
        1: "engine 2",
        3: "transmission",
        5: "shift console",
        8: "steering axle",
        11: "brakes",
        15: "engine retarder",
        16: "driveline retarder",
        17: "cruise control",
        23: "instrument cluster",
        25: "climate control",
        30: "electrical system",
        33: "body controller",
        39: "management computer",
        41: "exhaust retarder",
        42: "headway controller",
        47: "suspension",
        49: "cab controller",
        50: "second cab controller",
        61: "exhaust after-treatment",
        71: "chassis controller",
        78: "fan drive controller",
        85: "particulate filter",
        249: "service tool",
        250: "service tool",
        251: "on-board logger",
    }
)
"""Preferred source addresses, as public lists agree on them."""
