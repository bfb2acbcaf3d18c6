"""Starting stays quick: no heavy package is imported to show help or to assess a visit."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

HEAVY = {"scipy", "can", "cantools", "asammdf", "pandas", "polars", "numba", "sqlalchemy", "fastapi"}


def imported(*arguments: str) -> tuple[set[str], str]:
    """Run the command in a fresh process; give the top names of what it imported, and what it printed."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "fanwright", *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    said = [line for line in done.stderr.splitlines() if not line.startswith("import time:")]
    assert done.returncode == 0, said
    names = re.findall(r"^import time:\s+\d+ \|\s+\d+ \|\s+(\S+)$", done.stderr, re.MULTILINE)
    return {name.split(".")[0] for name in names}, done.stdout


@cache
def commands() -> tuple[str, ...]:
    _, said = imported("--help")
    listed = said.partition("Commands:")[2]
    return tuple(re.findall(r"^  ([a-z][\w-]*)", listed, re.MULTILINE))


def test_help_imports_nothing_heavy() -> None:
    names, said = imported("--help")
    assert "fanwright" in names
    assert "assess" in said
    assert names & HEAVY == set()


def test_help_of_each_command_imports_nothing_heavy() -> None:
    assert "assess" in commands()
    found = {command: imported(command, "--help")[0] & HEAVY for command in commands()}
    assert {command: names for command, names in found.items() if names} == {}


@pytest.mark.parametrize("arguments", [(), ("--json",)])
def test_assess_of_typed_readings_imports_nothing_heavy(root: Path, arguments: tuple[str, ...]) -> None:
    names, said = imported("assess", str(root / "examples" / "demo" / "201.toml"), *arguments)
    assert "201" in said
    assert names & HEAVY == set()


def test_assess_with_files_imports_only_what_reads_them(
    root: Path, tmp_path: Path, make_demo: Callable[[Path], object]
) -> None:
    """A recording needs the compiled kernels and a trace the fit; nothing else heavy may come along."""
    visit = tmp_path / "214.toml"
    visit.write_bytes((root / "examples" / "demo" / "214.toml").read_bytes())
    make_demo(tmp_path)
    names, said = imported("assess", str(visit))
    assert "214" in said
    assert names & (HEAVY - {"numba", "scipy"}) == set()


def test_a_heavy_import_would_be_seen() -> None:
    """The rule itself can fail."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", "import scipy"], capture_output=True, text=True, check=True
    )
    assert re.search(r"^import time:\s+\d+ \|\s+\d+ \|\s+scipy$", done.stderr, re.MULTILINE)
