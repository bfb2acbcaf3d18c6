"""How fast the recordings of a fleet are read, beside what merely reads the columns and beside duckdb.

Telemetry of a row a second, 20 columns, a week of 12 trucks as zstd Parquet (7.3 million rows). Processor
time on one thread in a process of its own, imports loaded before; the runs must be the same as those of
duckdb's window query. Logs: 200 of 500,000 frames each, two processes beside one, by the processor time of a
process (their mean) and the caller together, start included: that holds on a busy machine, the wall does not.
Memory: the peak of a process that reads 60 files above that of one that reads 15.
"""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

TRUCKS, DAYS, OTHERS, LOGS, FRAMES = 12, 7, 15, 200, 500_000
HERE = Path(__file__)
NAMES = ("time", "fan state", "engine speed [rpm]", "coolant [°C]", "air [kPa]")
Row = dict[str, Any]


def run() -> list[Row]:
    with tempfile.TemporaryDirectory() as folder:
        child("write_telemetry", folder)
        ours, floor, peer = (child(task, folder) for task in ("ours", "reading", "with_duckdb"))
        whole = child("whole_task", folder)
        few, many = child("memory", folder, 15), child("memory", folder, 60)
        write_logs(Path(folder))
        one, two = child("logs", folder, 1), child("logs", folder, 2)
    same(ours["runs"], peer["runs"])
    assert len(ours["runs"]) > 1_000
    return [
        row("telemetry to runs: time of reading the same columns", ours, floor, 1.3, "lower"),
        row("telemetry to runs: times duckdb's window query", peer, ours, 4, "higher"),
        row("telemetry, hashed and written too: time of reading the columns", whole, floor, 5, "lower"),
        row("logs: two processes beside one, by processor time", one, two, 1.7, "higher"),
        {
            "name": "memory of 60 files above that of 15",
            "measured": many["peak_mb"] - few["peak_mb"],
            "goal": 25,
            "better": "lower",
            "unit": "MB",
        },
    ]


def row(name: str, above: Row, below: Row, goal: float, better: str) -> Row:
    measured = above["seconds"] / below["seconds"]
    return {"name": name, "measured": measured, "goal": goal, "better": better, "unit": "x"}


def same(one: list[list[float]], other: list[list[float]]) -> None:
    assert len(one) == len(other), (len(one), len(other))
    for mine, its in zip(one, other, strict=True):
        assert all(abs(a - b) < 1e-6 for a, b in zip(mine, its, strict=True)), (mine, its)


