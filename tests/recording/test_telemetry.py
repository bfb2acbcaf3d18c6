"""Telemetry as CSV and Parquet: found by its columns, read as a recording is, everything odd counted."""

from __future__ import annotations

import datetime as dt
import gzip
from collections.abc import Callable
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from fanwright.errors import FileError
from fanwright.evidence.recording import read_recording
from fanwright.evidence.recording.telemetry import Naming, naming_from, runs_of
from fanwright.evidence.recording.telemetry.columns import find_columns
from fanwright.truck.loader import presets
from fanwright.virtual.traffic import Day, DayStory, make_day
from telemetry_tables import START_S, csv_of, notes, parquet_of, rows_of, said, simple

Write = Callable[[str | bytes, str], Path]


@pytest.fixture(scope="module")
def day() -> Day:
    return make_day(DayStory(7, 1.0, "town", 27.0, "set_ac_time_short", fan_sensor=True, engine_every_s=0.5))


@pytest.mark.parametrize("kind", ["csv", "semicolons", "csv.gz", "parquet"])
def test_telemetry_tells_what_the_bus_tells(day: Day, kind: str, written: Write) -> None:
    truck = presets()["line-haul spring-on"]
    bus = read_recording([written(day.text(), "bus.log")], truck=truck)
    table = rows_of(day)
    content: str | bytes = table.write_csv()
    if kind == "semicolons":
        content = ("exported\n\n" + table.write_csv(separator=";", float_precision=3)).replace(".", ",")
    elif kind == "csv.gz":
        content = gzip.compress(table.write_csv().encode())
    elif kind == "parquet":
        content = parquet_of(table)
    result = read_recording([written(content, "rows")], truck=truck)
    assert result.files[0].format == f"telemetry ({'Parquet' if kind == 'parquet' else 'CSV'})"
    assert result.files[0].clock == "absolute"
    assert [run.reason for run in result.runs] == [run.reason for run in bus.runs]
    assert len(result.runs) > 20
    for row, frame in zip(result.runs, bus.runs, strict=True):
        assert row.start_s == pytest.approx(frame.start_s, abs=0.02)
        assert row.end_s == pytest.approx(frame.end_s, abs=0.02)
        assert (row.open_start, row.open_end) == (frame.open_start, frame.open_end)
        assert row.grip_rpm == pytest.approx(frame.grip_rpm, abs=0.2)
        assert row.coolant_on_k == pytest.approx(frame.coolant_on_k, abs=1.1)
        assert row.lowest_air_gauge_pa == pytest.approx(frame.lowest_air_gauge_pa, abs=16e3)
    assert result.engine_on_s == pytest.approx(bus.engine_on_s, abs=1.0)
    assert result.fan_known_s == pytest.approx(bus.fan_known_s, abs=1.0)
    # The bus log has a barometer, so its air is thinner; see the density in the notes.
    assert result.slip_energy_j == pytest.approx(bus.slip_energy_j, rel=0.01)
    assert result.fan_energy_j == pytest.approx(bus.fan_energy_j, rel=0.05)
    words = {one.test: one.outcome for one in result.evidence.readings if one.outcome}
    assert words == {one.test: one.outcome for one in bus.evidence.readings if one.outcome}


def test_sums_of_a_known_table(written: Write) -> None:
    rows = simple(1000, [(100, 200, 4), (200, 230, 11), (500, 560, 2)])
    rows["engine speed [rpm]"][900:] = [0.0] * 100
    result = read_recording([written(csv_of(rows), "a.csv")])
    assert [(run.start_s - START_S, run.end_s - START_S, run.reason) for run in result.runs] == [
        (100.0, 230.0, "coolant"),
        (500.0, 560.0, "charge_air"),
    ]
    sums = {reason: (one.runs, one.fan_on_s) for reason, one in result.by_reason().items()}
    assert sums == {"coolant": (1, 100.0), "charge_air": (1, 60.0), "air_conditioning": (0, 30.0)}
    assert result.engine_on_s == result.fan_known_s == 900.0
    assert result.files[0].tally.frames == 1000


@pytest.mark.parametrize(
    ("column", "cells"),
    [
        ("fan on", [0, 1, 1, 0]),
        ("fan_on", ["false", "true", "yes", "no"]),
        ("fan told on", [False, True, True, False]),
        ("fan percent [%]", [0.0, 100.0, 99.6, 10.0]),
        ("fan command [%]", [0.0, 100.0, 50.0, 49.9]),
        ("fan_share", [0.0, 1.0, 0.9, 0.1]),
        ("fan state", [0.0, 7.0, 7.0, 0.0]),
    ],
)
def test_every_way_to_tell_the_fan(column: str, cells: list[Any], written: Write) -> None:
    rows = simple(4)
    del rows["fan state"]
    rows[column] = cells
    rows["engine speed [rpm]"] = [900.0] * 4
    result = read_recording([written(csv_of(rows), "a.csv")])
    assert [(run.start_s - START_S, run.end_s - START_S) for run in result.runs] == [(1.0, 3.0)]
    assert runs_of(rows).fan_on_s == 2.0


