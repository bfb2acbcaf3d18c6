"""The command as a person waits for it: help, one visit as a whole process, and a thousand visits in one."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

DEMO = Path(__file__).parents[1] / "examples" / "demo"
TRIES = 9
VISITS = 1000


def typed_visits() -> list[Path]:
    """Demo visits whose readings are all typed: no trace, no recording."""
    visits = [path for path in sorted(DEMO.glob("*.toml")) if "[files]" not in path.read_text("utf-8")]
    visits = [path for path in visits if "[truck]" in path.read_text("utf-8")]
    if not visits:
        raise FileNotFoundError(f"no typed demo visit in {DEMO}")
    return visits


def process(*arguments: str) -> tuple[float, float]:
    """Run a whole process; give its time on the wall [s] and its highest memory in use [MB]."""
    start = time.perf_counter()
    child = subprocess.Popen([sys.executable, *arguments], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    _, status, used = os.wait4(child.pid, 0)
    taken = time.perf_counter() - start
    assert child.stderr is not None
    said = child.stderr.read().decode()
    child.stderr.close()
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise RuntimeError(f"{arguments} exited with {child.returncode}: {said}")
    return taken, used.ru_maxrss * 1024 / 1e6


def run() -> list[dict[str, Any]]:
    """Take turns, so that other work on the machine slows all alike; the best of each counts."""
    visit = str(typed_visits()[0])
    process("-m", "fanwright", "assess", visit)  # the first one pays for cold files
    bare, shown, assessed = [], [], []
    for _ in range(TRIES):
        bare.append(process("-c", "pass")[0])
        shown.append(process("-m", "fanwright", "--help")[0])
        assessed.append(process("-m", "fanwright", "assess", visit))
    return [
        row("help over a bare interpreter start", min(shown) / min(bare), 5.0, "x"),
        row("assess of typed readings, whole process", min(taken for taken, _ in assessed), 0.5, "s"),
        row("assess of typed readings, memory", max(used for _, used in assessed), 120.0, "MB"),
        row(f"verdicts of {VISITS} visits in one process", thousand_visits(), 5.0, "s"),
    ]


def thousand_visits() -> float:
    """Judge typed demo visits one after the other, each read from its file; causes are benched apart."""
    from fanwright.desk.assess import assess_visit

    turns = list(itertools.islice(itertools.cycle(typed_visits()), VISITS))
    start = time.perf_counter()
    for path in turns:
        assess_visit(path, verdicts_only=True)
    return time.perf_counter() - start


def row(name: str, measured: float, goal: float, unit: str) -> dict[str, Any]:
    return {"name": name, "measured": measured, "goal": goal, "better": "lower", "unit": unit}
