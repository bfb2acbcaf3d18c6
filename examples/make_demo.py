"""Write the pressure traces and bus recordings of the demo fleet beside its visit files.

Everything here is invented: no truck was measured. The same bytes are written each time.

    .venv/bin/python examples/make_demo.py [FOLDER]
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fanwright.truck.loader import presets
from fanwright.virtual.circuit import Circuit, circuit_of
from fanwright.virtual.day import DayStory
from fanwright.virtual.faults import with_faults
from fanwright.virtual.logger import PSI, Logger, simulate_trace, write_csv
from fanwright.virtual.story import Story, cycles
from fanwright.virtual.traffic import make_day

HERE = Path(__file__).resolve().parent / "demo"
Series = NDArray[np.float64]

# ---- pressure traces: the air of a preset truck that is a little its own, with the faults of its story ----

SPRING_ON, MOUNTAIN, AIR_ON = "line-haul spring-on", "mountain spring-on", "line-haul air-on"
RESERVOIR_PA = 118.2 * PSI


@dataclass(frozen=True)
class TraceStory:
    """How a trace was taken: a wait, cycles, then perhaps one more fill and a hold.

    Args:
        faults: Fault to severity, as the simulation knows them.
        preset: The truck.
        fill: What its valve passes towards the drive, of the preset's [-].
        supply: What the path to its inlet passes, of the preset's [-].
        exponent: Exponent of the change of state of its air [-].
        cycles: How often air is sent and cut off [-].
        sent_s: How long each time [s].
        cut_off_s: How long after each [s].
        hold_s: How long the drive is shut off at the end [s].
    """

    faults: Mapping[str, float] = field(default_factory=dict)
    preset: str = SPRING_ON
    fill: float = 1.25
    supply: float = 1.8
    exponent: float = 1.38
    cycles: int = 5
    sent_s: float = 4.0
    cut_off_s: float = 5.0
    hold_s: float = 0.0

    def circuit(self) -> Circuit:
        """Give the air circuit; no truck is exactly as its preset says."""
        sound = circuit_of(presets()[self.preset], RESERVOIR_PA)
        own = replace(
            sound,
            fill_conductance_m3_per_s_pa=self.fill * sound.fill_conductance_m3_per_s_pa,
            exhaust_conductance_m3_per_s_pa=0.8 * sound.exhaust_conductance_m3_per_s_pa,
            supply_conductance_m3_per_s_pa=self.supply * sound.supply_conductance_m3_per_s_pa,
            dead_volume_m3=0.92 * sound.dead_volume_m3,
            exponent=self.exponent,
        )
        return with_faults(own, self.faults)

    def told(self) -> Story:
        """Give what was done and when."""
        story = cycles(self.cycles, self.sent_s, self.cut_off_s, first_s=WAIT_S)
        if not self.hold_s:
            return story
        shut = story.duration_s + self.sent_s
        end = shut + self.hold_s
        return replace(
            story, duration_s=end, sent=(*story.sent, (story.duration_s, end + 1.0)), shut=((shut, end),)
        )


WAIT_S, RATE_HZ, NOISE_PA, DIVISION_PA = 4.0, 50.0, 0.12 * PSI, 0.1 * PSI
TRACES = {
    "202-air.csv": TraceStory({"exhaust_blocked": 0.73}),
    "207-air.csv": TraceStory(
        {"drive_seal_leaks": 0.618},
        fill=0.8,
        supply=0.7,
        exponent=1.2,
        cycles=3,
        sent_s=3.0,
        cut_off_s=3.0,
        hold_s=6.0,
    ),
    "209-air.csv": TraceStory(
        {"drive_line_restricted": 0.997, "drive_seal_leaks": 0.0215},
        MOUNTAIN,
        supply=3.0,
        cycles=2,
        sent_s=30.0,
        cut_off_s=25.0,
    ),
    "214-air.csv": TraceStory({"exhaust_blocked": 0.73}, cycles=10),
    "214-air-after.csv": TraceStory(cycles=10),
    "217-air.csv": TraceStory(
        {"leak_drive_line": 0.73}, AIR_ON, supply=1.0, cycles=3, sent_s=3.0, cut_off_s=3.0
    ),
    "218-air.csv": TraceStory({"valve_sticks_open": 1.0}, AIR_ON, sent_s=5.0),
}


def write_trace(path: Path, story: TraceStory, seed: int) -> None:
    """Write one trace: 50 rows a second, read to 0.1 psi, with the noise of a logger."""
    logger = Logger(RATE_HZ, NOISE_PA, DIVISION_PA, seed=seed)
    write_csv(simulate_trace(story.circuit(), story.told(), logger), path)


# ---- bus recordings: candump -l, only the messages the story needs -----------------------------------

OFF, CHARGE_AIR, COOLANT, AIR_CONDITIONING, ENGINE_BRAKE = 0, 2, 4, 11, 13


@dataclass(frozen=True)
class Run:
    """One run: its start [s from the first frame], and how long each reason lasted [s]."""

    start_s: int
    reasons: tuple[tuple[int, int], ...]

    @property
    def length_s(self) -> int:
        """How long it lasted [s]."""
        return sum(length for _, length in self.reasons)


@dataclass(frozen=True)
class Drive:
    """A drive on the road, second by second; ``switch`` says whether the A/C pressure switch asks.

    ``fan_ratio`` is fan speed over engine speed while told on, or None without a fan speed sensor.
    """

    begins: dt.datetime
    runs: tuple[Run, ...]
    engine_rpm: Series
    road_km_h: Series
    coolant_c: Series
    ambient_c: float
    switch: NDArray[np.bool_]
    fan_ratio: float | None = None

    def states(self) -> NDArray[np.int64]:
        """Give the fan drive state of each second."""
        states = np.full(self.engine_rpm.size, OFF)
        for run in self.runs:
            second = run.start_s
            for state, length in run.reasons:
                states[second : second + length] = state
                second += length
        return states


def spread(lengths: Sequence[int], total_s: int, rng: np.random.Generator, state: int) -> tuple[Run, ...]:
    """Place runs of one reason with scattered gaps, none at the ends."""
    idle = total_s - sum(lengths)
    shares = rng.uniform(0.35, 1.65, len(lengths) + 1)
    gaps = np.floor(shares / shares.sum() * idle).astype(int)
    runs, second = [], 0
    for gap, length in zip(gaps, lengths, strict=False):
        second += int(gap)
        runs.append(Run(second, ((state, int(length)),)))
        second += int(length)
    return tuple(runs)


def wander(rng: np.random.Generator, size: int, low: float, high: float, slowness_s: int) -> Series:
    """Draw a smooth random course between two bounds."""
    knots = rng.uniform(low, high, size // slowness_s + 2)
    course: Series = np.interp(np.arange(size), np.arange(knots.size) * slowness_s, knots)
    return course


def asked(runs: Sequence[Run], size: int, state: int) -> NDArray[np.bool_]:
    """Say in which seconds runs of one reason are told on."""
    found = np.zeros(size, dtype=bool)
    for run in runs:
        if run.reasons[0][0] == state:
            found[run.start_s : run.start_s + run.length_s] = True
    return found


def saw(runs: Sequence[Run], size: int, rest_c: float, per_run_c: float) -> Series:
    """Draw a coolant temperature that climbs to each run and falls in it."""
    knots = [(0.0, rest_c)]
    for run in runs:
        knots += [(float(run.start_s), rest_c + per_run_c), (float(run.start_s + run.length_s), rest_c)]
    times, values = zip(*knots, strict=True)
    course: Series = np.interp(np.arange(size), times, values)
    return course


def shift(month: int, day: int) -> dt.datetime:
    """Give the start of a recording: 14:00 UTC of a day in 2026."""
    return dt.datetime(2026, month, day, 14, tzinfo=dt.UTC)


def brake_grades(rng: np.random.Generator) -> Drive:
    """203: climbs with coolant runs, descents with the engine brake and the fan together."""
    size = 1800
    climbs = tuple(Run(start, ((COOLANT, length),)) for start, length in ((210, 118), (760, 96), (1310, 131)))
    falls = ((430, 31), (505, 22), (610, 44), (1010, 27), (1105, 38), (1580, 35))
    brakes = tuple(Run(start, ((ENGINE_BRAKE, length),)) for start, length in falls)
    runs = tuple(sorted(climbs + brakes, key=lambda run: run.start_s))
    rpm, road = wander(rng, size, 1350, 1600, 20), wander(rng, size, 38, 62, 45)
    for run in brakes:
        rpm[run.start_s - 4 : run.start_s + run.length_s] = rng.uniform(1920, 2180)
    return Drive(shift(1, 16), runs, rpm, road, saw(climbs, size, 88.0, 9.0), 3.0, np.zeros(size, dtype=bool))


def switch_chatters(rng: np.random.Generator) -> Drive:
    """205: 31 grips an hour, runs of 2 to 40 s and gaps without any pattern."""
    size = 2090
    lengths = [2, 17, 5, 31, 9, 3, 24, 40, 12, 7, 28, 4, 36, 14, 2, 20, 11, 33]
    runs = spread(lengths, size, rng, AIR_CONDITIONING)
    return Drive(shift(1, 30), runs, *town(rng, size), 20.0, asked(runs, size, AIR_CONDITIONING))


def town(rng: np.random.Generator, size: int) -> tuple[Series, Series, Series]:
    """Draw engine speed, road speed and coolant of stop-and-go, with the coolant well under its fan-on."""
    return wander(rng, size, 680, 1650, 12), wander(rng, size, 0, 52, 25), wander(rng, size, 84, 89, 240)


def plugged_coolers(rng: np.random.Generator) -> Drive:
    """206: long runs for charge air and coolant, told on 41 % of the time."""
    size = 1800
    starts = (160, 490, 820, 1140, 1480)
    parts = ((95, 76), (70, 78), (139, 0), (60, 92), (88, 40))
    runs = tuple(
        Run(start, ((CHARGE_AIR, first), (COOLANT, second)))
        for start, (first, second) in zip(starts, parts, strict=True)
    )
    rpm, road = wander(rng, size, 1250, 1850, 25), wander(rng, size, 0, 42, 40)
    return Drive(shift(2, 5), runs, rpm, road, saw(runs, size, 90.0, 8.0), 14.0, np.zeros(size, dtype=bool))


def ordinary(rng: np.random.Generator) -> Drive:
    """214: an ordinary half hour on the highway, from the start of the engine."""
    size = 1800
    runs = (Run(640, ((COOLANT, 72),)), Run(1290, ((AIR_CONDITIONING, 66),)))
    rpm, road = wander(rng, size, 1180, 1420, 60), wander(rng, size, 82, 104, 90)
    rpm[:20] = 0.0
    road[:60] = 0.0
    coolant = np.minimum(saw(runs[:1], size, 87.0, 6.0), 62.0 + np.arange(size) * 0.08)
    return Drive(shift(4, 10), runs, rpm, road, coolant, 17.0, asked(runs, size, AIR_CONDITIONING))


def heats_up(rng: np.random.Generator) -> Drive:
    """220: told on for coolant and turning at 99 % of its pulley, and the coolant climbs all the same."""
    size = 1800
    begins = 420
    runs = (Run(begins, ((COOLANT, size - begins),)),)
    rpm, road = wander(rng, size, 1400, 1700, 40), wander(rng, size, 35, 58, 60)
    seconds = np.arange(size)
    coolant = np.where(
        seconds < begins, 89.0 + seconds * 8.0 / begins, 97.0 + (seconds - begins) * 0.68 / 60.0
    )
    no_switch = np.zeros(size, dtype=bool)
    return Drive(shift(6, 8), runs, rpm, road, coolant, 24.0, no_switch, fan_ratio=1.2 * 0.99)


RECORDINGS: dict[str, Callable[[np.random.Generator], Drive]] = {
    "203-duty.log": brake_grades,
    "205-duty.log": switch_chatters,
    "206-duty.log": plugged_coolers,
    "214-duty.log": ordinary,
    "220-duty.log": heats_up,
}


# By the maker of traffic; the others tell stories it has no words for. 204: 38 grips an hour, 15 s each.
TOWN_204 = DayStory(204, 0.5, "town", 31.0, "set_ac_time_short", 15.0, begin=shift(1, 30), engine_every_s=0.5)
LOGGED = ("FEBD", "F004", "FEEE", "FEF5", "FEAE", "FEF1", "FEE4")  # what a logger set to the fan keeps


def word(value: float) -> bytes:
    """Pack a raw value into two bytes, the low one first."""
    return round(value).to_bytes(2, "little")


def frames(drive: Drive, rng: np.random.Generator) -> list[tuple[float, str, bytes]]:
    """Give time [s], identifier and data of each frame, in order; the layouts are from memory."""
    states = drive.states()
    speed = np.clip(drive.engine_rpm + rng.normal(0.0, 4.0, states.size), 0.0, None) * (drive.engine_rpm > 0)
    air_kpa = 816.0 - 8.0 * (np.arange(states.size) // 45 % 12)
    found = []
    for second, state in enumerate(states.tolist()):
        rpm, on = float(speed[second]), state != OFF
        turns = b"\xff\xff"
        if drive.fan_ratio is not None:
            turns = word(rpm * (drive.fan_ratio if on else 0.09) / 0.125)
        percent = (249 if drive.fan_ratio else 250) if on else 0
        engine = b"\xf1\xff" + bytes([125 + int(35 * (rpm > 0))]) + word(rpm / 0.125) + b"\xff\xff\xff"
        oil = word((drive.coolant_c[second] + 6.0 + 273.0) / 0.03125)
        coolant = bytes([round(drive.coolant_c[second]) + 40, 255])
        ambient = word((drive.ambient_c + 273.0) / 0.03125)
        air, switch = bytes([int(air_kpa[second] // 8)]), bytes([0xC0 | int(drive.switch[second])])
        found += [
            (second + 0.031, "18FEBD00", bytes([percent, 0xF0 | state]) + turns + b"\xff" * 4),
            (second + 0.104, "0CF00400", engine),
            (second + 0.212, "18FEEE00", coolant + oil + b"\xff" * 4),
            (second + 0.318, "18FEF500", b"\xc8\xff\xff" + ambient + b"\xff" * 3),
            (second + 0.427, "18FEAE31", air + b"\xff" + air + air + b"\xff" * 4),
            (second + 0.539, "18FEF100", b"\xff" + word(drive.road_km_h[second] * 256.0) + b"\xff" * 5),
            (second + 0.604, "0CF00400", engine),
            (second + 0.733, "18FEE400", b"\xff\xff" + switch + b"\xff" * 5),
        ]
    return found


def write_recording(path: Path, story: Callable[[np.random.Generator], Drive], seed: int) -> None:
    """Write one recording as ``candump -l`` does."""
    rng = np.random.default_rng(seed)
    drive = story(rng)
    listed = frames(drive, rng)
    jitter = rng.uniform(-0.0004, 0.0004, len(listed))
    begins = int(drive.begins.timestamp())
    lines = [
        f"({begins + at + late:.6f}) can0 {identifier}#{data.hex().upper()}"
        for (at, identifier, data), late in zip(listed, jitter.tolist(), strict=True)
    ]
    path.write_text("\n".join(lines) + "\n", encoding="ascii", newline="\n")


def write_made_day(path: Path, story: DayStory) -> None:
    """Write a recording by the maker of traffic, kept small by logging only what tells of the fan."""
    kept = [line.strip() for line in make_day(story).lines if line.partition("#")[0][-6:-2] in LOGGED]
    path.write_text("\n".join(kept) + "\n", encoding="ascii", newline="\n")


def make(folder: Path) -> list[Path]:
    """Write all traces and recordings into a folder and name them."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, trace in TRACES.items():
        written.append(folder / name)
        write_trace(written[-1], trace, seed=int(name[:3]))
    for name, story in RECORDINGS.items():
        written.append(folder / name)
        write_recording(written[-1], story, seed=int(name[:3]))
    written.append(folder / "204-duty.log")
    write_made_day(written[-1], TOWN_204)
    return written


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    if target.is_file():
        sys.exit(f"{target} is a file: name a folder, or none for {HERE}")
    print(f"{len(make(target))} files written to {target}")