def test_not_available_is_unknown_and_never_off(written: Write) -> None:
    rows = simple(20)
    rows["fan state"] = [0] * 5 + [15] * 5 + [4] * 5 + [None] * 5
    result = read_recording([written(csv_of(rows), "a.csv")])
    assert result.fan_known_s == 10.0
    run = result.runs[0]
    assert run.open_start
    assert run.open_end
    assert "a.csv: 10 rows do not say what the fan is told" in " ".join(notes(result))


def test_a_percentage_of_nothing_beside_an_unknown_state_is_not_off() -> None:
    rows = simple(9)
    rows["fan state"] = [4, 4, 4, 15, 15, 15, 4, 4, 4]
    rows["fan percent [%]"] = [100, 100, 100, 0, 0, 0, 100, 100, 100]
    assert runs_of(rows).fan_known_s == 5.0


CLOCKS: list[tuple[str, Callable[[int], Any], str]] = [
    ("time [s]", lambda number: number, "relative"),
    ("time [min]", lambda number: number / 60, "relative"),
    ("timestamp", lambda number: START_S + number, "absolute"),
    ("timestamp", lambda number: (START_S + number) * 1000, "absolute"),
    ("timestamp", lambda number: (START_S + number) * 1_000_000_000, "absolute"),
    ("time_ms", lambda number: (START_S + number) * 1000, "absolute"),
    (
        "utc",
        lambda number: dt.datetime.fromtimestamp(START_S + number, dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "absolute",
    ),
    (
        "time",
        lambda number: dt.datetime.fromtimestamp(
            START_S + number, dt.timezone(dt.timedelta(hours=-5))
        ).isoformat(),
        "absolute",
    ),
    (
        "date time",
        lambda number: dt.datetime.fromtimestamp(START_S + number, dt.UTC).strftime("%Y-%m-%d %H:%M:%S.5"),
        "local",
    ),
    ("time", lambda number: f"{(86_300 + number) // 3600 % 24:02d}:{(86_300 + number) % 3600 // 60:02d}:"
     f"{(86_300 + number) % 60:02d}", "relative"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "stamp", "clock"), CLOCKS)
def test_every_clock(name: str, stamp: Callable[[int], Any], clock: str, written: Write) -> None:
    rows = simple(300)
    del rows["time [s]"]
    rows = {name: [stamp(number) for number in range(300)], **rows}
    result = read_recording([written(csv_of(rows), "a.csv")])
    assert result.files[0].clock == clock
    assert [run.duration_s for run in result.runs] == [pytest.approx(100.0)]
    assert result.span_s == pytest.approx(299.0)


@pytest.mark.parametrize("unit", ["ms", "us", "ns"])
@pytest.mark.parametrize("zone", [None, "UTC"])
def test_parquet_clocks(unit: Any, zone: str | None, written: Write) -> None:
    rows = pl.DataFrame(simple(300)).rename({"time [s]": "time"})
    rows = rows.with_columns((pl.col("time") * 1000).cast(pl.Datetime("ms", zone)).dt.cast_time_unit(unit))
    result = read_recording([written(parquet_of(rows), "a.parquet")])
    assert result.files[0].clock == ("absolute" if zone else "local")
    assert [run.start_s for run in result.runs] == [START_S + 100.0]


def test_everything_odd_is_counted(written: Write) -> None:
    rows = simple(400)
    time = rows["time [s]"]
    time[50] = "soon"
    time[60] = time[59]
    time[300:] = [one + 20 for one in time[300:]]
    time[350:] = [one + 5 for one in time[350:]]
    time[380] = 4_000_000_000
    rows["coolant [C]"][10:13] = ["hot", -999, "n/a"]
    text = csv_of(rows) + "1790000"
    result = read_recording([written(text, "a.csv")])
    found = " | ".join(notes(result))
    for part in (
        "a.csv: 1 rows have no time",
        "a.csv: 2 rows have a time that fits nowhere",
        "a.csv: 1 rows repeat",
        "a.csv: 1 gaps of more than 10 s",
        "a.csv: 1 steps of over 3 s",
        "a.csv: 1 cells of coolant cannot be read",
        "a.csv: 1 values of coolant cannot be",
    ):
        assert part in found
    assert result.files[0].tally.lines_unread == 1
    assert result.sessions == 2


def test_a_clock_set_back_keeps_both_parts_and_rows_in_no_order_are_sorted(written: Write) -> None:
    rows = simple(600)
    rows["time [s]"][300:] = [one - 200 for one in rows["time [s]"][300:]]
    result = read_recording([written(csv_of(rows), "a.csv")])
    assert "the clock was set 1 times" in " ".join(notes(result))
    assert result.engine_on_s == 598.0
    mixed = pl.DataFrame(simple(600)).sample(fraction=1.0, shuffle=True, seed=4)
    result = read_recording([written(parquet_of(mixed), "b.parquet")])
    assert [run.duration_s for run in result.runs] == [100.0]
    assert "were out of order and were sorted" in " ".join(notes(result))
    assert runs_of(mixed).fan_on_s == 100.0


def test_one_truck_of_several(written: Write) -> None:
    rows = {**simple(300), "unit": ["214"] * 300}
    other = {**simple(300, [(10, 20, 11)]), "unit": ["77"] * 300}
    both = pl.concat([pl.DataFrame(rows), pl.DataFrame(other)])
    path = written(parquet_of(both), "a.parquet")
    with pytest.raises(FileError) as refused:
        read_recording([path])
    assert "holds 2 trucks: 214, 77; say which" in said(refused)[0]
    with pytest.raises(FileError) as refused:
        read_recording([path], naming=Naming(unit="9"))
    assert "holds no unit 9; there are 214, 77" in said(refused)[0]
    result = read_recording([path], naming=Naming(unit="77"))
    assert [run.reason for run in result.runs] == ["air_conditioning"]
    assert runs_of(both, naming=Naming(unit="77")).fan_on_s == 10.0


def test_vehicle_numbers_are_compared_and_never_shown(written: Write) -> None:
    rows = {**simple(300), "vin": ["DEMO0000000000214"] * 300}
    path = written(csv_of(rows), "a.csv")
    assert read_recording([path], vehicle_number="demo0000000000214").vehicle_number_matches is True
    result = read_recording([path], vehicle_number="DEMO0000000000077")
    assert result.vehicle_number_matches is False
    assert "DEMO" not in " ".join(notes(result))


SHOP = {
    "engine_speed": "N [rpm]",
    "time": "T [s]",
    "told_on": "CMD",
    "reason": "WHY",
    "reasons": {"X-1": "coolant"},
}


def test_a_shop_says_what_its_columns_are(written: Write) -> None:
    rows = {"T": range(60), "N": [900] * 60, "CMD": [0] * 10 + [1] * 50, "WHY": [""] * 10 + ["x 1"] * 50}
    path = written(csv_of({name: list(cells) for name, cells in rows.items()}), "a.csv")
    result = read_recording([path], naming=naming_from(SHOP))
    assert [run.reason for run in result.runs] == ["coolant"]
    with pytest.raises(FileError) as refused:
        naming_from({"engine": "N", "time": 3, "reasons": {"A": "moon"}})
    assert len(refused.value.messages) == 3
    with pytest.raises(FileError) as refused:
        read_recording([path], naming=naming_from({**SHOP, "coolant": "ECT [C]"}))
    assert said(refused) == [f"{path}: no column is called ECT [C]; the columns found are: T, N, CMD, WHY"]


@pytest.mark.parametrize(
    ("header", "wanted"),
    [
        (["time [s]", "fan on"], ["no column for engine_speed"]),
        (["time [s]", "engine [rpm]"], ["no column for told_on, fan_percent or fan_state"]),
        (["time [s]", "fan on", "engine [rpm]", "coolant", "air [psia]"],
         ["coolant has no unit", "is absolute"]),
        (["time [s]", "fan on", "fan_on", "engine [psi]"], ["several columns", "has the unit psi"]),
        (["time [day]", "fan on", "engine [rpm]", "speed"], ["unit day", "speed has no unit; one of m/s"]),
    ],
)  # fmt: skip
def test_mistakes_of_a_header_come_together(header: list[str], wanted: list[str]) -> None:
    with pytest.raises(FileError) as refused:
        find_columns(header, place="a.csv")
    assert len(refused.value.messages) == len(wanted)
    for part, shown in zip(wanted, said(refused), strict=True):
        assert part in shown


def test_rows_too_far_apart_are_refused(written: Write) -> None:
    rows = simple(50)
    rows["time [s]"] = [START_S + 10 * number for number in range(50)]
    path = written(csv_of(rows), "a.csv")
    with pytest.raises(FileError) as refused:
        read_recording([path])
    assert "exported once a second" in said(refused)[0]
    with pytest.raises(FileError, match="rows are"):
        runs_of(rows)


@pytest.mark.parametrize("many", [0, 1])
def test_tables_of_hardly_any_row(many: int, written: Write) -> None:
    path = written(csv_of(simple(many)), "a.csv")
    if many:
        assert read_recording([path]).fan_known_s == 0.0
    else:
        with pytest.raises(FileError, match="no row"):
            read_recording([path])


def test_times_without_a_unit_or_unlike_times_are_refused(written: Write) -> None:
    rows = {"time": list(range(300)), **{k: v for k, v in simple(300).items() if k != "time [s]"}}
    with pytest.raises(FileError, match="no unit"):
        read_recording([written(csv_of(rows), "a.csv")])
    rows["time"] = ["04/14/2026 05:30:00"] * 300
    with pytest.raises(FileError, match="no time that can be read"):
        read_recording([written(csv_of(rows), "a.csv")])
