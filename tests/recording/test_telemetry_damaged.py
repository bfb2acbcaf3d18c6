"""Telemetry that was cut or damaged, and the two ways to the same runs."""

from __future__ import annotations

import gzip
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from fanwright.errors import FileError
from fanwright.evidence.recording import DriveFigures, RecordingResult, read_recording
from fanwright.evidence.recording.telemetry import RunColumns, runs_of
from fanwright.truck.loader import presets
from telemetry_tables import START_S, csv_of, notes, parquet_of, simple

Write = Callable[[str | bytes, str], Path]


@pytest.mark.parametrize("keep", [0.3, 0.75, 0.999])
@pytest.mark.parametrize("kind", ["csv", "csv.gz", "parquet"])
def test_cut_files(kind: str, keep: float, written: Write) -> None:
    content = csv_of(simple(600)).encode()
    if kind == "csv.gz":
        content = gzip.compress(content)
    elif kind == "parquet":
        content = parquet_of(simple(600))
    path = written(content[: int(keep * len(content))], "cut." + kind)
    if kind == "parquet":
        with pytest.raises(FileError, match="damaged"):
            read_recording([path])
        return
    result = read_recording([path])
    assert 0 < result.files[0].tally.frames <= 600
    if kind == "csv.gz":
        assert "ends early or is damaged" in " ".join(notes(result))


def read_or_refused(path: Path) -> None:
    try:
        result = read_recording([path])
    except FileError:
        return
    assert result.fan_on_s <= result.fan_known_s <= (result.engine_on_s or 0.0) <= result.span_s


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_damaged_text_never_crashes(data: st.DataObject, tmp_path: Path) -> None:
    content = bytearray(csv_of(simple(200)).encode())
    for place in data.draw(st.lists(st.integers(0, len(content) - 1), min_size=1, max_size=6)):
        content[place] = data.draw(st.integers(0, 255))
    path = tmp_path / "bad"
    path.write_bytes(content)
    read_or_refused(path)


# Fixed damage: polars can end the whole process on some damaged pages, which no caller can prevent.
@pytest.mark.parametrize("seed", range(12))
def test_damaged_parquet_is_refused_in_one_line(
    seed: int, written: Write, capfd: pytest.CaptureFixture[str]
) -> None:
    chance = random.Random(seed)
    content = bytearray(parquet_of(simple(200)))
    for _ in range(1 + seed // 2):
        content[chance.randrange(len(content))] = chance.randrange(256)
    read_or_refused(written(bytes(content), "bad.parquet"))
    assert capfd.readouterr().err == ""


# --- The two ways to the same runs ------------------------------------------------------------------------


def same_runs(quick: RunColumns, whole: RecordingResult) -> None:
    runs = whole.runs
    assert (quick.start_us / 1e6).tolist() == [run.start_s for run in runs]
    assert (quick.end_us / 1e6).tolist() == [run.end_s for run in runs]
    assert quick.reasons() == [run.reason for run in runs]
    assert quick.open_start.tolist() == [run.open_start for run in runs]
    assert quick.open_end.tolist() == [run.open_end for run in runs]
    assert quick.fan_known_s == pytest.approx(whole.fan_known_s)
    assert quick.engine_on_s == pytest.approx(whole.engine_on_s)
    assert quick.fan_on_s == pytest.approx(whole.fan_on_s)
    time = {reason: one.fan_on_s for reason, one in whole.by_reason().items() if one.fan_on_s}
    found = {reason: length for reason, length in quick.time_by_reason_s().items() if length}
    assert found == pytest.approx(time)
    for name, values in quick.columns.items():
        wanted = [np.nan if getattr(run, name) is None else getattr(run, name) for run in runs]
        np.testing.assert_allclose(values, wanted, rtol=1e-6, err_msg=name)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10_000), dense=st.booleans())
def test_the_quick_way_finds_the_same_runs(seed: int, dense: bool, tmp_path: Path) -> None:
    chance = np.random.default_rng(seed)
    many = int(chance.integers(2, 120))
    step = chance.choice([1, 1, 1, 1, 2, 3, 4, 30] if dense else [1, 1, 1, 1, 1, 1, 1, 2], many)

    def hold(values: list[float], longest: int) -> Any:
        return np.repeat(chance.choice(values, many), chance.integers(1, longest, many))[:many]

    assume(np.median(np.diff(np.cumsum(step))) <= 2)
    rows = {
        "time [s]": START_S + np.cumsum(step),
        "fan state": hold([0, 0, 0, 4, 4, 11, 15, 2], 7).astype(np.uint8),
        "engine speed [rpm]": hold([1200.0, 1200.0, 0.0, 399.9, 400.0, 900.0 if dense else np.nan], 11),
        "coolant [C]": np.where(chance.random(many) < 0.2, np.nan, chance.normal(90, 5, many)),
        "air [kPa]": np.where(chance.random(many) < 0.2, np.nan, chance.normal(800, 50, many)),
    }
    if dense:
        rows["barometer [kPa]"] = np.full(many, 95.0)
        rows["ambient [C]"] = np.full(many, 33.0)
    path = tmp_path / "rows.parquet"
    pl.DataFrame(rows).write_parquet(path)
    truck = presets()["line-haul spring-on"]
    # Where an engine speed is missing at the end of a run, the two ways fill it differently.
    quick = runs_of(pl.scan_parquet(path), figures=DriveFigures.of(truck) if dense else None)
    same_runs(quick, read_recording([path], truck=truck))


def test_the_quick_way_reads_the_rest_only_where_something_changes() -> None:
    many = 700_000
    rows = simple(many, [(10, 70, 4), (400_000, 400_300, 11)])
    table = pl.DataFrame(rows).with_columns(pl.int_range(many).mul(0.0001).alias("coolant [C]"))
    found = runs_of(table)
    assert found.columns["coolant_on_k"] - 273.15 == pytest.approx([0.001, 40.0])
    assert found.columns["coolant_off_k"] - 273.15 == pytest.approx([0.007, 40.03])
