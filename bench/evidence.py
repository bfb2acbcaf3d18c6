"""Files of a visit as a person waits for them: a long trace, a long recording, the sheet."""

from __future__ import annotations

import importlib.util
import math
import runpy
import shutil
import tempfile
from pathlib import Path
from types import ModuleType
from typing import Any

ROOT = Path(__file__).parents[1]
TRIES = 5
TRACE_ROWS = 60_000
FRAMES = 200_000
VAST_ROWS, VAST_CYCLE_ROWS = 10_000_000, 40_000
TRUCK = "line-haul spring-on"


def run() -> list[dict[str, Any]]:
    """Write the files once, run each command as a whole process, keep the best."""
    cli = _beside("cli")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        trace, recording, visit = _trace(folder), _recording(folder), _visit(folder)
        jobs = [
            (f"trace of {TRACE_ROWS} rows, whole process", ("trace", str(trace)), 1.0),
            (f"candump of {FRAMES} lines, whole process", ("duty", str(recording)), 3.0),
            ("report of truck 214 with its files", ("report", str(visit), "-o", str(folder / "o.pdf")), 2.0),
        ]
        rows = []
        for what, words, goal in jobs:
            cli.process("-m", "fanwright", *words)  # the first one pays for cold files
            best = min(cli.process("-m", "fanwright", *words)[0] for _ in range(TRIES))
            rows.append(cli.row(what, best, goal, "s"))
        asked = ("-m", "fanwright", "trace", str(_vast(folder)), "--truck", TRUCK, "--json")
        what = f"trace of {VAST_ROWS:,} rows with its circuit, peak memory"
        rows.append(cli.row(what, cli.process(*asked)[1], 400.0, "MB"))
    return rows


def _beside(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"bench_{name}", Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _trace(folder: Path) -> Path:
    """Fills and vents of 0.4 s and 0.6 s as plain exponentials, 1,000 rows a second."""
    lines = ["time [s],supply [psi],drive [psi],command"]
    for row in range(TRACE_ROWS):
        since = row / 1000.0 % 8.0
        sent = since < 4.0
        drive = 118.0 * (1.0 - math.exp(-since / 0.28)) if sent else 118.0 * math.exp(-(since - 4.0) / 0.15)
        lines.append(f"{row / 1000.0:.3f},118.0,{drive:.2f},{int(sent)}")
    path = folder / "long.csv"
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


def _vast(folder: Path) -> Path:
    """Write two hours and three quarters at 1,000 rows a second, a hold in each cycle of 40 s."""
    lines = []
    for row in range(VAST_CYCLE_ROWS):
        since = row / 1000.0
        sent, shut = since < 30.0, 5.0 < since < 29.0
        drive = 118.0 * (1.0 - math.exp(-since / 0.28)) if sent else 118.0 * math.exp((30.0 - since) / 0.15)
        lines.append(f",{118.0 + 0.1 * (row % 5):.1f},{drive + 0.1 * (row % 3):.1f},{sent:d},{shut:d}\n")
    path = folder / "vast.csv"
    with path.open("w", encoding="utf-8") as file:
        file.write("time [s],supply [psi],drive [psi],command,shut\n")
        for first in range(0, VAST_ROWS, VAST_CYCLE_ROWS):
            file.writelines(f"{(first + row) / 1000.0:.3f}{line}" for row, line in enumerate(lines))
    return path


def _recording(folder: Path) -> Path:
    """A 20 ms engine speed and a fan state each second, told on for 30 s of each 300 s."""
    lines = []
    for frame in range(FRAMES):
        at = 1_760_000_000.0 + frame * 0.02
        if frame % 50:
            lines.append(f"({at:.6f}) can0 0CF00400#F07D85602EF0F0F0")
        else:
            told = int(at) % 300 < 30
            lines.append(f"({at:.6f}) can0 18FEBD00#{'FAF4' if told else '00F0'}FFFFFFFFFFFF")
    path = folder / "long.log"
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


def _visit(folder: Path) -> Path:
    shutil.copy(ROOT / "examples" / "demo" / "214.toml", folder)
    runpy.run_path(str(ROOT / "examples" / "make_demo.py"))["make"](folder)
    return folder / "214.toml"
