"""Each demo truck, with the files its visit names, gets the verdicts its story implies."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fanwright.desk.assess import assess_visit
from fanwright.desk.report import make_report

HERE = Path(__file__).parent
EXPECTED: dict[str, dict[str, Any]] = tomllib.loads((HERE / "expectations.toml").read_text("utf-8"))


@pytest.fixture(scope="session")
def fleet(tmp_path_factory: pytest.TempPathFactory, make_demo: Callable[[Path], object]) -> Path:
    folder = tmp_path_factory.mktemp("fleet")
    for path in (HERE.parents[1] / "examples" / "demo").glob("*.toml"):
        shutil.copy(path, folder)
    make_demo(folder)
    return folder


@pytest.mark.parametrize("unit", sorted(EXPECTED))
def test_the_story_is_told(unit: str, fleet: Path) -> None:
    expected = EXPECTED[unit]
    found = assess_visit(fleet / f"{unit}.toml").assessment
    assert found.overall == expected["overall"]
    verdicts = {one.test: one.verdict for one in found.verdicts}
    assert {test: verdicts.get(test) for test in expected["verdicts"]} == expected["verdicts"]
    assert set(expected.get("findings", [])) <= {one.id for one in found.findings}
    assert not [one.test for one in found.not_judged if "readings_disagree" in one.why.template]
    assert not [one for one in found.not_judged if "failed inside" in one.why.template]


@pytest.mark.parametrize("unit", ["203", "207", "214"])
def test_the_sheet_has_three_pages_at_most(unit: str, fleet: Path, tmp_path: Path) -> None:
    from pypdf import PdfReader

    out = tmp_path / "sheet.pdf"
    make_report(fleet / f"{unit}.toml", out)
    assert 1 <= len(PdfReader(out).pages) <= 3
