"""Every room has its place, files stay short, only shells print, locks are hashed and name no registry."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

LOCKS = ("run.txt", "test.txt", "oracles.txt")


@pytest.fixture(scope="module")
def contracts(root: Path) -> dict[str, dict[str, Any]]:
    settings = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))
    return {contract["type"]: contract for contract in settings["tool"]["importlinter"]["contracts"]}


def rooms_in(folder: Path) -> set[str]:
    return {
        path.stem
        for path in folder.iterdir()
        if (path.suffix == ".py" or (path / "__init__.py").exists()) and path.stem != "__init__"
    }


def test_the_layers_name_every_room(contracts: dict[str, dict[str, Any]], package: Path) -> None:
    places = [place.strip() for layer in contracts["layers"]["layers"] for place in layer.split("|")]
    named = {place.strip("()") for place in places}
    built_later = {place.strip("()") for place in places if place.startswith("(")}
    assert rooms_in(package) - named == set(), "rooms that no layer names"
    assert named - built_later - rooms_in(package) == set(), "layers without a room"
    assert contracts["layers"]["exhaustive"] is True
    assert len(places) == len(named)


def test_no_maker_of_evidence_sees_another(contracts: dict[str, dict[str, Any]], package: Path) -> None:
    makers = {
        f"fanwright.evidence.{path.name}"
        for path in (package / "evidence").iterdir()
        if (path / "__init__.py").exists()
    }
    assert makers - set(contracts["independence"]["modules"]) == set()


def test_no_exception_to_the_layers(contracts: dict[str, dict[str, Any]]) -> None:
    assert [name for name, contract in contracts.items() if "ignore_imports" in contract] == []


@pytest.mark.parametrize("folder", ["src", "tests", "tools", "bench", "oracles", "examples"])
def test_files_stay_under_400_lines(root: Path, folder: str) -> None:
    long = {
        str(path.relative_to(root)): lines
        for path in (root / folder).rglob("*.py")
        if (lines := len(path.read_text("utf-8").splitlines())) >= 400
    }
    assert long == {}


def test_only_shells_print(trees: dict[Path, ast.Module]) -> None:
    found = []
    for path, tree in trees.items():
        if path.parts[0] in {"cli", "__main__.py"}:
            continue
        for node in ast.walk(tree):
            match node:
                case ast.Call(func=ast.Name(id="print" | "input")):
                    found.append(f"{path}:{node.lineno}")
                case ast.Attribute(value=ast.Name(id="sys"), attr="stdout" | "stderr" | "stdin"):
                    found.append(f"{path}:{node.lineno}")
    assert found == []


def test_numba_only_in_kernels(trees: dict[Path, ast.Module]) -> None:
    users = {
        path
        for path, tree in trees.items()
        for node in ast.walk(tree)
        if (isinstance(node, ast.Import) and any(name.name.split(".")[0] == "numba" for name in node.names))
        or (isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "numba")
    }
    assert {path.name for path in users} <= {"kernels.py"}


def pinned(lock: str) -> dict[str, str]:
    return dict(re.findall(r"^([A-Za-z0-9_.-]+)==([^\s;\\]+)", lock, re.MULTILINE))


@pytest.mark.parametrize("name", LOCKS)
def test_locks_are_hashed_and_name_no_registry(root: Path, name: str) -> None:
    lock = (root / "requirements" / name).read_text("utf-8")
    assert "://" not in lock
    assert "--index-url" not in lock
    entries = re.split(r"\n(?=\S)", lock.strip())
    assert [entry for entry in entries if "--hash=sha256:" not in entry] == []
    assert len(pinned(lock)) >= 3


def test_the_test_lock_follows_the_run_lock(root: Path) -> None:
    run, test = (
        pinned((root / "requirements" / name).read_text("utf-8")) for name in ("run.txt", "test.txt")
    )
    assert {name: version for name, version in test.items() if run.get(name, version) != version} == {}
