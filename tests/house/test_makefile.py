"""What must be green before anything lands is what a developer runs: `make test`, `make check` inside."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest


def targets(text: str) -> dict[str, str]:
    """Recipes of a Makefile by target."""
    found = re.split(r"^([\w./-]+):(?!=).*$", text, flags=re.MULTILINE)
    return dict(zip(found[1::2], found[2::2], strict=True))


@pytest.fixture(scope="module")
def makefile(root: Path) -> dict[str, str]:
    return targets((root / "Makefile").read_text("utf-8"))


def test_the_gate_runs_make_test_and_the_oracles(root: Path) -> None:
    gate = root / ".ci" / "run"
    lines = gate.read_text("utf-8").splitlines()
    assert "make test" in lines
    assert "make oracles" in lines
    assert any(line.startswith("set -e") for line in lines)
    assert os.access(gate, os.X_OK)


def test_make_test_includes_make_check(makefile: dict[str, str]) -> None:
    assert re.search(r"\bcheck$", makefile["test"], re.MULTILINE)
    assert "-m pytest" in makefile["test"]


@pytest.mark.parametrize(
    "part", ["ruff format --check", "ruff check", "bin/mypy", "lint-imports", "tools/check_docs.py"]
)
def test_make_check_holds_format_lint_types_layers_and_docs(makefile: dict[str, str], part: str) -> None:
    assert part in makefile["check"]


def test_locks_are_installed_with_their_hashes(makefile: dict[str, str]) -> None:
    installs = [
        line for recipe in makefile.values() for line in recipe.splitlines() if "requirements/" in line
    ]
    assert [line for line in installs if "pip install" in line and "--require-hashes" not in line] == []
    assert len([line for line in installs if "--require-hashes" in line]) == 3


def test_every_target_of_phony_exists(root: Path, makefile: dict[str, str]) -> None:
    phony = re.search(r"^\.PHONY: (.*)$", (root / "Makefile").read_text("utf-8"), re.MULTILINE)
    assert phony is not None
    assert {"run", "test", "check", "oracles", "bench", "trials", "soak"} <= set(phony[1].split())
    assert [name for name in phony[1].split() if name not in makefile] == []


def test_scripts_the_targets_call_exist(root: Path, makefile: dict[str, str]) -> None:
    called = {
        name for recipe in makefile.values() for name in re.findall(r"\b(?:tools|bench)/[\w.-]+", recipe)
    }
    assert [name for name in sorted(called) if not (root / name).is_file()] == []
    scripts = [root / name for name in called if not name.endswith(".py")]
    assert [str(path) for path in scripts if not os.access(path, os.X_OK)] == []
