"""A shop's spreadsheet in, all or nothing; readings and visits out, harmless and without loss."""

from __future__ import annotations

import csv
import datetime as dt
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from fanwright.desk.export_records import HEADER, export_records
from fanwright.desk.import_records import import_sheet
from fanwright.desk.keep import keep_visit
from fanwright.desk.records import open_records
from fanwright.desk.spreadsheet import neutral
from fanwright.errors import FanwrightError
from fanwright.records.past import history
from fanwright.records.verifying import verify
from fanwright.report.say import say_all

SHEET = """Truck No,Date,Odometer [mi],Lining (in),vent_time,Remark
301,2025-03-01,"301,000",0.310,0.6 s,fine
301,2025-09-01,350200,5/16,"0.9 s",
302,2025-03-02,88000 km,7.6 mm,within_1_s,=1+1
"""


@pytest.fixture
def db(tmp_path: Path) -> str:
    return str(tmp_path / "shop.db")


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "past.csv"
    path.write_text(SHEET)
    return path


def past(db: str, unit: str) -> list[tuple[dt.date, float | None, dict[str, Any]]]:
    store = open_records(db)
    found = [
        (
            day.date,
            None if day.odometer_m is None else round(day.odometer_m / 1609.344),
            {
                one.test: one.outcome if one.measured is None else round(one.measured.si, 6)
                for one in day.readings
            },
        )
        for day in history(store, unit)
    ]
    store.close()
    return found


def refused(call: Any, *arguments: Any, **named: Any) -> list[str]:
    with pytest.raises(FanwrightError) as error:
        call(*arguments, **named)
    return say_all(error.value.messages)


def test_units_come_from_the_heading_or_the_cell(sheet: Path, db: str) -> None:
    done = import_sheet(sheet, db, {}, by="Ana")
    assert done.imported is not None
    assert (done.imported.added, done.imported.trucks) == (3, 2)
    assert done.preview.unread == ("Remark",)
    in_m = 0.0254
    assert past(db, "301") == [
        (dt.date(2025, 3, 1), 301000, {"facing_thickness": round(0.310 * in_m, 6), "vent_time": 0.6}),
        (dt.date(2025, 9, 1), 350200, {"facing_thickness": round(5 / 16 * in_m, 6), "vent_time": 0.9}),
    ]
    assert past(db, "302") == [
        (dt.date(2025, 3, 2), 54681, {"facing_thickness": 0.0076, "vent_time": "within_1_s"})
    ]


def test_a_preview_keeps_nothing(sheet: Path, db: str) -> None:
    done = import_sheet(sheet, db, {}, keep=False)
    assert done.imported is None
    assert len(done.preview.lines) == 3
    assert not Path(db).exists()


def test_the_same_sheet_again_adds_nothing(sheet: Path, db: str) -> None:
    import_sheet(sheet, db, {}, by="Ana")
    again = import_sheet(sheet, db, {}, by="Ana").imported
    assert again is not None
    assert (again.added, again.known) == (0, 3)
    assert len(past(db, "301")) == 2


def test_a_mapping_is_remembered(tmp_path: Path, db: str) -> None:
    path = tmp_path / "odd.csv"
    path.write_text("Wagen;Tag;km-Stand;Belag\n7;2025-05-01;120000;7.5\n")
    named = {"unit": "Wagen", "date": "Tag", "odometer [km]": "km-Stand", "facing_thickness [mm]": "Belag"}
    assert "no column holds the unit" in refused(import_sheet, path, db, {}, by="Ana")[0]
    import_sheet(path, db, named, by="Ana")
    path.write_text("Wagen;Tag;km-Stand;Belag\n7;2025-06-01;130000;7.4\n")
    again = import_sheet(path, db, {}, by="Ana")
    assert again.preview.remembered
    assert [day[2]["facing_thickness"] for day in past(db, "7")] == [0.0075, 0.0074]


def test_every_mistake_is_told_with_its_row_and_nothing_is_kept(tmp_path: Path, db: str) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(
        "unit,date,odometer,facing\n301,2025-03-01,100 mi,0.3 in\n,2025-03-01,100 mi,0.3 in\n"
        "303,03/01/2025,100 mi,0.3 in\n304,2025-03-01,100,0.3 bar\n"
    )
    told = refused(import_sheet, path, db, {}, by="Ana")
    assert [line.partition(":")[0] for line in told] == [
        "row 3",
        "row 4",
        "row 5, odometer",
        "row 5, facing_thickness",
    ]
    store = open_records(db)
    assert verify(store).entries == 0
    store.close()


@pytest.mark.parametrize(("order", "day"), [("mdy", dt.date(2025, 3, 1)), ("dmy", dt.date(2025, 1, 3))])
def test_days_are_never_guessed(tmp_path: Path, db: str, order: str, day: dt.date) -> None:
    path = tmp_path / "days.csv"
    path.write_text("unit,date,facing\n301,03/01/2025,0.3 in\n")
    assert "is not a date" in refused(import_sheet, path, db, {}, by="Ana")[0]
    import_sheet(path, db, {}, order=order, by="Ana")
    assert past(db, "301")[0][0] == day


