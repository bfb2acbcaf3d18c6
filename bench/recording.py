"""How fast recordings are read, beside python-can with cantools, polars and asammdf, to the same runs.

A day of bus traffic: 5,000,000 frames, two in five of them read, some with short identifiers or short data,
codes in several packets. Processor time on one thread in a process of its own, imports and compiled code
loaded before; python-can reads a shorter file and is compared by frames a second. Memory is the peak above
what the process had before reading, the kept frames left out.
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

FRAMES, FEW, PACKED = 5_000_000, 200_000, 500_000
HERE = Path(__file__)
Row = dict[str, Any]
START_S = 1_790_000_000


def run() -> list[Row]:
    with tempfile.TemporaryDirectory() as folder:
        names = ("long.log", "short.log", "packed.log", "packed.blf")
        long, short, packed, blf = (Path(folder) / name for name in names)
        write_log(long, FRAMES)
        write_log(short, FEW)
        ours = child("ours", long)
        with_polars = child("with_polars", long)
        ours_short, peer_short = child("ours", short), child("with_python_can", short)
        write_log(packed, PACKED)
        child("write_blf", packed, blf)
        ours_blf, peer_blf = child("ours", blf), child("with_blf_reader", blf)
        mf4 = Path(folder) / "packed.mf4"
        child("write_mf4", packed, mf4)
        ours_mf4, peer_mf4 = child("ours", mf4), child("with_bus_logging", mf4)
    same(ours["table"], with_polars["table"])
    same(ours_short["table"], peer_short["table"])
    assert len(ours["table"]) > 20
    return [
        ratio("candump: times python-can + cantools", peer_short, ours, 100),
        ratio("candump: times polars on one thread", with_polars, ours, 3),
        ratio("BLF: times python-can's reader", peer_blf, ours_blf, 15),
        ratio("MF4: times asammdf's bus logging with the DBC", peer_mf4, ours_mf4, 1.5),
        {
            "name": "candump: memory above the kept frames",
            "measured": ours["memory_mb"],
            "goal": 150,
            "better": "lower",
            "unit": "MB",
        },
        {
            "name": f"candump of {FEW} frames, processor time with hash",
            "measured": ours_short["with_hash_s"],
            "goal": 3,
            "better": "lower",
            "unit": "s",
        },
    ]


def ratio(name: str, peer: Row, ours: Row, goal: float) -> Row:
    measured = (peer["seconds"] / peer["frames"]) / (ours["seconds"] / ours["frames"])
    return {"name": name, "measured": measured, "goal": goal, "better": "higher", "unit": "x"}


def same(one: list[list[float]], other: list[list[float]]) -> None:
    assert len(one) == len(other), (len(one), len(other))
    for mine, its in zip(one, other, strict=True):
        assert all(abs(a - b) < 1e-5 for a, b in zip(mine, its, strict=True)), (mine, its)


def child(task: str, *paths: Path) -> Row:
    environment = {**os.environ, "POLARS_MAX_THREADS": "1", "NUMBA_NUM_THREADS": "1"}
    done = subprocess.run(
        [sys.executable, str(HERE), task, *map(str, paths)],
        check=True,
        capture_output=True,
        text=True,
        env=environment,
    )
    found: Row = json.loads(done.stdout or "{}")
    return found


# --- The file ---------------------------------------------------------------------------------------------


def write_log(path: Path, frames: int) -> None:
    """Write a candump log: 160 frames a second, the fan told on for some minutes now and then."""
    chance = random.Random(5)
    left, second, on_until, off_until, state = frames, 0, 0, 40, 4
    with path.open("w") as file:
        while left > 0:
            if second >= off_until:
                state = chance.choice((2, 4, 11))
                on_until = second + chance.randint(15, 240)
                off_until = on_until + chance.randint(60, 700)
            tails = one_second(state if second < on_until else 0, 1200 + second % 600, second)
            stamps = [f"({START_S + second}.{place * 6250:06d}) can1 " for place in range(len(tails))]
            lines = [stamp + tail for stamp, tail in zip(stamps, tails, strict=True)][:left]
            file.write("".join(lines))
            left -= len(lines)
            second += 1


def one_second(state: int, rpm: int, second: int) -> list[str]:
    speed = (rpm * 8).to_bytes(2, "little").hex().upper()
    percent = "FA" if state else "00"
    tails = [f"18FEBD00#{percent}F{state:X}FFFFFFFFFFFF\n"]
    tails += [f"0CF00400#FFFFFF{speed}FFFFFF\n"] * 20
    tails += ["0CF00300#FF3C28FFFFFFFFFF\n"] * 10
    tails += ["18FEF100#FF0050FFFFFFFFFF\n", "18F00029#FF7DFFFFFFFFFFFF\n", "18FEF200#1A02FFFFFFFFFFFF\n"] * 8
    tails += [
        f"18FEEE00#{0x80 + second % 16:02X}FFFFFFFFFFFFFF\n",
        "18FEF600#FF2D46FFFFFFFFFF\n",
        "18FEF500#C8FFFF2025FFFFFF\n",
        "18FEAE30#FFFF6060FFFFFFFF\n",
        "18E0FF31#FFFFFFFFFFFFFFFF\n",
        "1CECFF00#200E0002FFCAFE00\n",
        "1CEBFF00#0144FF87021F016E\n",
        "1CEBFF00#0200040187020501\n",
    ]
    tails += ["123#0102030405060708\n"] * 4 + ["18FF0117#010203\n"] * 2
    tails += [f"18FF{place:02X}17#0102030405060708\n" for place in range(160 - len(tails))]
    return tails


# --- The tasks, each in a process of its own --------------------------------------------------------------


def ours(path: str) -> Row:
    import resource

    from fanwright.evidence.recording import warm
    from fanwright.evidence.recording.reader import read_recording
    from fanwright.evidence.recording.signals import STANDARD
    from fanwright.evidence.recording.taking import sift_file

    warm.warm()
    read_recording([Path(path).parent / "short.log"], fingerprint=False)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    result, seconds = timed(lambda: read_recording([Path(path)], fingerprint=False))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    _, with_hash = timed(lambda: read_recording([Path(path)]))
    kept = sum(len(part.time_us) for part in sift_file(Path(path), STANDARD, None, False).stretches)
    table = [
        [run.start_s, run.end_s, CODES[run.reason], round(run.grip_rpm or 0.0, 3)] for run in result.runs
    ]
    return {
        "seconds": seconds,
        "with_hash_s": with_hash,
        "frames": result.files[0].tally.frames,
        "memory_mb": (peak - before) / 1024 - kept * 24 / 1e6,
        "table": table,
    }


CODES = {"charge_air": 2, "coolant": 4, "air_conditioning": 11}


def with_python_can(path: str) -> Row:
    import can
    import cantools

    base = cantools.database.load_string(DBC, "dbc")
    messages = {(one.frame_id >> 8) & 0x3FFFF: one for one in base.messages}

    def read() -> tuple[list[list[float]], int]:
        fan: list[tuple[float, float]] = []
        engine: list[tuple[float, float]] = []
        many = 0
        with can.LogReader(path) as reader:
            for message in reader:
                many += 1
                group = (message.arbitration_id >> 8) & 0x3FFFF
                group = group if (group & 0xFF00) >= 0xF000 else group & 0x3FF00
                layout = messages.get(group) if message.is_extended_id else None
                if layout is None:
                    continue
                values = layout.decode(message.data, decode_choices=False)
                if group == 65213:
                    fan.append((message.timestamp, values["state"]))
                elif group == 61444:
                    engine.append((message.timestamp, values["speed"]))
        return table_of(fan, engine), many

    (table, many), seconds = timed(read, times=1)
    return {"seconds": seconds, "frames": many, "table": table}


def with_polars(path: str) -> Row:
    import polars as pl

    text = pl.col("line").str
    layouts = {61444: "0CF00400", 65213: "18FEBD00"}
    others = [f"{group:04X}" for group in (61443, 65262, 65270, 65269, 65198, 65265, 61440, 65266, 65226)]

    def read() -> list[list[float]]:
        lines = pl.scan_csv(
            path,
            has_header=False,
            new_columns=["line"],
            separator="\x01",
            quote_char=None,
            schema={"line": pl.String},
        )
        ident = text.slice(25, 8)
        wanted = ident.is_in([*layouts.values()]) | text.slice(27, 4).is_in(others)
        frames = lines.filter(wanted).select(
            (text.slice(1, 10).cast(pl.Int64) * 1_000_000 + text.slice(12, 6).cast(pl.Int64)).alias("time"),
            ident.alias("ident"),
            text.slice(34, 16).alias("data"),
        )
        byte = lambda place: pl.col("data").str.slice(2 * place, 2).str.to_integer(base=16, strict=False)  # noqa: E731
        found = frames.with_columns(
            byte(0).alias("b0"),
            byte(1).alias("b1"),
            byte(2).alias("b2"),
            byte(3).alias("b3"),
            byte(4).alias("b4"),
        ).collect()
        fan = found.filter(pl.col("ident") == layouts[65213])
        engine = found.filter(pl.col("ident") == layouts[61444])
        return table_of(
            list(zip((fan["time"] / 1e6).to_list(), (fan["b1"] % 16).to_list(), strict=True)),
            list(
                zip(
                    (engine["time"] / 1e6).to_list(),
                    ((engine["b3"] + 256 * engine["b4"]) / 8).to_list(),
                    strict=True,
                )
            ),
        )

    table, seconds = timed(read)
    return {"seconds": seconds, "frames": FRAMES, "table": table}


def table_of(fan: list[tuple[float, float]], engine: list[tuple[float, float]]) -> list[list[float]]:
    """Runs of a recording without gaps and with the engine on throughout."""
    import bisect

    times = [one[0] for one in engine]
    table: list[list[float]] = []
    begun: list[float] = []
    for time_s, state in fan:
        if state and not begun:
            speed = engine[min(bisect.bisect_left(times, time_s), len(times) - 1)][1]
            begun = [time_s, 0.0, state, round(speed, 3)]
        elif begun and not state:
            begun[1] = time_s
            table.append(begun)
            begun = []
    if begun:
        begun[1] = fan[-1][0]
        table.append(begun)
    return table


DBC = """VERSION ""
BU_: A
BO_ 2566831614 FD1: 8 A
 SG_ percent : 0|8@1+ (0.4,0) [0|100] "%" A
 SG_ state : 8|4@1+ (1,0) [0|15] "" A
 SG_ fan : 16|16@1+ (0.125,0) [0|8031] "rpm" A
