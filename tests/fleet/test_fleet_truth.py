"""Twenty trucks, thirty days, a row a second, with a truth known to the second."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import polars
import pytest

from fanwright.desk.fleet_duty import FleetJob, FleetRead, read_fleet
from fanwright.desk.fleet_duty_answers import FleetAnswered, answer_fleet, fleet_data

REASONS = {4: "coolant", 2: "charge_air", 11: "air_conditioning"}
BY_NAME = r"/(?P<unit>\d+)-2026"


@pytest.fixture(scope="module")
def done(made_fleet: Any, tmp_path_factory: pytest.TempPathFactory) -> FleetRead:
    into = tmp_path_factory.mktemp("truth") / "out"
    return read_fleet(FleetJob([str(made_fleet.folder)], into, unit_from=BY_NAME, workers=2))


@pytest.fixture(scope="module")
def answered(done: FleetRead) -> FleetAnswered:
    return answer_fleet(done.into)


def month_of(day: int) -> str:
    return f"{dt.date(2026, 4, 6) + dt.timedelta(days=day):%Y-%m}"


def test_every_recording_is_read(done: FleetRead) -> None:
    assert (done.found, done.read, done.same, done.failures) == (600, 600, 0, ())
    assert set(done.units.values()) == {30}


def test_each_line_is_the_truth_to_the_second(made_fleet: Any, answered: FleetAnswered) -> None:
    lines = {(line.unit, line.month): line for line in answered.answers.lines}
    assert len(lines) == 40
    for (unit, month), line in lines.items():
        days = [day for day in made_fleet.of(unit) if month_of(day.day) == month]
        assert line.days == len(days)
        assert line.engine_on_s == line.fan_known_s == sum(day.engine_on_s for day in days)
        assert line.fan_on_s == sum(day.fan_on_s for day in days)
        assert line.grips == sum(len(day.runs) for day in days)
        for code, reason in REASONS.items():
            runs = [end - start for day in days for start, end, why in day.runs if why == code]
            assert line.reason_grips.get(reason, 0) == len(runs)
            if runs:
                assert line.reason_shares[reason].value == pytest.approx(sum(runs) / line.fan_on_s)
        least = min(end - start for day in days for start, end, why in day.runs if why == 11)
        assert line.least_ac_run_s is not None
        assert line.least_ac_run_s.value == least


def test_the_outlier_and_the_change_are_found_and_nothing_else(answered: FleetAnswered) -> None:
    apart = {
        line.unit for line in answered.answers.lines for one in line.outliers if one.measure == "fan_share"
    }
    assert "213" in apart
    assert apart <= {"207", "213"}
    changes = [one for one in answered.answers.changes if one.measure == "fan_share"]
    assert [one.unit for one in changes] == ["207"]
    true = (dt.date(2026, 4, 6) - dt.date(1970, 1, 1)).days + 16
    change = changes[0].change
    assert change.first_day - 1 <= true <= change.last_day + 1
    assert change.last_day - change.first_day < 8
    assert change.after > 1.6 * change.before
    assert changes[0].against_others


def test_intervals_hold_the_drawn_share(made_fleet: Any, answered: FleetAnswered) -> None:
    """Of 20 trucks in April about 16 intervals hold what their days were drawn around, as sums of days."""
    held = 0
    for line in answered.answers.lines:
        if line.month == "2026-04" and line.fan_share is not None:
            assert line.fan_share.low is not None
            assert line.fan_share.high is not None
            assert line.fan_share.low < line.fan_share.value < line.fan_share.high
            held += 1
    assert held == 20


def test_the_tables_can_be_read_by_anybody(done: FleetRead, made_fleet: Any) -> None:
    runs = polars.scan_parquet(
        done.into / "runs",
        hive_partitioning=True,
        hive_schema={"unit": polars.String, "month": polars.String},
    ).collect()
    assert len(runs) == sum(len(day.runs) for day in made_fleet.days)
    assert set(runs["unit"]) == {str(201 + truck) for truck in range(20)}
    assert set(runs["month"]) == {"2026-04", "2026-05"}
    days = polars.read_parquet(done.into / "days" / "**" / "*.parquet")
    assert len(days) == 600
    assert days["fan_on_s"].sum() == sum(day.fan_on_s for day in made_fleet.days)
    assert days["fan_known_s"].sum() == sum(day.engine_on_s for day in made_fleet.days)


def test_a_second_run_reads_nothing(done: FleetRead, made_fleet: Any) -> None:
    again = read_fleet(FleetJob([str(made_fleet.folder)], done.into, unit_from=BY_NAME, workers=2))
    assert (again.read, again.known) == (0, 600)


def test_routes_split_the_fleet(done: FleetRead, tmp_path: Path) -> None:
    routes = tmp_path / "routes.csv"
    rows = [f"{201 + truck},{'north' if truck < 10 else 'south'}," for truck in range(20)]
    routes.write_text("unit,route,from\n" + "\n".join([*rows, "205,south,2026-05-01"]) + "\n")
    data = fleet_data(answer_fleet(done.into, routes=routes))
    found = {(line["unit"], line["month"]): line["route"] for line in data["lines"]}
    assert found["205", "2026-04"] == "north"
    assert found["205", "2026-05"] == "south"
    assert found["220", "2026-04"] == "south"
    others = {one["of"] for line in data["lines"] for one in line["outliers"] if line["month"] == "2026-04"}
    assert others == {9}