def test_an_xlsx_sheet(tmp_path: Path, db: str) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Unit", "Date", "Odometer [mi]", "facing_thickness [in]"])
    sheet.append([301, dt.date(2025, 3, 1), 301000, 0.1 + 0.2])
    sheet.append([None, None, None, None])
    sheet.append(["302", dt.date(2025, 3, 2), 12.5, "19/64 in"])
    path = tmp_path / "past.xlsx"
    book.save(path)
    done = import_sheet(path, db, {}, by="Ana")
    assert done.imported is not None
    assert done.imported.added == 2
    assert past(db, "301") == [(dt.date(2025, 3, 1), 301000, {"facing_thickness": round(0.3 * 0.0254, 6)})]


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.csv", b""),
        ("a.csv", b"unit,date,facing\n"),
        ("a.csv", b"\xff\xfe\x00"),
        ("a.csv", b'unit,date,facing\n"301,2025-01-01,0.3 in\n'),
        ("a.csv", b"unit,date,facing\n301,2025-01-01,0.3 in\x00\n"),
        ("a.xlsx", b"PK not a zip"),
        ("a.xlsx", b""),
        ("a.ods", b"unit,date\n1,2\n"),
    ],
)
def test_what_is_no_table_is_one_clear_line(tmp_path: Path, db: str, name: str, content: bytes) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    assert len(refused(import_sheet, path, db, {}, by="Ana")) == 1


@pytest.fixture
def two_trucks(db: str, demo_folder: Path, sheet: Path) -> str:
    keep_visit(demo_folder / "214.toml", db)
    import_sheet(sheet, db, {}, by="Ana")
    return db


def test_readings_as_csv(two_trucks: str, tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    done = export_records(two_trucks, out)
    with out.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == HEADER
    assert len(rows) == done.rows
    vents = [row for row in rows if row["unit"] == "214" and row["test"] == "vent_time"]
    typed = {row["after"]: row for row in vents if row["origin"] == "typed"}
    assert (typed[""]["value"], typed[""]["in"], typed[""]["verdict"]) == ("2.1", "s", "act_now")
    assert (typed["after"]["value"], typed["after"]["verdict"]) == ("0.6", "good")
    alone = export_records(two_trucks, out, unit="301")
    assert (alone.visits, alone.rows) == (2, 4)


def test_readings_as_json_lines_and_xlsx_agree_with_csv(two_trucks: str, tmp_path: Path) -> None:
    for ending in ("csv", "jsonl", "xlsx"):
        export_records(two_trucks, tmp_path / f"out.{ending}")
    lines = [json.loads(line) for line in (tmp_path / "out.jsonl").read_text("utf-8").splitlines()]
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))[1:]
    assert sum(len(line["readings"]) for line in lines) == len(rows)
    assert lines[0]["unit"] == "214"
    book = load_workbook(tmp_path / "out.xlsx", read_only=True)
    cells = [["" if cell is None else str(cell) for cell in row] for row in book.worksheets[0].values][1:]
    texts = [0, 1, 3, 5, 6, 9, 10, 11, 12]
    assert [[row[at] for at in texts] for row in cells] == [[row[at] for at in texts] for row in rows]
    assert [float(row[7] or 0) for row in cells] == [float(row[7] or 0) for row in rows]
    book.close()


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", '=cmd|"/C calc"!A0'])
def test_formulas_are_neutralised(text: str, db: str, tmp_path: Path) -> None:
    """The beginnings that spreadsheet programs take for a formula: OWASP, CSV injection (from memory)."""
    assert neutral(text) == f"'{text}"
    visit = {
        "truck": {"unit": text},
        "drive": {"grips_by": "spring", "valve": "nc", "volts": 12},
        "visit": {"date": "2026-05-01", "kind": "planned"},
        "readings": {"facing_thickness": {"value": "7.6 mm", "by": text, "instrument": text}},
    }
    path = tmp_path / "evil.json"
    path.write_text(json.dumps(visit))
    keep_visit(path, db, by="Ana")
    export_records(db, tmp_path / "out.csv")
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as file:
        cells = [cell for row in csv.reader(file) for cell in row]
    assert [cell for cell in cells if cell.startswith(("=", "+", "@", "\t", "\r"))] == []
    export_records(db, tmp_path / "out.xlsx")
    book = load_workbook(tmp_path / "out.xlsx")
    assert [cell.coordinate for row in book.worksheets[0] for cell in row if cell.data_type == "f"] == []


def test_visit_files_come_out_without_loss_and_go_in_again(
    db: str, demo_folder: Path, tmp_path: Path
) -> None:
    keep_visit(demo_folder / "214.toml", db)
    done = export_records(db, tmp_path / "out")
    (folder,) = (tmp_path / "out").iterdir()
    assert (done.visits, folder.name) == (1, "214-2026-04-14-1")
    assert (folder / "visit.toml").read_bytes() == (demo_folder / "214.toml").read_bytes()
    for name in ("214-air.csv", "214-air-after.csv", "214-duty.log"):
        assert (folder / name).read_bytes() == (demo_folder / name).read_bytes()
    shutil.copy(folder / "visit.toml", folder / "again.toml")
    assert not keep_visit(folder / "again.toml", db).kept.new  # the very same visit
    other = keep_visit(folder / "again.toml", str(tmp_path / "other.db"))
    assert other.kept.new


def test_what_cannot_be_exported(two_trucks: str, tmp_path: Path) -> None:
    assert "not in the records" in refused(export_records, two_trucks, tmp_path / "o.csv", unit="999")[0]
    assert "are written as .jsonl" in refused(export_records, two_trucks, tmp_path / "o.pdf")[0]
    assert "there is no visit 99" in refused(export_records, two_trucks, tmp_path / "o", visit=99)[0]
    assert "line of history" in refused(export_records, two_trucks, tmp_path / "o", visit=2)[0]
    assert "cannot be written" in refused(export_records, two_trucks, tmp_path / "gone" / "o.csv")[0]
