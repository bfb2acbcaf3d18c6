"""Reading a fleet: what is new only, odd names, links, the same bytes twice, bad files, whose truck it is."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import polars
import pytest

from fanwright.desk.fleet_duty import FleetJob, read_fleet
from fanwright.desk.fleet_duty_answers import answer_fleet, fleet_data
from fanwright.desk.fleet_duty_result import manifest_of
from fanwright.errors import InputError
from fanwright.report.say import say_all

BY_NAME = r"(?P<unit>\d{3})-2026"


def small_table(seed: int = 0, seconds: int = 900, **more: Any) -> polars.DataFrame:
    """Telemetry of a quarter of an hour with one run of 100 s."""
    state = np.zeros(seconds, np.int8)
    state[300 + seed : 400 + seed] = 4
    time_us = (np.arange(seconds) + 1_775_451_600 + 86_400 * seed) * 1_000_000
    return polars.DataFrame(
        {
            "time": polars.Series(time_us).cast(polars.Datetime("us", "UTC")),
            "fan state": state,
            "engine speed [rpm]": np.full(seconds, 1250.0),
            **more,
        }
    )


def read(folder: Path | str, into: Path, **more: Any) -> Any:
    return read_fleet(FleetJob([str(folder)], into, workers=more.pop("workers", 1), **more))


def said(error: pytest.ExceptionInfo[InputError]) -> str:
    return "\n".join(say_all(error.value.messages))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "in"
    made.mkdir()
    for seed in range(3):
        small_table(seed).write_parquet(made / f"{201 + seed}-2026.parquet")
    return made


def test_only_what_is_new_is_read(folder: Path, tmp_path: Path) -> None:
    into = tmp_path / "out"
    assert read(folder, into, unit_from=BY_NAME).read == 3
    small_table(7).write_parquet(folder / "204-2026.parquet")
    done = read(folder, into, unit_from=BY_NAME)
    assert (done.read, done.known) == (1, 3)
    small_table(9).write_parquet(folder / "204-2026.parquet")
    done = read(folder, into, unit_from=BY_NAME)
    assert (done.read, done.known) == (1, 3)
    assert {line["unit"]: line["grips"] for line in fleet_data(answer_fleet(into))["lines"]} == {
        "201": 1,
        "202": 1,
        "203": 1,
        "204": 1,
    }
    kept = {path.stem for path in (into / "runs").rglob("*.parquet")}
    assert kept == {one.sha256[:32] for one in manifest_of(into).counted}


def test_moved_and_doubled_files_are_not_counted_again(folder: Path, tmp_path: Path) -> None:
    into = tmp_path / "out"
    shutil.copy(folder / "202-2026.parquet", folder / "copy of 202-2026.parquet")
    os.link(folder / "203-2026.parquet", folder / "linked 203-2026.parquet")
    first = read(folder, into, unit_from=BY_NAME)
    assert (first.read, first.same) == (3, 2)
    (folder / "201-2026.parquet").rename(folder / "again-201-2026.parquet")
    again = read(folder, into, unit_from=BY_NAME)
    assert (again.read, again.same) == (0, 1)
    assert sum(line.grips for line in answer_fleet(into).answers.lines) == 3


def test_a_copy_stays_when_its_original_changes(folder: Path, tmp_path: Path) -> None:
    into = tmp_path / "out"
    shutil.copy(folder / "201-2026.parquet", folder / "z201-2026.parquet")
    assert read(folder, into, unit_from=BY_NAME).same == 1
    small_table(11).write_parquet(folder / "201-2026.parquet")
    done = read(folder, into, unit_from=BY_NAME)
    assert done.read == 2
    lines = answer_fleet(into).answers.lines
    assert sum(line.grips for line in lines if line.unit == "201") == 2


def test_a_truck_not_known_is_tried_again_with_another_rule(tmp_path: Path) -> None:
    folder, into = tmp_path / "in", tmp_path / "out"
    folder.mkdir()
    small_table().write_parquet(folder / "day.parquet")
    first = read(folder, into)
    assert "its truck is not known" in first.failures[0][1]
    assert read(folder, into).known == 1
    done = read(folder, into, unit_from="/(?P<unit>day)")
    assert (done.read, done.failures) == (1, ())


def test_a_clock_without_a_date_is_told_and_not_counted(folder: Path, tmp_path: Path) -> None:
    seconds = polars.Series("time [s]", np.arange(900, dtype=np.float64))
    small_table().drop("time").with_columns(seconds).write_parquet(folder / "204-2026.parquet")
    into = tmp_path / "out"
    assert read(folder, into, unit_from=BY_NAME).read == 4
    data = fleet_data(answer_fleet(into))
    assert [line["unit"] for line in data["lines"]] == ["201", "202", "203"]
    assert any("without a date" in one for one in data["cannot_tell"])
    assert len(list((into / "runs" / "unit=204" / "month=unknown").iterdir())) == 1


def test_odd_names_hidden_files_and_loops(folder: Path, tmp_path: Path) -> None:
    odd = folder / os.fsdecode(b"204-2026 \xff\xfe 'quoted' \xe2\x82\xac.parquet")
    with odd.open("wb") as file:
        small_table(8).write_parquet(file)
    deep = folder / "sub" / "deeper"
    deep.mkdir(parents=True)
    small_table(5).write_parquet(deep / "205-2026 with\nline.parquet")
    (deep / "up").symlink_to(folder)
    (folder / "same").symlink_to(deep)
    (folder / ".hidden").write_text("nothing")
    (folder / "gone").symlink_to(folder / "nowhere")
    done = read(folder, tmp_path / "out", unit_from=BY_NAME)
    assert done.failures == ()
    assert set(done.units) == {"201", "202", "203", "204", "205"}
    assert done.found == 5


def test_globs_and_single_files(folder: Path, tmp_path: Path) -> None:
    asked = FleetJob(
        [str(folder / "20[12]-*.parquet"), str(folder / "201-2026.parquet")],
        tmp_path / "out",
        unit_from=BY_NAME,
        workers=1,
    )
    assert read_fleet(asked).found == 2


def test_the_result_inside_the_folder_is_not_read(folder: Path) -> None:
    into = folder / "out"
    assert read(folder, into, unit_from=BY_NAME).read == 3
    assert read(folder, into, unit_from=BY_NAME).found == 3


def test_bad_files_are_rows_of_the_failures(folder: Path, tmp_path: Path) -> None:
    whole = (folder / "201-2026.parquet").read_bytes()
    (folder / "301-2026.parquet").write_bytes(whole[: len(whole) // 2])
    (folder / "302-2026.log").write_bytes(b"")
    (folder / "303-2026.txt").write_text("nothing to see\nhere\n")
    (folder / "nameless.parquet").write_bytes((folder / "202-2026.parquet").read_bytes() + b"")
    small_table(6).write_parquet(folder / "nobody.parquet")
    into = tmp_path / "out"
    done = read(folder, into, unit_from=BY_NAME)
    assert done.read == 3
    names = [Path(file).name for file, _ in done.failures]
    assert names == ["301-2026.parquet", "302-2026.log", "303-2026.txt", "nobody.parquet"]
    assert all(reason and "\n" not in reason and "Traceback" not in reason for _, reason in done.failures)
    table = (into / "failures.csv").read_text().splitlines()
    assert table[0] == "file,reason"
    assert len(table) == 5
    again = read(folder, into, unit_from=BY_NAME)
    assert again.read == 0
    assert again.failures == done.failures


def test_a_mended_file_leaves_the_failures(folder: Path, tmp_path: Path) -> None:
    into = tmp_path / "out"
    (folder / "301-2026.parquet").write_bytes(b"PAR1 broken")
    assert len(read(folder, into, unit_from=BY_NAME).failures) == 1
    small_table(4).write_parquet(folder / "301-2026.parquet")
    done = read(folder, into, unit_from=BY_NAME)
    assert (done.read, done.failures) == (1, ())


# --- Whose truck -----------------------------------------------------------------------------------------


def test_a_list_of_files(folder: Path, tmp_path: Path) -> None:
    units = tmp_path / "units.csv"
    units.write_text("file,unit\n201-2026.parquet,A 1\n202-*.parquet,B/2\n*203*,..\n")
    done = read(folder, tmp_path / "out", units=units)
    assert done.units == {"..": 1, "A 1": 1, "B/2": 1}
    assert {line.unit for line in answer_fleet(tmp_path / "out").answers.lines} == {"..", "A 1", "B/2"}


def test_a_unit_column_and_several_trucks_in_one_file(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    both = [small_table(seed, unit=[unit] * 900) for seed, unit in ((0, "77"), (3, "78"))]
    polars.concat(both).write_parquet(folder / "month.parquet")
    small_table(1, unit=["79"] * 900).write_parquet(folder / "one.parquet")
    done = read(folder, tmp_path / "out")
    assert done.failures == ()
    assert done.units == {"77": 1, "78": 1, "79": 1}
    lines = answer_fleet(tmp_path / "out").answers.lines
    assert {line.unit for line in lines} == {"77", "78", "79"}
    assert {(line.grips, line.fan_on_s) for line in lines} == {(1, 100.0)}


def test_vehicle_numbers_are_masked_and_can_be_listed(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    for seed, number in enumerate(("1DEMO000000000001", "1DEMO000000000002")):
        small_table(seed, vin=[number] * 900).write_parquet(folder / f"{seed}.parquet")
    units = tmp_path / "units.csv"
    units.write_text("vin,unit\n1demo000000000002,214\n")
    into = tmp_path / "out"
    done = read(folder, into, units=units)
    assert sorted(done.units)[0] == "214"
    assert sorted(done.units)[1].startswith("vin-")
    everything = b"".join(path.read_bytes() for path in into.rglob("*") if path.is_file())
    assert b"1DEMO" not in everything.upper()


def test_a_bus_recording_tells_its_vehicle_number(tmp_path: Path) -> None:
    from fanwright.virtual.traffic import DayStory, make_day

    folder = tmp_path / "in"
    folder.mkdir()
    for seed, number in ((1, "1DEMO000000000001"), (2, "")):
        day = make_day(DayStory(seed, 0.3, engine_every_s=0.5, vehicle_number=number))
        (folder / f"{seed}.log").write_text(day.text())
    done = read(folder, tmp_path / "out")
    (unit,) = done.units
    assert unit.startswith("vin-")
    ((file, reason),) = done.failures
    assert file.endswith("2.log")
    assert "its truck is not known" in reason


# --- Wrong input -----------------------------------------------------------------------------------------


def test_all_mistakes_come_together(tmp_path: Path) -> None:
    asked = FleetJob(
        [str(tmp_path / "gone"), str(tmp_path / "*.none"), "nonsense://x/y", "s3://bucket/x"],
        tmp_path / "out",
        unit_from="[",
        units=tmp_path / "no.csv",
        cluster="tcp://10.0.0.5:8786",
    )
    with pytest.raises(InputError) as error:
        read_fleet(asked)
    lines = said(error).splitlines()
    assert len(lines) == 7
    for word in ("gone", "*.none", "nonsense", "s3", "regular expression", "no.csv", "tls://"):
        assert any(word in line for line in lines), word
    assert not (tmp_path / "out").exists()


def test_a_strange_folder_is_not_written_to(folder: Path, tmp_path: Path) -> None:
    into = tmp_path / "full"
    into.mkdir()
    (into / "letter.txt").write_text("private")
    with pytest.raises(InputError) as error:
        read(folder, into, unit_from=BY_NAME)
    assert "letter.txt" in said(error)


def test_other_figures_need_another_result(folder: Path, tmp_path: Path) -> None:
    into = tmp_path / "out"
    read(folder, into, unit_from=BY_NAME)
    with pytest.raises(InputError) as error:
        read(folder, into, unit_from=BY_NAME, figures=(1.1, 0.5, 120.0, 18e3, 220.0))
    assert "figures" in said(error)


@pytest.mark.parametrize(
    "content", [b"", b"{}\n", b"not json\n", b'{"edition":99}\n', b"\xff\xfe\n", b"[]\n"]
)
def test_a_damaged_list_is_told(folder: Path, tmp_path: Path, content: bytes) -> None:
    into = tmp_path / "out"
    read(folder, into, unit_from=BY_NAME)
    (into / "manifest.jsonl").write_bytes(content)
    for work in (lambda: answer_fleet(into), lambda: read(folder, into, unit_from=BY_NAME)):
        with pytest.raises(InputError) as error:
            work()
        assert len(said(error).splitlines()) == 1


def test_a_line_cut_off_by_a_crash_is_read_again(folder: Path, tmp_path: Path) -> None:
    into = tmp_path / "out"
    read(folder, into, unit_from=BY_NAME)
    listing = into / "manifest.jsonl"
    listing.write_bytes(listing.read_bytes()[:-20])
    done = read(folder, into, unit_from=BY_NAME)
    assert (done.read, done.known) == (1, 2)
    lines = [json.loads(line) for line in listing.read_bytes().splitlines()]
    assert len(lines) == 4


def test_figures_give_heat_work_and_fuel(folder: Path, tmp_path: Path) -> None:
    into = tmp_path / "out"
    read(folder, into, unit_from=BY_NAME, figures=(1.1, 0.5, 120.0, 18e3, 219.91))
    line = fleet_data(answer_fleet(into))["lines"][0]
    rpm = 1250.0 * 1.1
    assert line["fan_energy_mj"]["value"] == pytest.approx(18e3 * (rpm / 2100.0) ** 3 * 100 / 1e6, rel=1e-3)
    assert line["slip_energy_mj"]["value"] > 0
    assert line["fuel_l"]["value"] > 0
    days = polars.read_parquet(into / "days" / "unit=201" / "**" / "*.parquet")
    assert days["fuel_l"][0] == pytest.approx(line["fuel_l"]["value"], abs=1e-6)


def test_an_address_of_another_kind(tmp_path: Path, folder: Path) -> None:
    """A file:// address goes through the same door as a bucket: fetched, read, thrown away."""
    done = read(f"file://{folder}", tmp_path / "out", unit_from=BY_NAME)
    assert (done.read, done.failures) == (3, ())
    again = read(f"file://{folder}", tmp_path / "out", unit_from=BY_NAME)
    assert (again.read, again.known) == (0, 3)
