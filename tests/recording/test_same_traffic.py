"""The same traffic in every format gives the same table of runs; damaged in every format, one clear line."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import can
import polars as pl
import pytest

import table_formats
from fanwright.errors import FileError
from fanwright.evidence.recording import RecordingResult, read_recording
from fanwright.evidence.recording.formats import formats
from fanwright.truck.loader import presets
from fanwright.virtual.traffic import Day, DayStory, make_day
from format_contract import START_S, Contract, all_contracts


@pytest.fixture(scope="module")
def day() -> Day:
    return make_day(
        DayStory(7, 0.4, "town", 27.0, "set_ac_time_short", engine_every_s=0.5, fan_sensor=True,
                 begin=dt.datetime.fromtimestamp(math.ceil(START_S), dt.UTC))
    )  # fmt: skip


@pytest.fixture(scope="module")
def messages(day: Day) -> list[can.Message]:
    found = []
    for line in day.lines:
        ident, _, data = line.split()[2].partition("#")
        found.append(
            can.Message(
                timestamp=float(line[1:18]),
                arbitration_id=int(ident, 16),
                is_extended_id=len(ident) == 8,
                data=bytes.fromhex(data),
                channel=0,
                is_rx=True,
            )
        )
    return found


@pytest.fixture(scope="module")
def bus(day: Day, tmp_path_factory: pytest.TempPathFactory) -> RecordingResult:
    path = tmp_path_factory.mktemp("bus") / "day.log"
    path.write_text(day.text())
    return read_recording([path], truck=presets()["line-haul spring-on"])


def tables(one: RecordingResult) -> list[dict[str, Any]]:
    first = one.runs[0].start_s  # formats that count from a zero of their own begin elsewhere
    return [
        {"start": run.start_s - first, "end": run.end_s - first, "reason": run.reason, "rpm": run.grip_rpm,
         "coolant": run.coolant_on_k, "air": run.lowest_air_gauge_pa, "open": (run.open_start, run.open_end)}
        for run in one.runs
    ]  # fmt: skip


def same(found: RecordingResult, bus: RecordingResult, precision_s: float) -> None:
    mine, its = tables(found), tables(bus)
    assert len(mine) == len(its) > 10
    for run, wanted in zip(mine, its, strict=True):
        assert run["start"] == pytest.approx(wanted["start"], abs=2 * precision_s)
        assert run["end"] == pytest.approx(wanted["end"], abs=2 * precision_s)
        assert {key: run[key] for key in run if key not in ("start", "end")} == {
            key: wanted[key] for key in wanted if key not in ("start", "end")
        }
    for name in ("engine_on_s", "fan_known_s", "fan_on_s"):
        assert getattr(found, name) == pytest.approx(
            getattr(bus, name), abs=len(its) * 4 * precision_s + 1e-3
        )
    assert found.slip_energy_j == pytest.approx(bus.slip_energy_j, rel=1e-3)


CONTRACTS = sorted(all_contracts(Contract), key=lambda one: one.__name__)


@pytest.mark.parametrize("contract", CONTRACTS, ids=lambda one: str(one.__name__))
def test_every_format_gives_the_same_runs(
    contract: Any, messages: Iterable[can.Message], bus: RecordingResult, tmp_path: Path
) -> None:
    path = tmp_path / "recording.bin"
    contract().write(messages, path)
    result = read_recording([path], truck=presets()["line-haul spring-on"])
    assert result.files[0].format == contract.name
    same(result, bus, contract.precision_s)


def test_no_format_is_left_out() -> None:
    assert {one.NAME for one in formats()} == {contract.name for contract in CONTRACTS}


def table_of(day: Day) -> pl.DataFrame:
    """The same traffic as a logger of a fleet would put it: the values the bus carried, once a second."""
    begin = round(day.story.begin.timestamp())
    seconds = day.seconds
    return pl.DataFrame(
        {
            "time [s]": [begin + number for number in range(len(seconds))],
            "fan told on": [int(bool(one.reason)) for one in seconds],
            "reason": [one.reason for one in seconds],
            "engine speed [rpm]": [round(one.rpm * 8) / 8 for one in seconds],
            "coolant [C]": [float(round(one.coolant_c)) for one in seconds],
            "air [kPa]": [8.0 * round(one.air_kpa / 8) for one in seconds],
            "ambient [C]": [27.0] * len(seconds),
            "barometer [kPa]": [100.0] * len(seconds),
        }
    )


def as_decoded_mf4(table: pl.DataFrame, path: Path) -> None:
    from asammdf import Signal

    begin = table["time [s]"][0]
    names = [name for name in table.columns if name not in ("time [s]", "reason")]
    numbers = {"coolant": 4, "air_conditioning": 11, "charge_air": 2, "": 0}
    columns = {name: table[name].cast(pl.Float64).to_numpy() for name in names}
    columns["fan state"] = table["reason"].replace_strict(numbers).cast(pl.UInt8).to_numpy()
    del columns["fan told on"]
    seconds = (table["time [s]"] - begin).cast(pl.Float64).to_numpy()
    signals = [
        Signal(values, seconds, name=name.partition(" [")[0], unit=name.partition("[")[2].rstrip("]"))
        for name, values in columns.items()
    ]
    from asammdf import MDF

    with MDF(version="4.10") as mdf:
        mdf.start_time = dt.datetime.fromtimestamp(begin, dt.UTC)
        mdf.append(signals[:3])
        mdf.append(signals[3:])
        mdf.save(path.with_suffix(".mf4"), overwrite=True)
    path.with_suffix(".mf4").replace(path)


TABLES: dict[str, Callable[[pl.DataFrame, Path], Any]] = {
    "telemetry (CSV)": lambda table, path: table.write_csv(path),
    "telemetry (Parquet)": lambda table, path: table.write_parquet(path),
    "telemetry (MF4)": as_decoded_mf4,
}


@pytest.mark.parametrize("name", TABLES)
def test_telemetry_gives_the_same_runs_to_the_message(
    name: str, day: Day, bus: RecordingResult, tmp_path: Path
) -> None:
    """The fan's message comes 10 ms after the second, the others up to 1 s before or after it."""
    path = tmp_path / "rows.bin"
    TABLES[name](table_of(day), path)
    result = read_recording([path], truck=presets()["line-haul spring-on"])
    assert result.files[0].format == name
    assert result.files[0].clock == "absolute"
    assert [run.reason for run in result.runs] == [run.reason for run in bus.runs]
    for run, wanted in zip(result.runs, bus.runs, strict=True):
        assert run.start_s == pytest.approx(wanted.start_s, abs=0.02)
        assert run.end_s == pytest.approx(wanted.end_s, abs=0.02)
        assert run.grip_rpm == wanted.grip_rpm
        assert run.coolant_on_k == pytest.approx(wanted.coolant_on_k, abs=1.0)
    assert result.slip_energy_j == pytest.approx(bus.slip_energy_j, rel=2e-3)
    assert result.fan_energy_j == pytest.approx(bus.fan_energy_j, rel=0.02)


def test_decoded_signals_that_say_nothing_of_the_fan_are_named(tmp_path: Path) -> None:
    from asammdf import Signal

    path = tmp_path / "a.mf4"
    table_formats.write_mf4([], path, [Signal([1.0, 2.0], [0.0, 1.0], name="boost", unit="kPa")])
    with pytest.raises(FileError, match="decoded signals and no frames") as refused:
        read_recording([path])
    assert "boost" in str(refused.value.messages[0].values)


def test_an_unfinished_mf4_is_read_and_said(messages: list[can.Message], tmp_path: Path) -> None:
    path = tmp_path / "a.mf4"
    table_formats.TestMf4().write(messages, path)
    whole = read_recording([path])
    raw = bytearray(path.read_bytes())
    raw[:8], raw[60] = b"UnFinMF ", 1
    path.write_bytes(raw)
    unfinished = read_recording([path])
    assert unfinished.runs == whole.runs
    assert any("not finished by its logger" in note.template for note in unfinished.evidence.notes)