def child(task: str, *arguments: object) -> Row:
    environment = {
        **os.environ,
        "POLARS_MAX_THREADS": "1",
        "NUMBA_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }
    done = subprocess.run(
        [sys.executable, str(HERE), task, *map(str, arguments)],
        check=True,
        capture_output=True,
        text=True,
        env=environment,
    )
    found: Row = json.loads(done.stdout or "{}")
    return found


def timed(work: Callable[[], Any], times: int = 5) -> tuple[Any, float]:
    best, found = float("inf"), None
    for _ in range(times):
        before = time.process_time()
        found = work()
        best = min(best, time.process_time() - before)
    return found, best


# --- The files --------------------------------------------------------------------------------------------


def write_telemetry(folder: str) -> Row:
    import numpy as np
    import polars

    chance = np.random.default_rng(2)
    rows = DAYS * 86_400
    for truck in range(TRUCKS):
        state, at = np.zeros(rows, np.int8), 200
        while at < rows - 400:
            long = int(chance.integers(30, 260))
            state[at : at + long] = chance.choice((2, 4, 11))
            at += long + int(chance.integers(60, 1_800))
        time_us = (np.arange(rows) + 1_775_000_000) * 1_000_000
        columns = {
            "time": polars.Series(time_us).cast(polars.Datetime("us", "UTC")),
            "fan state": state,
            "engine speed [rpm]": np.round(1250.0 + chance.normal(0.0, 60.0, rows)),
            "coolant [°C]": np.round(88.0 + 4.0 * np.sin(np.arange(rows) / 300.0), 1),
            "air [kPa]": 8.0 * np.round(100.0 + chance.normal(0.0, 3.0, rows)),
        }
        more = {f"other {place}": chance.normal(0.0, 1.0, rows).astype(np.float32) for place in range(OTHERS)}
        polars.DataFrame(columns | more).write_parquet(
            Path(folder, f"{201 + truck}.parquet"), compression="zstd"
        )
    return {}


def write_logs(folder: Path) -> None:
    spec = importlib.util.spec_from_file_location("bench_recording", HERE.parent / "recording.py")
    assert spec is not None
    assert spec.loader is not None
    recording = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(recording)
    recording.write_log(folder / "0.log", FRAMES)
    for place in range(1, LOGS):
        os.link(folder / "0.log", folder / f"{place}.log")


# --- The tasks, each in a process of its own --------------------------------------------------------------


def ours(folder: str) -> Row:
    from fanwright.fleet.reading import duty_of_rows, rows_in

    files = sorted(Path(folder).glob("*.parquet"))
    rows_in(files[0], {})
    found, seconds = timed(lambda: [duty_of_rows(rows_in(path, {})) for path in files])
    runs = []
    for place, one in enumerate(found):
        columns = [one.runs.numbers[name].tolist() for name in ("grip_rpm", "coolant_on_c")]
        for (start, end), rpm, coolant in zip(one.runs.spans.pairs(), *columns, strict=True):
            runs.append([place, start / 1e6, end / 1e6, rpm, coolant])
    return {"seconds": seconds, "runs": runs}


def reading(folder: str) -> Row:
    import polars

    files = sorted(Path(folder).glob("*.parquet"))

    def read() -> list[list[Any]]:
        return [
            [column.to_numpy() for column in polars.read_parquet(path, columns=list(NAMES))] for path in files
        ]

    return {"seconds": timed(read)[1]}


def with_duckdb(folder: str) -> Row:
    import duckdb

    base = duckdb.connect(config={"threads": 1})
    query = f"""
        with rows as (
            select filename, epoch_us("time") as us, "fan state" as state, "engine speed [rpm]" as rpm,
                   "coolant [°C]" as coolant, "air [kPa]" as air
            from read_parquet('{folder}/*.parquet', filename = true)),
        marked as (
            select *, state > 0 and rpm >= 400 as told, lag(state > 0 and rpm >= 400) over truck as before,
                   lead(us) over truck as next from rows window truck as (partition by filename order by us)),
        runs as (
            select *, sum(case when told and not coalesce(before, false) then 1 else 0 end)
                   over (partition by filename order by us) as run from marked)
        select filename, min(us), max(coalesce(next, us)), arg_min(state, us), arg_min(rpm, us),
               arg_min(coolant, us), arg_max(coolant, us), min(air)
        from runs where told group by filename, run order by filename, min(us)"""
    found, seconds = timed(lambda: base.execute(query).fetchall(), times=3)
    places = {name: place for place, name in enumerate(sorted({one[0] for one in found}))}
    return {
        "seconds": seconds,
        "runs": [
            [places[name], start / 1e6, end / 1e6, rpm, coolant]
            for name, start, end, _, rpm, coolant, *_ in found
        ],
    }


def whole_task(folder: str) -> Row:
    from fanwright.desk.fleet_duty_task import Job, perform

    files = sorted(Path(folder).glob("*.parquet"))
    with tempfile.TemporaryDirectory() as into:
        return {
            "seconds": timed(lambda: [perform(Job(str(path), into, unit="1").text()) for path in files], 3)[1]
        }


def memory(folder: str, many: str) -> Row:
    import resource

    from fanwright.desk.fleet_duty_task import Job, perform

    files = sorted(Path(folder).glob("*.parquet"))
    with tempfile.TemporaryDirectory() as into:
        for place in range(int(many)):
            perform(Job(str(files[place % len(files)]), into, unit=str(place)).text())
    return {"peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}


def logs(folder: str, processes: str) -> Row:
    """Give the processor time after which all is done when every process has a core of its own.

    Tasks are handed out one by one, so that processes left alone end within one task of each other.
    """
    from fanwright.desk.fleet_duty_pool import in_pool
    from fanwright.desk.fleet_duty_task import Job
    from fanwright.evidence.recording.warm import warm

    warm()
    spent: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as into:
        jobs = [Job(str(path), into, unit=path.stem) for path in sorted(Path(folder).glob("*.log"))]
        before = time.process_time()
        for _, answer in in_pool(jobs, int(processes)):
            assert "failed" not in json.loads(answer), answer
            spent |= children_s()
        caller = time.process_time() - before
    workers = sorted(spent.values())[-int(processes) :]
    return {"seconds": sum(workers) / int(processes) + caller, "caller": caller, "workers": workers}


def children_s() -> dict[str, float]:
    """Give the processor time of each child of this process so far [s]."""
    found = {}
    for several in Path("/proc/self/task").glob("*/children"):
        for child_id in several.read_text().split():
            words = Path("/proc", child_id, "stat").read_text().rpartition(")")[2].split()
            found[child_id] = (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")
    return found


if __name__ == "__main__":
    tasks = (write_telemetry, ours, reading, with_duckdb, whole_task, memory, logs)
    chosen: Callable[..., Row] = {task.__name__: task for task in tasks}[sys.argv[1]]
    print(json.dumps(chosen(*sys.argv[2:])))
