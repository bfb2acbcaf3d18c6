"""Measure what we promise: `python bench/run.py [NAME...]`, all of `bench/*.py` without a name.

Each bench file has `run()`, which gives rows with the keys name, measured, goal, better ("lower" or "higher")
and unit. The table goes to the screen and to `out/bench-YYYY-MM-DD.md`; a missed goal or a bench that fails
exits with 1.
"""

from __future__ import annotations

import datetime as dt
import importlib.util
import os
import platform
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
OUT = HERE.parent / "out"
KEYS = {"name", "measured", "goal", "better", "unit"}
Row = dict[str, Any]


def main(wanted: list[str]) -> int:
    known = {path.stem: path for path in sorted(HERE.glob("*.py")) if path != Path(__file__)}
    unknown = [name for name in wanted if name not in known]
    if unknown:
        print(f"no bench called {', '.join(unknown)}; there are {', '.join(known)}", file=sys.stderr)
        return 2
    lines = heading()
    missed = 0
    for name in wanted or known:
        print(f"measuring {name}", file=sys.stderr)
        for row in rows(name, known[name]):
            met = meets(row)
            missed += not met
            lines.append(line(name, row, met))
    table = "\n".join(lines) + "\n"
    print(table, end="")
    OUT.mkdir(exist_ok=True)
    (OUT / f"bench-{dt.datetime.now(dt.UTC):%Y-%m-%d}.md").write_text(table, "utf-8")
    return 1 if missed else 0


def heading() -> list[str]:
    now = dt.datetime.now(dt.UTC)
    return [
        f"# Bench of {now:%Y-%m-%d %H:%M} UTC",
        "",
        f"Python {platform.python_version()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before.",
        "",
        "| bench | what | measured | goal | share of goal | met |",
        "|---|---|---:|---:|---:|---|",
    ]


def rows(name: str, path: Path) -> list[Row]:
    """Run one bench; a bench that fails is a missed goal with its error, and the others go on."""
    try:
        spec = importlib.util.spec_from_file_location(f"bench_{name}", path)
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        found: list[Row] = module.run()
        for row in found:
            if set(row) != KEYS or row["better"] not in ("lower", "higher"):
                raise ValueError(f"a row needs {sorted(KEYS)}: {row}")
        return found
    except Exception as error:  # one broken bench must not hide the others
        last = str(error).strip().splitlines()[-1:] or [type(error).__name__]
        return [{"name": f"failed: {last[0]}", "measured": None, "goal": None, "better": "lower", "unit": ""}]


def meets(row: Row) -> bool:
    if row["measured"] is None:
        return False
    return bool(
        row["measured"] <= row["goal"] if row["better"] == "lower" else row["measured"] >= row["goal"]
    )


def line(bench: str, row: Row, met: bool) -> str:
    if row["measured"] is None:
        return f"| {bench} | {row['name']} | | | | **no** |"
    sign = "≤" if row["better"] == "lower" else "≥"
    share = row["measured"] / row["goal"]
    cells = (
        bench,
        row["name"],
        f"{row['measured']:.3g} {row['unit']}".strip(),
        f"{sign} {row['goal']:g} {row['unit']}".strip(),
        f"{share:.2f}",
        "yes" if met else "**no**",
    )
    return f"| {' | '.join(cells)} |"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
