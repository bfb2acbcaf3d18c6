"""What all tests share."""

from __future__ import annotations

import datetime as dt
import runpy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fanwright import catalogue, judging
from fanwright.visit import Assessment, assess, visit_from

pytest.register_assert_rewrite("format_contract", "text_formats", "table_formats", "telemetry_tables")

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="session")
def root() -> Path:
    """The project's folder."""
    return ROOT


@pytest.fixture(scope="session")
def written() -> Callable[..., dict[str, Any]]:
    """Write down a visit with the given readings."""

    def write(readings: dict[str, Any], **tables: Any) -> dict[str, Any]:
        return {
            "truck": {"unit": "214", **tables.pop("truck", {})},
            "drive": tables.pop("drive", {"grips_by": "spring", "valve": "nc", "volts": 12}),
            "visit": {"date": dt.date(2026, 4, 14), "kind": "complaint", **tables.pop("visit", {})},
            "readings": readings,
            **tables,
        }

    return write


@pytest.fixture(scope="session")
def assessed(written: Callable[..., dict[str, Any]]) -> Callable[..., Assessment]:
    """Assess a visit with the given readings; causes and life only where a test asks for them."""
    known = catalogue.load()
    limits = judging.load(known)

    def run(readings: dict[str, Any], *, verdicts_only: bool = True, **tables: Any) -> Assessment:
        return assess(
            visit_from(written(readings, **tables), known), known, limits, verdicts_only=verdicts_only
        )

    return run


@pytest.fixture(scope="session")
def make_demo() -> Callable[[Path], object]:
    """Give the function that writes the demo fleet's traces and recordings into a folder."""
    maker: Callable[[Path], object] = runpy.run_path(str(ROOT / "examples" / "make_demo.py"))["make"]
    return maker
