"""Several recordings of one truck: each second counted once, a run broken in two is one run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import polars
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fanwright.fleet.joining import joined
from fanwright.fleet.model import Days, FileDuty
from fanwright.fleet.reading import duty_of, duty_of_rows
from fanwright.fleet.tables import duty_from, tables_of

START_S = 1_775_451_600


def row_table(runs: list[tuple[int, int, int]], begin: int, seconds: int) -> polars.DataFrame:
    """Rows a second from 2026-04-06 05:00 UTC on, the engine at 1250 r/min throughout."""
    state = np.zeros(seconds, np.int8)
    for start, end, code in runs:
        state[max(start - begin, 0) : max(end - begin, 0)] = code
    return polars.DataFrame(
        {
            "time": polars.Series((np.arange(begin, begin + seconds) + START_S) * 1_000_000).cast(
                polars.Datetime("us", "UTC")
            ),
            "fan state": state,
            "engine speed [rpm]": np.full(seconds, 1250.0),
            "coolant [°C]": np.round(88.0 + 4.0 * np.sin(np.arange(begin, begin + seconds) / 300.0), 1),
            "air [kPa]": np.full(seconds, 800.0),
        }
    )


def file(begin: int, end: int, runs: list[tuple[int, int, int]], key: str = "a") -> FileDuty:
    from fanwright.evidence.recording.telemetry.runs import runs_of

    return duty_of_rows(runs_of(row_table(runs, begin, end - begin)), key)


def sums(days: Days) -> tuple[float, float, float, float]:
    return (
        float(days.engine_on_s.sum()),
        float(days.fan_known_s.sum()),
        float(days.fan_on_s.sum()),
        float(days.grips.sum()),
    )


RUNS = [(100, 200, 4), (500, 620, 11), (900, 990, 2)]


def test_one_recording_is_itself() -> None:
    days = joined([file(0, 1200, RUNS)])
    assert sums(days) == (1199.0, 1199.0, 310.0, 3.0)
    assert {name: float(value.sum()) for name, value in days.reason_on_s.items()} == {
        "coolant": 100.0,
        "air_conditioning": 120.0,
        "charge_air": 90.0,
    }
    assert days.ac_length_s.tolist() == [120.0]
    assert days.overlap_s == 0.0


def test_the_same_recording_twice_counts_once() -> None:
    days = joined([file(0, 1200, RUNS), file(0, 1200, RUNS, "b")])
    assert sums(days) == (1199.0, 1199.0, 310.0, 3.0)
    assert days.overlap_s == 1199.0


@pytest.mark.parametrize("cut", [300, 560, 619, 620, 150])
def test_recordings_that_overlap_make_up_the_whole(cut: int) -> None:
    """The second begins before the first ends; where that lies inside a run, the run stays one."""
    days = joined([file(0, cut + 40, RUNS), file(cut - 40, 1200, RUNS, "b")])
    assert sums(days) == (1199.0, 1199.0, 310.0, 3.0)
    assert days.overlap_s == 79.0
    assert days.ac_length_s.tolist() == [120.0]


def test_a_run_broken_between_recordings_is_one_run() -> None:
    """The logger begins a new file in the middle of a run: 1 s without a row lies between the two."""
    days = joined([file(0, 560, RUNS), file(560, 1200, RUNS, "b")])
    assert sums(days) == (1198.0, 1198.0, 309.0, 3.0)
    assert days.ac_length_s.tolist() == [120.0]


def test_a_run_taken_up_late_is_two_runs_with_open_ends() -> None:
    days = joined([file(0, 540, RUNS), file(560, 1200, RUNS, "b")])
    assert float(days.grips.sum()) == 4.0
    assert days.ac_length_s.tolist() == []


def test_one_recording_inside_another_adds_nothing() -> None:
    inner = file(400, 700, RUNS, "b")
    assert sums(joined([file(0, 1200, RUNS), inner])) == sums(joined([file(0, 1200, RUNS)]))


def with_energy(one: FileDuty, slip_mj: list[float], mj_per_s: list[float]) -> FileDuty:
    length_s = (one.runs.spans.end_us - one.runs.spans.start_us) / 1e6
    energy = {"slip_energy_mj": np.array(slip_mj), "fan_energy_mj": length_s * np.array(mj_per_s)}
    return replace(one, runs=replace(one.runs, numbers={**one.runs.numbers, **energy}))


def test_work_is_shared_out_by_time_and_heat_belongs_to_the_grip() -> None:
    """The run of 120 s is in both recordings, broken off in one and cut at its beginning in the other."""
    first = with_energy(file(0, 560, RUNS), [1.0, 2.0], [0.1, 0.2])
    second = with_energy(file(520, 1200, RUNS, "b"), [8.0, 4.0], [0.2, 0.3])
    days = joined([first, second])
    assert float(days.slip_energy_j.sum()) == pytest.approx(7e6)
    assert float(days.fan_energy_j.sum()) == pytest.approx((10.0 + 24.0 + 27.0) * 1e6)


def test_a_run_over_midnight_counts_in_both_days_but_grips_once() -> None:
    begin = 67_000  # 05:00 and so many seconds: some minutes before midnight UTC
    midnight = 68_400
    days = joined([file(begin, begin + 3000, [(midnight - 100, midnight + 50, 4)])])
    assert days.fan_on_s.tolist() == [100.0, 50.0]
    assert days.grips.tolist() == [1.0, 0.0]


def test_tables_give_the_recording_back() -> None:
    one = file(68_000, 70_000, [(68_100, 68_300, 4), (68_350, 68_500, 11)])
    tables = tables_of(one, energies=False)
    again = duty_from(
        [table for (kind, _), table in tables.items() if kind == "runs"],
        [table for (kind, _), table in tables.items() if kind == "stretches"],
        one.clock,
        one.key,
    )
    assert sums(joined([again])) == sums(joined([one]))
    assert again.runs.reason.tolist() == one.runs.reason.tolist()
    for name, values in one.runs.numbers.items():
        np.testing.assert_allclose(again.runs.numbers[name], values)


def test_columns_and_runs_agree(tmp_path: Path) -> None:
    """The two ways of reading telemetry, with and without figures of the drive, count the same."""
    from fanwright.evidence.recording import read_recording

    path = tmp_path / "a.parquet"
    frame = row_table(RUNS, 0, 1200)
    frame.write_parquet(path)
    slow = duty_of(read_recording([path]))
    fast = file(0, 1200, RUNS)
    assert sums(joined([slow])) == sums(joined([fast]))
    assert slow.runs.reason.tolist() == fast.runs.reason.tolist()
    for name in ("grip_rpm", "coolant_on_c", "coolant_off_c", "lowest_air_kpa"):
        np.testing.assert_allclose(slow.runs.numbers[name], fast.runs.numbers[name], err_msg=name)
    np.testing.assert_allclose(
        slow.runs.numbers["duration_sd_s"], fast.runs.numbers["duration_sd_s"], rtol=0.01
    )


CUTS = st.lists(st.tuples(st.integers(0, 1100), st.integers(60, 600)), min_size=1, max_size=5)


@settings(max_examples=60, deadline=None)
@given(CUTS)
def test_any_cover_counts_each_second_once(cuts: list[tuple[int, int]]) -> None:
    """However the day is cut into recordings, what is counted is what at least one of them knows."""
    files = [
        file(begin, min(begin + long, 1200), RUNS, str(number)) for number, (begin, long) in enumerate(cuts)
    ]
    days = joined(files)
    rows = {second for begin, long in cuts for second in range(begin, min(begin + long, 1200) - 1)}
    on = {second for start, end, _ in RUNS for second in range(start, end)}
    assert float(days.fan_known_s.sum()) == len(rows)
    assert float(days.fan_on_s.sum()) == len(rows & on)
    assert sum(float(value.sum()) for value in days.reason_on_s.values()) == len(rows & on)
    assert float(days.grips.sum()) <= len(files) + len(RUNS)


def test_energies_are_left_out_where_they_are_not_known(make_table: Callable[..., Any]) -> None:
    tables = tables_of(make_table(), energies=False)
    days = next(table for (kind, _), table in tables.items() if kind == "days")
    assert days["fuel_l"].to_list() == [None]
    assert days["fuel_l"].dtype == polars.Float64


@pytest.fixture
def make_table() -> Callable[..., FileDuty]:
    return lambda: file(0, 1200, RUNS)
