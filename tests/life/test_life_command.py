"""`fanwright life` and the life of an assessment, as their users meet them, with wrong input too."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from fanwright.desk.life import read_life
from fanwright.errors import InputError
from fanwright.report.life_data import forecast_data
from fanwright.report.say import Reader, say

FLEET = """unit,date,odometer [mi],facing,route
201,2025-01-14,"313,060",0.310 in,loop
201,2025-07-15,"362,480",0.306 in,loop
201,2026-01-12,"412,000",0.302 in,loop
204,2025-05-06,"121,900",0.322 in,town
204,2025-08-05,"128,740",0.317 in,town
204,2025-11-04,"135,010",0.312 in,town
204,2026-02-02,"141,000",0.262 in,town
205,2025-05-07,"119,300",0.318 in,town
205,2025-08-12,"126,020",7.6 in,town
205,2025-11-11,"132,700",0.307 in,town
"""


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "facings.csv"
    path.write_text(FLEET, "utf-8")
    return path


def command(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "fanwright", "life", *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def test_json_has_what_was_promised(sheet: Path) -> None:
    done = command(str(sheet), "--json")
    assert done.returncode == 0, done.stderr
    trucks = json.loads(done.stdout)
    assert [one["unit"] for one in trucks] == ["201", "204", "205"]
    for one in trucks:
        left, rate = one["remaining_km"], one["wear_mm_per_1000_km"]
        assert left["p10"] < left["p50"] < left["p90"]
        assert 0 < rate["p10"] < rate["p50"] < rate["p90"]
        assert 0 < one["chance_at_limit"] < 1
        assert one["basis"]
    assert trucks[1]["chance_at_limit"] > 0.9
    assert trucks[1]["change"]["after"] >= "2025-08-05"
    assert trucks[1]["change"]["before"] == "2026-02-02"
    assert "unit" in trucks[2]["set_aside"][0]["why"]


def test_text_shows_what_is_not_used(sheet: Path) -> None:
    done = command(str(sheet))
    assert done.returncode == 0
    assert "7.600 in" in done.stdout
    assert "readings not used" in done.stdout


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_plots(sheet: Path, tmp_path: Path, kind: str) -> None:
    fleet = tmp_path / f"fleet.{kind}"
    read_life(sheet, plot=fleet)
    one = tmp_path / "one.csv"
    one.write_text("\n".join(FLEET.splitlines()[:4]), "utf-8")
    alone = tmp_path / f"one.{kind}"
    read_life(one, plot=alone)
    assert fleet.stat().st_size > 500
    assert alone.stat().st_size > 500
    if kind == "svg":
        assert "next service" in alone.read_text("utf-8")
        assert "limit 1/4 in" in alone.read_text("utf-8")


def test_units_in_cells_hours_and_new_facings(tmp_path: Path) -> None:
    path = tmp_path / "h.csv"
    path.write_text(
        "unit;date;hours;facing;new_facing;reading_sd\n7;2025-01-01;9 000 h;6.60 mm;0;0.1 mm\n"
        "7;2025-06-01;9 500 h;8.70 mm;1;0.1 mm\n7;2026-01-01;10 000 h;8.45 mm;;0.1 mm\n",
        "utf-8",
    )
    found = read_life(path).forecasts[0]
    assert found.history.in_hours
    assert found.history.readings[1].new_facing
    assert found.history.readings[0].sd_m == pytest.approx(1e-4)
    assert found.remaining is not None
    assert "remaining_h" in forecast_data(found, Reader())


def test_all_mistakes_come_together(tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(
        "unit,date,odometer,facing,preset,new_facing\n1,2025-13-01,12,0.3 in,,\n,2025-01-01,10 mi,0.3 in,,\n"
        "2,2025-01-01,10 psi,hello,nonsense,perhaps\n",
        "utf-8",
    )
    with pytest.raises(InputError) as refused:
        read_life(path, "five miles", plot=tmp_path / "x.gif")
    said = [say(message) for message in refused.value.messages]
    assert len(said) == 9
    assert sum(line.startswith("row 4") for line in said) == 4
    done = command(str(path))
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_missing_columns_are_named(tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text("truck,when\n1,2\n", "utf-8")
    with pytest.raises(InputError) as refused:
        read_life(path)
    assert "unit" in say(refused.value.messages[0])
    assert command(str(tmp_path / "none.csv")).returncode == 2


@pytest.mark.parametrize(
    ("unit", "words"), [("216", "exchange drive: the least"), ("203", "straw stands for")]
)
def test_assessments_tell_the_life(root: Path, tmp_path: Path, unit: str, words: str) -> None:
    from fanwright.desk.assess import assess_visit
    from fanwright.report.as_data import assessment_data

    lines = (root / "examples" / "demo" / f"{unit}.toml").read_text("utf-8").split("[files]")[0]
    path = tmp_path / "visit.toml"
    path.write_text(lines, "utf-8")
    found = assess_visit(path).assessment
    assert found.life is not None
    assert any(words in say(line) for line in found.life.sentences())
    data = assessment_data(found)
    json.dumps(data, allow_nan=False)
    assert data["life"]["remaining_km"]["p10"] < data["life"]["remaining_km"]["p90"]
    assert {one["choice"] for one in data["life"]["choices"]} == {"facing", "rebuild", "exchange"}
    assert data["life"]["torque_in_hand"]["capacity_n_m"] > data["life"]["torque_in_hand"]["needed_n_m"]
