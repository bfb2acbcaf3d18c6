"""Records in both databases: SQLite in a folder, and Debian's PostgreSQL on a socket of its own."""

from __future__ import annotations

import itertools
import os
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine

from fanwright.records.model import Author
from fanwright.records.places import Place, place_of
from fanwright.records.store import Store, open_store

NUMBERS = itertools.count(1)


@pytest.fixture(scope="session")
def server(root: Path) -> Iterator[str]:
    """Address of the server's first database; the socket's path must be short."""
    folder = Path(tempfile.mkdtemp(prefix="fw-pg-", dir="/tmp"))
    tool = str(root / "tools" / "postgres")
    started = subprocess.run(
        [tool, "start", str(folder), str(os.getpid())],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert started.returncode == 0, started.stderr
    yield started.stdout.strip()
    subprocess.run([tool, "stop", str(folder)], check=True, capture_output=True, timeout=180)


@pytest.fixture
def new_place(tmp_path: Path, request: pytest.FixtureRequest) -> Callable[[str], Place]:
    """Make an empty place for records, ``sqlite`` or ``postgresql``."""

    def make(kind: str) -> Place:
        number = next(NUMBERS)
        if kind == "sqlite":
            return place_of(str(tmp_path / f"records-{number}.db"))
        server: str = request.getfixturevalue("server")
        engine = create_engine(server, isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.exec_driver_sql(f"CREATE DATABASE fanwright_{number}")
        engine.dispose()
        return place_of(server.replace("/postgres?", f"/fanwright_{number}?"), tmp_path / f"files-{number}")

    return make


@pytest.fixture(params=["sqlite", "postgresql"])
def kind(request: pytest.FixtureRequest) -> str:
    found: str = request.param
    return found


@pytest.fixture
def place(kind: str, new_place: Callable[[str], Place]) -> Place:
    return new_place(kind)


@pytest.fixture
def store(place: Place) -> Iterator[Store]:
    """Open, empty records in each database in turn."""
    opened = open_store(place, create=True, program="test")
    yield opened
    opened.close()


@pytest.fixture
def ana() -> Author:
    return Author("Ana", "America/Denver")


@pytest.fixture(scope="session")
def demo_folder(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo fleet's visit files with the traces and recordings they name."""
    import shutil
    import sys

    folder = tmp_path_factory.mktemp("demo")
    for path in (root / "examples" / "demo").glob("*.toml"):
        shutil.copy(path, folder)
    subprocess.run(
        [sys.executable, str(root / "examples" / "make_demo.py"), str(folder)],
        check=True,
        capture_output=True,
    )
    return folder