BO_ 2364540158 EEC1: 8 A
 SG_ torque : 16|8@1+ (1,-125) [-125|125] "%" A
 SG_ speed : 24|16@1+ (0.125,0) [0|8031] "rpm" A
BO_ 2364539902 EEC2: 8 A
 SG_ pedal : 8|8@1+ (0.4,0) [0|100] "%" A
 SG_ load : 16|8@1+ (1,0) [0|250] "%" A
BO_ 2566844926 CCVS: 8 A
 SG_ speed : 8|16@1+ (0.00390625,0) [0|251] "km/h" A
BO_ 2565865726 ERC1: 8 A
 SG_ torque : 8|8@1+ (1,-125) [-125|125] "%" A
BO_ 2566845182 LFE: 8 A
 SG_ rate : 0|16@1+ (0.05,0) [0|3212] "L/h" A
BO_ 2566844158 ET1: 8 A
 SG_ coolant : 0|8@1+ (1,-40) [-40|210] "degC" A
BO_ 2566846206 IC1: 8 A
 SG_ air : 16|8@1+ (1,-40) [-40|210] "degC" A
BO_ 2566845950 AMB: 8 A
 SG_ ambient : 24|16@1+ (0.03125,-273) [-273|1735] "degC" A
BO_ 2566827774 AIR1: 8 A
 SG_ air : 16|8@1+ (8,0) [0|2000] "kPa" A
