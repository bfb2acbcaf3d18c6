"""What a day of made-up bus traffic is about, the truck in each of its seconds, and the truth."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final

from fanwright.errors import InputError
from fanwright.words import Message, listing, text

ROUTES: Final = ("line_haul", "mountain", "town", "quarry")
FAULTS: Final = (
    "no_fault",
    "ac_switch_chatters",
    "set_ac_time_short",
    "set_fan_with_brake",
    "coolers_plugged",
    "cooling_side_fault",
    "temp_signal_always_asks",
    "fan_asked_on_purpose",
    "wire_open",
    "vehicle_air_low",
    "clamp_spring_weak",
)


@dataclass(frozen=True)
class DayStory:
    """What a day is about.

    Args:
        seed: Equal stories give equal bytes.
        hours: How long it lasts [h].
        route: One of ``ROUTES``.
        ambient_c: Outside air [degC].
        fault: One of ``FAULTS`` (ids of the catalogue).
        shortest_ac_run_s: Shortest run the controller gives the air conditioning [s].
        fan_sensor: Whether a fan-speed sensor sends what the fan does.
        begin: When it begins, UTC.
        engine_every_s: Period of the engine speed's message [s].
        damaged_share: Share of lines that are damaged [-].
        vehicle_number: Number the engine names itself by; empty for none.
    """

    seed: int = 0
    hours: float = 8.0
    route: str = "line_haul"
    ambient_c: float = 24.0
    fault: str = "no_fault"
    shortest_ac_run_s: float = 90.0
    fan_sensor: bool = False
    begin: dt.datetime = dt.datetime(2026, 4, 14, 5, 30, tzinfo=dt.UTC)
    engine_every_s: float = 0.1
    damaged_share: float = 0.0
    vehicle_number: str = ""

    def __post_init__(self) -> None:
        wrong = [
            Message(
                "{what} «{given}» is not known; there are {known}",
                {
                    "what": text(what),
                    "given": text(given),
                    "known": listing(tuple(text(one) for one in known)),
                },
            )
            for what, given, known in (("route", self.route, ROUTES), ("fault", self.fault, FAULTS))
            if given not in known
        ]
        if not 0.0 < self.hours <= 48.0:
            wrong.append(Message("a day lasts over 0 and up to 48 hours"))
        if wrong:
            raise InputError(wrong)


@dataclass(frozen=True)
class TrueRun:
    """One run as the controller told it: start and end [s from the beginning], reason."""

    start_s: float
    end_s: float
    reason: str


@dataclass(frozen=True)
class Truth:
    """What really happened.

    Args:
        runs: Runs of the fan with the engine on.
        engine_on_s: Time with the engine on [s].
        codes: Active trouble codes: sender, number, mode.
        damaged_lines: How many lines were damaged.
    """

    runs: tuple[TrueRun, ...]
    engine_on_s: float
    codes: tuple[tuple[int, int, int], ...]
    damaged_lines: int


@dataclass(frozen=True)
class Second:
    """The truck in one second: speeds, temperatures [degC], what the fan is told for."""

    rpm: float
    road_km_h: float
    load: float
    retarder: float
    coolant_c: float
    charge_c: float
    reason: str
    fan_rpm: float
    air_kpa: float
    condenser_high: bool
