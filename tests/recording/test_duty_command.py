"""The command as its user calls it: JSON, table of runs, picture, wrong input."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from fanwright.cli import fanwright, run

Write = Callable[[str | bytes, str], Path]
KEYS = {
    "frames",
    "frames_used",
    "error_frames",
    "lines_unread",
    "span_s",
    "engine_on_s",
    "fan_known_s",
    "runs",
    "fan_on_s",
    "fan_share",
    "by_reason",
    "short_runs",
    "grips_per_hour",
    "slip_energy_mj",
    "fan_energy_mj",
    "fuel_l",
    "air_low_while_on_s",
    "air_low_while_needed_s",
    "fault_codes",
    "cannot_tell",
    "readings",
}


def call(*arguments: object) -> Result:
    return CliRunner().invoke(fanwright, ["duty", *map(str, arguments)])


def code(*arguments: object) -> int:
    return run(lambda: fanwright.main(["duty", *map(str, arguments)], standalone_mode=False))


@pytest.fixture
def log(bus: Any, written: Write) -> Path:
    bus.engine(0, 1200, 1400)
    bus.fan(0, 600, 0)
    bus.fan(600, 640, 11)
    bus.fan(640, 1200, 0)
    bus.every_second(0, 1200, 0x18FEAE30, "FFFF6060FFFFFFFF")
    bus.every_second(0, 1200, 0x18FECA00, "44FF87020501FFFF")
    return written(bus.text() + "damaged\n", "day.log")


def test_json_has_every_key(log: Path) -> None:
    data = json.loads(call(log, "--json").stdout)
    assert set(data) >= KEYS
    assert data["runs"] == 1
    assert data["lines_unread"] == 1
    assert data["by_reason"] == {"air_conditioning": {"runs": 1, "fan_on_s": pytest.approx(40.0)}}
    assert data["slip_energy_mj"] is None
    assert data["air_low_while_needed_s"] is None
    assert [(one["spn"], one["fmi"], one["count"]) for one in data["fault_codes"]] == [(647, 5, 1200)]


def test_json_without_engine_speed(bus: Any, written: Write) -> None:
    bus.fan(0, 100, 4)
    data = json.loads(call(written(bus.text(), "a.log"), "--json").stdout)
    for key in ("engine_on_s", "runs", "fan_on_s", "fan_share", "short_runs", "grips_per_hour"):
        assert data[key] is None, key
    assert any("engine speed" in one for one in data["cannot_tell"])


def test_figures_of_the_drive(log: Path) -> None:
    figures = ("--pulley-ratio", "1.1", "--fan-inertia", "0.5 kg m2", "--clutch-torque", "120 N m")
    data = json.loads(call(log, "--json", *figures, "--fan-power", "18 kW", "--at", "2100 rpm").stdout)
    assert data["slip_energy_mj"] == pytest.approx(0.0069, abs=0.0015)
    assert data["fan_energy_mj"] == pytest.approx(18e3 * (1540 / 2100) ** 3 * 40 / 1e6, rel=1e-3)
    assert data["figures"]["pulley_ratio"] == 1.1


def test_a_preset_gives_figures_and_arrangement(log: Path) -> None:
    data = json.loads(call(log, "--json", "--truck", "line-haul spring-on").stdout)
    assert data["slip_energy_mj"] > 0
    assert data["air_low_while_needed_s"] == 0.0


def test_table_of_runs(log: Path, tmp_path: Path) -> None:
    import polars

    assert code(log, "--runs", tmp_path / "runs.csv") == 0
    assert code(log, "--runs", tmp_path / "runs.parquet") == 0
    rows = list(csv.DictReader((tmp_path / "runs.csv").read_text().splitlines()))
    assert len(rows) == 1
    assert (rows[0]["reason"], rows[0]["open_end"], rows[0]["grip_rpm"]) == (
        "air_conditioning",
        "false",
        "1400.0",
    )
    assert rows[0]["start"].endswith("Z")
    frame = polars.read_parquet(tmp_path / "runs.parquet")
    assert frame.columns == list(rows[0])
    assert frame["duration_s"].to_list() == [40.0]


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_picture(log: Path, tmp_path: Path, ending: str) -> None:
    picture = tmp_path / f"day.{ending}"
    assert code(log, "--plot", picture) == 0
    assert picture.read_bytes().startswith(b"\x89PNG" if ending == "png" else b"<")


def test_text_for_people(log: Path) -> None:
    shown = call(log).stdout
    assert "air conditioning" in shown
    assert "grips" in shown
    assert "measure feed, ground and coil" in shown


def test_all_mistakes_are_named_together(
    log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = (
        *(tmp_path / "none.log", log, "--pulley-ratio", "fast", "--fan-inertia", "3"),
        *("--runs", "x.doc", "--plot", "x.jpg", "--dbc", tmp_path / "none.dbc"),
    )
    assert code(*wrong) == 2
    lines = capsys.readouterr().err.strip().splitlines()
    for word in (
        "none.log",
        "none.dbc",
        "x.doc",
        "x.jpg",
        "--at",
        "--fan-power",
        "--clutch-torque",
        "fast",
        "«3»",
    ):
        assert any(word in line for line in lines), word
    assert not (tmp_path / "x.doc").exists()


def test_truck_and_figures_exclude_each_other(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert code(log, "--truck", "line-haul spring-on", "--at", "2100 rpm") == 2
    assert "not both" in capsys.readouterr().err
    assert code(log, "--truck", "some other") == 2
    assert "neither a preset nor a visit file" in capsys.readouterr().err
