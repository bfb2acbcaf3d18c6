"""`duty` on fleets as its user calls it, with right and with wrong input; the picture."""

from __future__ import annotations

import csv
import json
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner, Result

from fanwright.cli import fanwright, run
from fanwright.fleet.answers import FleetAnswers, Line, TruckChange
from fanwright.fleet.changes import Change
from fanwright.fleet.intervals import Interval
from fanwright.fleet.outliers import Outlier
from fanwright.report.pictures import fleet_duty as picture

BY_NAME = r"/(?P<unit>\d+)-2026"


def call(*arguments: object) -> Result:
    return CliRunner().invoke(fanwright, ["duty", *map(str, arguments)])


def code(*arguments: object) -> int:
    return run(lambda: fanwright.main(["duty", *map(str, arguments)], standalone_mode=False))


@pytest.fixture(scope="module")
def result(small_fleet: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    into = tmp_path_factory.mktemp("command") / "out"
    assert code(small_fleet.folder, "--into", into, "--unit-from", BY_NAME, "--workers", 1) == 0
    return into


def test_reading_says_what_was_done(small_fleet: Any, result: Path) -> None:
    done = call(small_fleet.folder, "--into", result, "--unit-from", BY_NAME)
    assert "9 files found: 0 read, 9 known" in done.stdout
    data = json.loads(call(small_fleet.folder, "--into", result, "--unit-from", BY_NAME, "--json").stdout)
    assert data == {
        "found": 9,
        "read": 0,
        "known": 9,
        "same": 0,
        "units": {"201": 3, "202": 3, "203": 3},
        "failures": [],
    }


def test_progress_goes_to_standard_error(small_fleet: Any, result: Path) -> None:
    done = call(small_fleet.folder, "--into", result, "--unit-from", BY_NAME, "--json")
    assert "9 of 9 recordings" in done.stderr
    json.loads(done.stdout)


def test_answers_as_json_tables_and_picture(small_fleet: Any, result: Path, tmp_path: Path) -> None:
    table, book, drawn = tmp_path / "a.csv", tmp_path / "a.xlsx", tmp_path / "a.svg"
    done = call("--fleet", result, "--json", "--csv", table, "--xlsx", book, "--plot", drawn)
    lines = json.loads(done.stdout)["lines"]
    assert [line["unit"] for line in lines] == ["201", "202", "203"]
    assert lines[0]["fan_share"]["low"] is None  # three days are too few for an interval
    assert lines[0]["fan_on_s"] == sum(day.fan_on_s for day in small_fleet.of("201"))
    rows = list(csv.DictReader(table.read_text().splitlines()))
    assert [row["unit"] for row in rows] == ["201", "202", "203"]
    assert float(rows[0]["fan_share"]) == lines[0]["fan_share"]["value"]
    assert rows[0]["fan_share_low"] == ""
    sheet = openpyxl.load_workbook(book).active
    assert sheet is not None
    assert [cell.value for cell in next(sheet.iter_rows(max_row=1))] == list(rows[0])
    assert ET.fromstring(drawn.read_text()).tag.endswith("svg")


def test_answers_for_people(result: Path) -> None:
    shown = call("--fleet", result).stdout
    for words in ("stand apart", "Changes", "By truck, route and month", "Cannot be told", "not compared"):
        assert words in shown


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ((), "name at least one recording"),
        (("{in}",), "--into"),
        (("{in}/*.parquet",), "--into"),
        (("s3://bucket/x",), "--into"),
        (("{in}", "--fleet", "{out}"), "give no files"),
        (("{in}/a.log", "--units", "x.csv"), "goes with --into"),
        (("{in}/a.log", "--routes", "x.csv"), "goes with --fleet"),
        (("--fleet", "{in}"), "is no result of a fleet"),
        (("--fleet", "{in}/nothing"), "is no result of a fleet"),
        (("--fleet", "{out}", "--csv", "a.txt"), "must end in .csv"),
        (("--fleet", "{out}", "--routes", "{in}/none.csv"), "none.csv"),
        (("{in}", "--into", "/nowhere/at/all"), "cannot be used"),
        (("{in}", "--into", "{out}", "--truck", "flying saucer"), "neither a preset nor a visit file"),
        (("{in}", "--into", "{out}", "--unit-from", "x"), "(?P<unit>"),
    ],
)
def test_wrong_input_is_a_line_and_exit_2(
    small_fleet: Any, result: Path, capfd: pytest.CaptureFixture[str], arguments: tuple[str, ...], word: str
) -> None:
    places = {"in": str(small_fleet.folder), "out": str(result)}
    given = [one.replace("{in}", places["in"]).replace("{out}", places["out"]) for one in arguments]
    assert code(*given) == 2
    errors = capfd.readouterr().err
    assert word in errors
    assert "Traceback" not in errors


def test_routes_with_mistakes_are_told_by_line(result: Path, tmp_path: Path) -> None:
    routes = tmp_path / "routes.csv"
    routes.write_text("unit,route,from\n201,north,someday\n202,south,2026-13-01\n203,east,\n")
    assert code("--fleet", result, "--routes", routes) == 2


# --- Picture ------------------------------------------------------------------------------------------------


def line(unit: str, route: str, month: str, share: float, more: bool | None = None) -> Line:
    interval = Interval(share, 0.8 * share, 1.2 * share, 0.1 * share)
    apart = () if more is None else (Outlier("fan_share", more, share, Interval(0.08), 9.0, 9),)
    return Line(
        unit,
        route,
        month,
        30,
        1e6,
        1e6,
        share * 1e6,
        9,
        interval,
        interval,
        {},
        {},
        None,
        None,
        None,
        None,
        apart,
    )


def fleet(trucks: int, months: int) -> FleetAnswers:
    named = [f"2026-{month:02d}" for month in range(1, months + 1)]
    lines = [
        line(str(200 + truck), "north & south" if truck % 2 else "<hill>", month, 0.05 + 0.01 * truck)
        for truck in range(trucks)
        for month in named
    ]
    lines[0] = line("200", "<hill>", named[0], 0.9, more=True)
    lines[months] = line("201", "north & south", named[0], 0.001, more=False)
    change = TruckChange("202", "fan_share", Change(20_480, 20_485, 20_482, 0.05, 0.2, 0.0001), True)
    return FleetAnswers(tuple(lines), (change,))


@pytest.mark.parametrize(("trucks", "months"), [(2, 1), (6, 3), (40, 12), (3, 30)])
@pytest.mark.parametrize("theme", ["screen", "print"])
def test_the_picture_names_who_stands_apart(trucks: int, months: int, theme: Any) -> None:
    months = min(months, 12)
    root = ET.fromstring(picture.draw(fleet(trucks, months), theme))
    said = [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
    for word in ("200", "201", "told on: more", "told on: less", "<hill>", "north & south"):
        assert word in said
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    for text in root.iter("{http://www.w3.org/2000/svg}text"):
        assert 0 <= float(text.attrib["x"]) <= width
        assert 0 <= float(text.attrib["y"]) <= height


def test_a_change_is_marked_with_its_days() -> None:
    svg = picture.draw(fleet(6, 3))
    assert "more since 27 Jan to 1 Feb" in svg


def test_an_empty_fleet_is_drawn() -> None:
    ET.fromstring(picture.draw(FleetAnswers((), ())))
