"""Write the pressure traces and bus recordings of the demo fleet beside its visit files.

Everything here is invented: no truck was measured. The same bytes are written each time.

    .venv/bin/python examples/make_demo.py [FOLDER]
"""

from __future__ import annotations

import datetime as dt
import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fanwright.virtual.day import DayStory
from fanwright.virtual.traffic import make_day

HERE = Path(__file__).resolve().parent / "demo"
Series = NDArray[np.float64]

# ---- pressure traces: two gauges on one small circuit ------------------------------------------------

PSI_IN_BAR = 0.06894757293168
AMBIENT_BAR = 1.01325
STEP_S = 0.002
EVERY = 10  # one row of the trace each 10 steps: 50 rows a second


@dataclass(frozen=True)
class Circuit:
    """An invented air circuit: tanks, supply line, valve, drive line and drive in one volume.

    The conductances are the sonic conductance of ISO 6358; the air stays at the temperature of the shop.

    Args:
        fill: Valve and line towards the drive [dm3/(s bar)].
        exhaust: Drive through the valve to the exhaust port [dm3/(s bar)].
        leak: Drive or drive line to the surroundings [dm3/(s bar)].
        supply: Tank to valve inlet [dm3/(s bar)].
        volume: Drive line and drive [dm3].
        tank_gauge_psi: Tanks at the start, gauge [psi].
        full_at_start: Whether the drive stands full at the start.
    """

    fill: float
    exhaust: float
    leak: float = 0.0
    supply: float = 5.0
    volume: float = 0.20
    tank_gauge_psi: float = 118.2
    full_at_start: bool = False


INLET_DM3 = 0.20  # line and filter bowl before the valve
TANKS_DM3 = 91.0
CRITICAL_RATIO = 0.35
BLEND_RATIO = 0.99  # above it the flow is drawn straight to zero, as simulation programs do


def flow(conductance: float, upstream_bar: float, downstream_bar: float) -> float:
    """Give the flow by ISO 6358 with exponent 0.5 at 20 degC, either way.

    Args:
        conductance: Sonic conductance [dm3/(s bar)].
        upstream_bar: Pressure on one side, absolute [bar].
        downstream_bar: Pressure on the other side, absolute; the flow is counted towards it [bar].
    """
    if downstream_bar > upstream_bar:
        return -flow(conductance, downstream_bar, upstream_bar)
    ratio = downstream_bar / upstream_bar
    if ratio <= CRITICAL_RATIO:
        return conductance * upstream_bar
    held = min(ratio, BLEND_RATIO)
    share = math.sqrt(1.0 - ((held - CRITICAL_RATIO) / (1.0 - CRITICAL_RATIO)) ** 2)
    if ratio > BLEND_RATIO:
        share *= (1.0 - ratio) / (1.0 - BLEND_RATIO)
    return conductance * upstream_bar * share


def gauges(circuit: Circuit, sent: Sequence[bool], shut: Sequence[bool]) -> tuple[Series, Series]:
    """Follow inlet and drive, gauge [psi], every tenth step of "air sent" and "shut off at the drive"."""
    tank = inlet = circuit.tank_gauge_psi * PSI_IN_BAR + AMBIENT_BAR
    drive = inlet if circuit.full_at_start else AMBIENT_BAR
    rows = []
    for index, (air_sent, shut_off) in enumerate(zip(sent, shut, strict=True)):
        if index % EVERY == 0:
            rows.append((inlet, drive))
        from_tank = flow(circuit.supply, tank, inlet)
        to_drive = flow(circuit.fill, inlet, drive) if air_sent and not shut_off else 0.0
        vented = 0.0 if air_sent or shut_off else flow(circuit.exhaust, drive, AMBIENT_BAR)
        leaked = flow(circuit.leak, drive, AMBIENT_BAR)
        tank -= from_tank * STEP_S / TANKS_DM3
        inlet += (from_tank - to_drive) * STEP_S / INLET_DM3
        drive += (to_drive - vented - leaked) * STEP_S / circuit.volume
    inlet_bar, drive_bar = np.array(rows).T
    return (inlet_bar - AMBIENT_BAR) / PSI_IN_BAR, (drive_bar - AMBIENT_BAR) / PSI_IN_BAR


@dataclass(frozen=True)
class TraceStory:
    """How a trace was taken: a wait, cycles, then perhaps one more fill and a hold."""

    circuit: Circuit
    cycles: int = 5
    sent_s: float = 4.0
    cut_off_s: float = 5.0
    hold_s: float = 0.0


SOUND = Circuit(fill=0.385, exhaust=0.655)
TRACES = {
    "202-air.csv": TraceStory(replace(SOUND, exhaust=0.1895)),
    "207-air.csv": TraceStory(
        Circuit(fill=0.36, exhaust=0.70, leak=0.466, supply=1.4),
        cycles=3,
        sent_s=3.0,
        cut_off_s=3.0,
        hold_s=6.0,
    ),
    "209-air.csv": TraceStory(
        Circuit(fill=0.0070, exhaust=0.012, leak=0.0156), cycles=2, sent_s=30.0, cut_off_s=25.0
    ),
    "214-air.csv": TraceStory(replace(SOUND, exhaust=0.1895), cycles=10),
    "214-air-after.csv": TraceStory(SOUND, cycles=10),
    "217-air.csv": TraceStory(
        Circuit(fill=0.36, exhaust=0.70, leak=0.552, supply=1.4), cycles=3, sent_s=3.0, cut_off_s=3.0
    ),
    "218-air.csv": TraceStory(replace(SOUND, exhaust=0.0, full_at_start=True), sent_s=5.0, cut_off_s=5.0),
}


def write_trace(path: Path, story: TraceStory, seed: int) -> None:
    """Write one trace: 50 rows a second, read to 0.1 psi, with the noise of a logger."""
    pattern = [(4.0, False, False)]
    pattern += [(story.sent_s, True, False), (story.cut_off_s, False, False)] * story.cycles
    if story.hold_s:
        pattern += [(story.sent_s, True, False), (story.hold_s, True, True)]
    steps = [round(length / STEP_S) for length, _, _ in pattern]
    sent = np.repeat([air for _, air, _ in pattern], steps)
    shut = np.repeat([off for _, _, off in pattern], steps)
    supply, drive = gauges(story.circuit, sent.tolist(), shut.tolist())
    noise = np.random.default_rng(seed)
    supply = supply + noise.normal(0.0, 0.12, supply.size)
    drive = drive + noise.normal(0.0, 0.12, drive.size)
    lines = ["time [s],supply [psi],drive [psi],command" + (",shut" if story.hold_s else "")]
    for row in range(supply.size):
        step = row * EVERY
        cells = [f"{step * STEP_S:.2f}", f"{supply[row]:.1f}", f"{drive[row]:.1f}", str(int(sent[step]))]
        lines.append(",".join([*cells, str(int(shut[step]))] if story.hold_s else cells))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


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
