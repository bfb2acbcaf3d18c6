"""Facings of the records: forecast, kept before the outcome, scored when the next reading comes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from fanwright.desk.facings import life_of_records
from fanwright.desk.forecasts import Scores, score_forecasts
from fanwright.desk.keep import keep_visit
from fanwright.desk.tools import fit
from fanwright.errors import InputError
from fanwright.report.say import say

VISIT = """[truck]
unit = "{unit}"
odometer = "{odometer}"
preset = "line-haul spring-on"

[visit]
date = {date}
kind = "planned"
technician = "Ana"

[readings]
facing_thickness = "{facing}"
{more}
"""
DAYS = (
    ("2025-02-03", "300,000 mi", "0.330 in"), ("2025-06-02", "310,000 mi", "0.325 in"),
    ("2025-10-06", "320,000 mi", "0.321 in"), ("2026-02-02", "330,000 mi", "0.315 in"),
)  # fmt: skip


def keep(folder: Path, unit: str, day: tuple[str, str, str], more: str = "") -> str:
    date, odometer, facing = day
    path = folder / f"{unit}-{date}.toml"
    path.write_text(
        VISIT.format(unit=unit, odometer=odometer, date=date, facing=facing, more=more), encoding="utf-8"
    )
    db = str(folder / "shop.db")
    keep_visit(path, db)
    return db


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "fanwright", *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


@pytest.fixture
def db(tmp_path: Path) -> str:
    for day in DAYS:
        found = keep(tmp_path, "7", day)
    keep(tmp_path, "8", ("2026-01-05", "120,000 mi", "0.300 in"))
    return found


def test_the_records_forecast_as_the_sheet_would(db: str, tmp_path: Path) -> None:
    found = {one.unit: one for one in life_of_records(db).forecasts}
    assert list(found) == ["7", "8"]
    assert found["7"].in_force == 4
    assert found["8"].in_force == 1
    alone = life_of_records(db, "7", plot=tmp_path / "seven.svg").forecasts
    assert [one.unit for one in alone] == ["7"]
    assert alone[0].remaining == found["7"].remaining  # one truck is shown, all others still help it
    assert "next service" in (tmp_path / "seven.svg").read_text("utf-8")
    with pytest.raises(InputError) as refused:
        life_of_records(db, "99")
    assert "of 7, 8" in say(refused.value.messages[0])


def by_method(scores: Scores) -> dict[str, int]:
    return {one.method: one.cases for one in scores.scores}


def test_forecasts_are_scored_by_the_next_reading(db: str) -> None:
    found = score_forecasts(db)
    assert by_method(found) == {"told": 3, "line": 3}
    assert found.waiting == 2  # the last of each truck
    assert all(one.made < one.read for one in found.scored)
    assert all(one.low_m < one.middle_m < one.high_m for one in found.scored)
    assert all(0.0 <= one.crps_m < 1e-3 for one in found.scored)
    assert found.scores[0].inside == 3
    assert found.scores[0].honest
    assert score_forecasts(db, "8").scores == ()


def test_a_reading_known_before_scores_nothing(tmp_path: Path) -> None:
    keep(tmp_path, "7", DAYS[1])
    db = keep(tmp_path, "7", DAYS[0])
    assert score_forecasts(db).scored == ()


def test_a_wrong_forecast_lies_outside_and_costs(tmp_path: Path) -> None:
    keep(tmp_path, "7", DAYS[0])
    keep(tmp_path, "7", DAYS[1])
    db = keep(tmp_path, "7", ("2025-10-06", "320,000 mi", "0.262 in"))
    last = score_forecasts(db).scored[-2]
    assert last.method == "told"
    assert not last.inside
    assert last.crps_m > 5e-4


def test_a_facing_renewed_in_between_scores_nothing(tmp_path: Path) -> None:
    keep(tmp_path, "7", ("2025-02-03", "300,000 mi", "0.262 in"))
    db = keep(tmp_path, "7", ("2025-06-02", "310,000 mi", "0.343 in"))
    assert score_forecasts(db).scored == ()
    (found,) = life_of_records(db).forecasts
    assert [one.new_facing for one in found.history.readings] == [False, True]


def test_a_fitted_part_marks_the_new_facing(tmp_path: Path) -> None:
    keep(tmp_path, "7", ("2025-02-03", "300,000 mi", "0.330 in"))
    db = keep(tmp_path, "7", ("2025-06-02", "310,000 mi", "0.340 in"))
    import datetime as dt

    fit(db, "7", "facing", "fitted", dt.date(2025, 5, 1), by="Ana")
    (found,) = life_of_records(db).forecasts
    assert [one.new_facing for one in found.history.readings] == [False, True]


def test_a_day_is_named_only_by_what_was_written_down(tmp_path: Path) -> None:
    """The readings date the change to a span; a setting changed within it names its day."""
    steady = [("2025-01-06", 100, 0.340), ("2025-03-03", 110, 0.338), ("2025-05-05", 120, 0.336)]
    fast = [("2025-09-01", 130, 0.316), ("2025-11-03", 140, 0.298), ("2026-01-05", 150, 0.280)]
    for date, miles, inches in steady:
        more = ""
        if date == "2025-05-05":
            more = '[readings_after]\nset_ac_time = "15 s"'
        keep(tmp_path, "7", (date, f"{miles},000 mi", f"{inches} in"), more)
    for date, miles, inches in fast:
        db = keep(tmp_path, "7", (date, f"{miles},000 mi", f"{inches} in"))
    change = life_of_records(db).forecasts[0].change
    assert change is not None
    assert [one.date.isoformat() for one in change.noted] == ["2025-05-05"]
    told = run("life", "--db", db)
    assert "in that time, on 2025-05-05: " in told.stdout


def test_commands_and_wrong_input(db: str, tmp_path: Path) -> None:
    done = run("forecasts", "--db", db, "--json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["scores"][0]["method"] == "told"
    assert found["scores"][0]["band_low"] <= found["scores"][0]["within_80"]
    assert "what was said" in run("forecasts", "--db", db).stdout
    assert run("forecasts", "--db", str(tmp_path / "none.db")).returncode == 2
    assert run("forecasts", "--db", db, "--unit", "99").returncode == 2
    assert run("life", "x.csv", "--db", db).returncode == 2
    both = run("life", "--db", db, "--ahead", "far", "--plot", "x.gif")
    assert both.returncode == 2
    assert len(both.stderr.splitlines()) == 2
    assert len(json.loads(run("life", "--db", db, "--json").stdout)) == 2