"""


def write_blf(source: str, target: str) -> Row:
    import can

    with can.LogReader(source) as reader, can.BLFWriter(target) as writer:
        for message in reader:
            message.channel = 0
            writer.on_message_received(message)
    return {}


def with_blf_reader(path: str) -> Row:
    import can

    def read() -> int:
        with can.BLFReader(path) as reader:
            return sum(1 for _ in reader)

    many, seconds = timed(read, times=1)
    return {"seconds": seconds, "frames": many}


def write_mf4(source: str, target: str) -> Row:
    import can
    import numpy as np
    from asammdf import MDF, Signal
    from asammdf import Source as AcquisitionSource

    with can.LogReader(source) as reader:
        frames = [(one.timestamp, one.arbitration_id, one.is_extended_id, bytes(one.data)) for one in reader]
    fields = ("BusChannel", "ID", "IDE", "DLC", "DataLength", "DataBytes", "Dir")
    kinds = ("<u1", "<u4", "<u1", "<u1", "<u1", "(8,)u1", "<u1")
    table = [("CAN_DataFrame." + name, kind) for name, kind in zip(fields, kinds, strict=True)]
    rows = np.zeros(len(frames), np.dtype(table))
    rows["CAN_DataFrame.BusChannel"] = 1
    rows["CAN_DataFrame.ID"] = [frame[1] for frame in frames]
    rows["CAN_DataFrame.IDE"] = [frame[2] for frame in frames]
    rows["CAN_DataFrame.DLC"] = rows["CAN_DataFrame.DataLength"] = [len(frame[3]) for frame in frames]
    data = b"".join(frame[3].ljust(8, b"\xff") for frame in frames)
    rows["CAN_DataFrame.DataBytes"] = np.frombuffer(data, np.uint8).reshape(-1, 8)
    time = np.array([frame[0] - START_S for frame in frames])
    bus = AcquisitionSource("CAN1", "CAN1", "", AcquisitionSource.SOURCE_BUS, AcquisitionSource.BUS_TYPE_CAN)
    with MDF(version="4.10") as mdf:
        mdf.append([Signal(rows, time, name="CAN_DataFrame", source=bus)])
        mdf.save(target, overwrite=True, compression=1)
    return {}


def with_bus_logging(path: str) -> Row:
    import asammdf

    layout = Path(path).with_suffix(".dbc")
    idents = [line.split()[1] for line in DBC.splitlines() if line.startswith("BO_ ")]
    marks = "".join(f'BA_ "VFrameFormat" BO_ {ident} 3;\n' for ident in idents)
    layout.write_text(DBC + FORMATS + marks)

    def read() -> int:
        with asammdf.MDF(path) as mdf:
            decoded = mdf.extract_bus_logging({"CAN": [(str(layout), 0)]})
            return len(decoded.get("state").samples)

    many, seconds = timed(read)
    assert many > 1_000
    return {"seconds": seconds, "frames": PACKED}


FORMATS = """BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";
BA_DEF_DEF_ "VFrameFormat" "J1939PG";
"""


def timed(work: Callable[[], Any], times: int = 3) -> tuple[Any, float]:
    best, found = float("inf"), None
    for _ in range(times):
        before = time.process_time()
        found = work()
        best = min(best, time.process_time() - before)
    return found, best


def tasks() -> Iterator[Callable[..., Row]]:
    yield from (ours, with_python_can, with_polars, write_blf, with_blf_reader)
    yield from (write_mf4, with_bus_logging)


if __name__ == "__main__":
    chosen = {task.__name__: task for task in tasks()}[sys.argv[1]]
    print(json.dumps(chosen(*sys.argv[2:])))
