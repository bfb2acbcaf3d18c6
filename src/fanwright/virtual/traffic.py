"""Days of believable bus traffic for a truck with a story, with the truth beside it.

A simple truck: a route asks for speed and power, the coolant warms and cools, the air conditioning loads the
condenser, the controller tells the fan on and off. All numbers are assumptions chosen to look like a heavy
truck; nothing here was measured.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field

from fanwright.virtual.day import FAULTS, ROUTES, DayStory, Second, TrueRun, Truth
from fanwright.virtual.messages import codes_of, lines_of

__all__ = ["FAULTS", "ROUTES", "Day", "DayStory", "Second", "TrueRun", "Truth", "make_day"]

COOLANT_ON_C, COOLANT_OFF_C = 98.0, 93.0
CHARGE_ON_C, CHARGE_OFF_C = 68.0, 60.0
CONDENSER_ON, CONDENSER_OFF = 1.0, 0.72


@dataclass(frozen=True)
class Day:
    """A day of traffic.

    Args:
        story: What it is about.
        seconds: The truck, second by second.
        lines: The candump log.
        truth: What really happened.
    """

    story: DayStory
    seconds: tuple[Second, ...]
    lines: tuple[str, ...]
    truth: Truth

    def text(self) -> str:
        """Give the log as one text."""
        return "".join(self.lines)


def make_day(story: DayStory) -> Day:
    """Make a day of traffic.

    Example:
        >>> day = make_day(DayStory(hours=0.05))
        >>> day.lines[0][:20], len(day.seconds)
        ('(1776144600.000000) ', 180)
    """
    seconds = tuple(_drive(story))
    lines, damaged = lines_of(story, seconds)
    codes = tuple((0, number, mode) for number, mode in codes_of(story.fault))
    on = sum(second.rpm >= 400.0 for second in seconds)
    return Day(story, seconds, lines, Truth(_true_runs(seconds), float(on), codes, damaged))


def _true_runs(seconds: tuple[Second, ...]) -> tuple[TrueRun, ...]:
    runs: list[TrueRun] = []
    begun: tuple[int, str] | None = None
    for number, second in enumerate(seconds):
        told = second.reason if second.rpm >= 400.0 else ""
        if told and begun is None:
            begun = number, told
        elif not told and begun is not None:
            runs.append(TrueRun(begun[0], number, begun[1]))
            begun = None
    if begun is not None:
        runs.append(TrueRun(begun[0], len(seconds), begun[1]))
    return tuple(runs)


# --- The truck --------------------------------------------------------------------------------------------


@dataclass
class _Truck:
    """The state of the truck between two seconds."""

    coolant_c: float
    charge_c: float
    condenser: float = 0.4
    air_kpa: float = 800.0
    reason: str = ""
    since_s: float = 0.0
    fan_rpm: float = 0.0
    ac_asks: bool = False
    chatter: list[float] = field(default_factory=list)


def _drive(story: DayStory) -> Iterator[Second]:
    chance = random.Random(story.seed)  # noqa: S311  # a story, not a secret
    truck = _Truck(story.ambient_c + 40.0, story.ambient_c + 15.0)
    legs = _legs(story, chance)
    kind, left = "idle", 120.0
    for number in range(round(story.hours * 3600)):
        if left <= 0.0:
            kind, left = next(legs)
        left -= 1.0
        rpm, road, load, retarder = _asked(kind, number, chance)
        _warm_and_cool(truck, story, rpm, road, load, retarder)
        _tell_fan(truck, story, chance, number, rpm, retarder)
        _turn_fan(truck, story, rpm)
        _fill_air(truck, story, number)
        yield Second(
            rpm,
            road,
            load,
            retarder,
            truck.coolant_c,
            truck.charge_c,
            truck.reason,
            truck.fan_rpm,
            truck.air_kpa,
            truck.ac_asks,
        )


def _legs(story: DayStory, chance: random.Random) -> Iterator[tuple[str, float]]:
    """Give what the route asks for, leg by leg."""
    shares = {
        "line_haul": (("cruise", 900, 2400), ("climb", 60, 200), ("town", 120, 400), ("stop", 300, 900)),
        "mountain": (("climb", 200, 700), ("descend", 200, 600), ("cruise", 200, 600)),
        "town": (("town", 200, 700), ("idle", 60, 300), ("cruise", 60, 200)),
        "quarry": (("crawl", 200, 700), ("climb", 60, 240), ("idle", 120, 600)),
    }[story.route]
    while True:
        for kind, shortest, longest in shares:
            yield kind, chance.uniform(shortest, longest)


def _asked(kind: str, number: int, chance: random.Random) -> tuple[float, float, float, float]:
    """Give engine speed, road speed [km/h], load and retarder torque [-] of a second."""
    wave = abs(number % 90 - 45) / 45.0
    table = {
        "cruise": (1250.0, 98.0, 0.45, 0.0),
        "climb": (1500.0 + 150.0 * wave, 48.0, 0.95, 0.0),
        "descend": (1950.0 + 150.0 * wave, 62.0, 0.0, -0.6),
        "town": (900.0 + 600.0 * wave, 40.0 * wave, 0.35, 0.0),
        "crawl": (1100.0 + 500.0 * wave, 14.0, 0.6, 0.0),
        "idle": (650.0, 0.0, 0.08, 0.0),
        "stop": (0.0, 0.0, 0.0, 0.0),
    }[kind]
    rpm = table[0] + chance.gauss(0.0, 6.0) if table[0] else 0.0
    return rpm, table[1], table[2], table[3]


def _warm_and_cool(
    truck: _Truck, story: DayStory, rpm: float, road: float, load: float, retarder: float
) -> None:
    over = truck.coolant_c - story.ambient_c
    heat = (12.0 + 128.0 * load + 90.0 * -retarder) * (rpm > 0)
    clean = {"coolers_plugged": 0.66, "cooling_side_fault": 0.42}.get(story.fault, 1.0)
    open_share = min(max((truck.coolant_c - 82.0) / 10.0, 0.02), 1.0)
    fan = truck.fan_rpm / 2000.0
    cooling = over * clean * open_share * (0.55 + road / 90.0 + 1.9 * fan)
    truck.coolant_c += (heat - cooling) / 420.0
    aim = story.ambient_c + 12.0 + 42.0 * load / clean - 14.0 * fan
    truck.charge_c += (aim - truck.charge_c) / 40.0
    hot = max(story.ambient_c - 16.0, 0.0) / 12.0
    aim = (0.28 + hot * 0.52) / (0.75 + road / 120.0 + 1.6 * fan) / (0.5 + 0.5 * clean) * (rpm > 0)
    truck.condenser += (aim - truck.condenser) / 25.0


def _tell_fan(
    truck: _Truck, story: DayStory, chance: random.Random, number: int, rpm: float, retarder: float
) -> None:
    asks = _reasons(truck, story, chance, number, retarder) if rpm > 0 else []
    least = 45.0
    if truck.reason == "air_conditioning":
        least = _shortest_ac(story)
    elif truck.reason in ("engine_brake", "manual", "default"):
        least = 0.0
    if truck.reason and rpm > 0 and not asks and number - truck.since_s < least:
        return
    wanted = asks[0] if asks else ""
    if wanted != truck.reason:
        if not truck.reason:
            truck.since_s = number
        truck.reason = wanted


def _shortest_ac(story: DayStory) -> float:
    if story.fault == "ac_switch_chatters":
        return 0.0
    return 15.0 if story.fault == "set_ac_time_short" else story.shortest_ac_run_s


def _reasons(
    truck: _Truck, story: DayStory, chance: random.Random, number: int, retarder: float
) -> list[str]:
    """Give what asks for the fan, the strongest first."""
    asks = []
    if story.fault == "set_fan_with_brake" and retarder < -0.3:
        asks.append("engine_brake")
    if story.fault == "temp_signal_always_asks" and number > 600:
        asks.append("default")
    if truck.coolant_c > (COOLANT_OFF_C if truck.reason == "coolant" else COOLANT_ON_C):
        asks.append("coolant")
    if truck.charge_c > (CHARGE_OFF_C if truck.reason == "charge_air" else CHARGE_ON_C):
        asks.append("charge_air")
    if story.fault == "fan_asked_on_purpose" and number % 5400 > 3600:
        asks.append("manual")
    if _condenser_asks(truck, story, chance, number):
        asks.append("air_conditioning")
    return asks


def _condenser_asks(truck: _Truck, story: DayStory, chance: random.Random, number: int) -> bool:
    if story.fault == "ac_switch_chatters":
        if not truck.chatter or number >= truck.chatter[1]:
            gap = chance.uniform(30.0, 150.0)
            truck.chatter = [number + gap, number + gap + chance.uniform(2.0, 40.0)]
        truck.ac_asks = number >= truck.chatter[0]
    elif story.fault == "set_ac_time_short":
        truck.ac_asks = number % 95 < 15
    else:
        truck.ac_asks = truck.condenser > (CONDENSER_OFF if truck.ac_asks else CONDENSER_ON)
    return truck.ac_asks


def _turn_fan(truck: _Truck, story: DayStory, rpm: float) -> None:
    pulley = 1.1 * rpm
    grip = 0.82 if story.fault == "clamp_spring_weak" else 0.995
    aim = pulley * (grip if truck.reason else 0.12)
    truck.fan_rpm += (aim - truck.fan_rpm) * 0.7


def _fill_air(truck: _Truck, story: DayStory, number: int) -> None:
    low = story.fault == "vehicle_air_low"
    bottom, top = (540.0, 640.0) if low else (700.0, 840.0)
    wave = abs(number % 400 - 200) / 200.0
    truck.air_kpa = bottom + (top - bottom) * wave
