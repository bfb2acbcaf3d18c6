"""How fast a week of telemetry becomes runs, beside reading its columns and beside duckdb's window query.

A Parquet file of 604,800 rows and 20 columns, five of them wanted. Processor time on one thread in a process
of its own, imports done before; both ways must give the same runs.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

HERE = Path(__file__)
START_S = 1_790_000_000
Row = dict[str, Any]


def run() -> list[Row]:
    with tempfile.TemporaryDirectory() as folder:
        week = Path(folder) / "week.parquet"
        write_week(str(week))
        ours, read, peer = (child(task, week) for task in ("week_ours", "week_read", "week_duckdb"))
    assert len(ours["table"]) == len(peer["table"]) > 100
    for mine, its in zip(ours["table"], peer["table"], strict=True):
        assert all(abs(a - b) < 1e-3 for a, b in zip(mine, its, strict=True)), (mine, its)
    return [
        {
            "name": "telemetry of a week: times the time of reading its columns",
            "measured": ours["seconds"] / read["seconds"],
            "goal": 1.3,
            "better": "lower",
            "unit": "x",
        },
        {
            "name": "telemetry of a week: times duckdb's window query",
            "measured": peer["seconds"] / ours["seconds"],
            "goal": 4,
            "better": "higher",
            "unit": "x",
        },
    ]


def child(task: str, path: Path) -> Row:
    environment = {**os.environ, "POLARS_MAX_THREADS": "1"}
    done = subprocess.run(
        [sys.executable, str(HERE), task, str(path)],
        check=True,
        capture_output=True,
        text=True,
        env=environment,
    )
    found: Row = json.loads(done.stdout)
    return found


def timed(work: Callable[[], Any], times: int) -> tuple[Any, float]:
    best, found = float("inf"), None
    for _ in range(times):
        before = time.process_time()
        found = work()
        best = min(best, time.process_time() - before)
    return found, best


WEEK = ["time", "fan_state", "engine_speed_rpm", "coolant_c", "air_kpa"]


def write_week(path: str) -> Row:
    """Write a week of a truck, a row a second, 20 columns."""
    import numpy as np
    import polars as pl

    chance, many = np.random.default_rng(3), 7 * 86_400
    seconds = np.arange(many)
    state = np.zeros(many, np.uint8)
    for start in np.cumsum(chance.geometric(1 / 900, many // 900)):
        state[start : start + chance.integers(20, 200)] = chance.choice([2, 4, 11, 13])
    rpm = 1100 + 300 * np.sin(seconds / 300) + chance.normal(0, 8, many)
    rpm[seconds % 20_000 > 17_000] = 0.0
    columns: dict[str, Any] = {
        "time": pl.Series((START_S + seconds) * 1_000_000).cast(pl.Datetime("us", "UTC")),
        "fan_state": state,
        "engine_speed_rpm": rpm.round(1).astype(np.float32),
        "coolant_c": (88 + 6 * np.sin(seconds / 500) + chance.normal(0, 0.3, many)).round(1),
        "air_kpa": (800 + 60 * np.sin(seconds / 90) + chance.normal(0, 3, many)).round(),
    }
    for place in range(15):
        columns[f"other {place}"] = np.cumsum(chance.normal(0, 1, many)).round(2).astype(np.float32)
    pl.DataFrame(columns).write_parquet(path, compression="zstd")
    return {}


def week_ours(path: str) -> Row:
    import polars as pl

    from fanwright.evidence.recording.telemetry import runs_of

    found, seconds = timed(lambda: runs_of(pl.scan_parquet(path)), times=9)
    columns = (found.start_us / 1e6, found.end_us / 1e6, found.code, found.columns["grip_rpm"])
    table = [[float(cell) for cell in row] for row in zip(*columns, strict=True)]
    return {"seconds": seconds, "table": table}


def week_read(path: str) -> Row:
    import polars as pl

    _, seconds = timed(lambda: pl.read_parquet(path, columns=WEEK), times=9)
    return {"seconds": seconds, "rows": 7 * 86_400}


def week_duckdb(path: str) -> Row:
    import duckdb

    base = duckdb.connect()
    base.execute("set threads = 1")
    query = f"""
        with told as (select *, fan_state > 0 and engine_speed_rpm >= 400 as is_on from '{path}'),
        edges as (select *, is_on is distinct from lag(is_on) over (order by time) as edge from told),
        pieces as (select *, sum(edge::int) over (order by time) as piece from edges),
        runs as (select piece, any_value(is_on) as is_on, epoch_us(min(time)) / 1e6 as start_s,
            arg_min(fan_state, time) as code, arg_min(engine_speed_rpm, time) as rpm,
            arg_min(coolant_c, time) as coolant, min(air_kpa) as air from pieces group by piece),
        ends as (select *, lead(start_s) over (order by piece) as end_s from runs)
        select start_s, end_s, code, rpm from ends where is_on order by 1"""
    found, seconds = timed(lambda: base.execute(query).fetchall(), times=3)
    return {
        "seconds": seconds,
        "rows": 7 * 86_400,
        "table": [[float(cell) for cell in row] for row in found],
    }


if __name__ == "__main__":
    tasks = {task.__name__: task for task in (week_ours, week_read, week_duckdb)}
    print(json.dumps(tasks[sys.argv[1]](sys.argv[2])))
