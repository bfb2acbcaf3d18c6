"""Several recordings of one truck: each second counted once, whatever their formats and clocks are."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fanwright.errors import FileError
from fanwright.evidence.recording import RecordingResult, read_recording
from fanwright.evidence.recording.clocks import clock_apart_us
from fanwright.evidence.recording.signals import RPM
from fanwright.evidence.recording.spans import Spans
from fanwright.evidence.recording.traffic import Series
from fanwright.virtual.traffic import Day, DayStory, make_day

Write = Callable[[str | bytes, str], Path]


@pytest.fixture(scope="module")
def day() -> Day:
    return make_day(DayStory(7, 1.0, "town", 27.0, "set_ac_time_short", engine_every_s=0.5))


@pytest.fixture(scope="module")
def other_day() -> Day:
    return make_day(DayStory(8, 1.0, "line_haul", 27.0, "no_fault", engine_every_s=0.5))


def second_of(line: str, day: Day) -> float:
    return float(line[1:18]) - day.story.begin.timestamp()


def log_of(day: Day, first_s: float, last_s: float, shift_s: float = 0.0) -> str:
    begin = day.story.begin.timestamp()
    kept = []
    for line in day.lines:
        second = second_of(line, day)
        if first_s <= second < last_s:
            kept.append(f"({begin + second + shift_s:017.6f}" + line[18:])
    return "".join(kept)


def rows_of(day: Day, first_s: int, last_s: int, zero_s: float | None = None, unit: str = "") -> str:
    begin = round(day.story.begin.timestamp()) if zero_s is None else zero_s
    lines = ["time [s],fan told on,reason,engine speed [rpm],coolant [C]" + (",unit" if unit else "")]
    for number, one in enumerate(day.seconds[first_s:last_s], first_s):
        cells = [
            begin + number,
            int(bool(one.reason)),
            one.reason,
            one.rpm,
            one.coolant_c,
            *([unit] * bool(unit)),
        ]
        lines.append(",".join(map(str, cells)))
    return "\n".join(lines) + "\n"


def notes(result: RecordingResult) -> str:
    return " | ".join(one.template for one in result.evidence.notes)


def table(result: RecordingResult, abs_s: float = 1e-6) -> list[Any]:
    return [
        (pytest.approx(run.start_s, abs=abs_s), pytest.approx(run.end_s, abs=abs_s), run.reason)
        for run in result.runs
    ]


def plain(result: RecordingResult) -> list[Any]:
    return [(run.start_s, run.end_s, run.reason) for run in result.runs]


@pytest.mark.parametrize(
    "cuts",
    [
        [(0, 3600), (1000, 2000)],
        [(0, 2000), (1000, 3600)],
        [(1500, 3600), (0, 2000), (300, 500)],
        [(0, 1200), (1200, 2400), (2400, 3600)],
        [(0, 1805), (1800, 3600), (0, 1805)],
    ],
)
def test_each_second_of_a_log_counts_once(day: Day, cuts: list[tuple[int, int]], written: Write) -> None:
    whole = read_recording([written(day.text(), "whole.log")])
    paths = [written(log_of(day, *cut), f"{number}.log") for number, cut in enumerate(cuts)]
    merged = read_recording(paths)
    assert plain(merged) == table(whole)
    assert merged.engine_on_s == pytest.approx(whole.engine_on_s, abs=0.01)
    assert merged.fan_known_s == pytest.approx(whole.fan_known_s, abs=0.01)
    assert merged.span_s == pytest.approx(whole.span_s, abs=0.01)
    covered = sum(last - first for first, last in cuts)
    assert merged.overlap_s == pytest.approx(covered - 3600, abs=5.0)
    assert (merged.overlap_s > 0) == ("counted once" in notes(merged))


def test_a_second_log_fills_the_gap_of_the_first(day: Day, written: Write) -> None:
    whole = read_recording([written(day.text(), "whole.log")])
    one = written(log_of(day, 0, 1000) + log_of(day, 2000, 3600), "a.log")
    two = written(log_of(day, 900, 2100), "b.log")
    merged = read_recording([one, two])
    assert plain(merged) == table(whole)
    assert merged.overlap_s == pytest.approx(200.0, abs=3.0)


def test_two_loggers_that_hear_different_messages_make_one_recording(day: Day, written: Write) -> None:
    whole = read_recording([written(day.text(), "whole.log")])
    fan = written("".join(line for line in day.lines if "18FEBD00" in line), "fan.log")
    rest = written("".join(line for line in day.lines if "18FEBD00" not in line), "rest.log")
    assert not read_recording([rest]).told
    assert plain(read_recording([fan, rest])) == table(whole)


def test_telemetry_fills_in_beside_a_log(day: Day, written: Write) -> None:
    whole = read_recording([written(rows_of(day, 0, 3600), "whole.csv")])
    log = written(log_of(day, 1000, 2000), "a.log")
    rows = written(rows_of(day, 0, 3600), "a.csv")
    merged = read_recording([log, rows])
    assert merged.overlap_s == pytest.approx(1000.0, abs=3.0)
    assert merged.fan_on_s == pytest.approx(whole.fan_on_s, abs=5.0)
    assert merged.engine_on_s == pytest.approx(whole.engine_on_s, abs=5.0)
    assert merged.span_s == pytest.approx(3599.0, abs=5.0)


@pytest.mark.parametrize("cuts", [[(0, 2000), (1000, 3600)], [(0, 3600), (7, 2000)], [(0, 900), (900, 3600)]])
def test_tables_of_one_truck(day: Day, cuts: list[tuple[int, int]], written: Write) -> None:
    whole = read_recording([written(rows_of(day, 0, 3600), "whole.csv")])
    merged = read_recording([written(rows_of(day, *cut), f"{n}.csv") for n, cut in enumerate(cuts)])
    assert plain(merged) == table(whole)
    assert merged.engine_on_s == whole.engine_on_s
    assert merged.span_s == whole.span_s


def test_a_table_of_its_own_zero_is_laid_where_its_engine_speed_fits(day: Day, written: Write) -> None:
    log = written(log_of(day, 0, 3000), "a.log")
    rows = written(rows_of(day, 600, 3600, zero_s=0), "a.csv")
    merged = read_recording([log, rows])
    assert "its engine speed shows where it belongs" in notes(merged)
    whole = read_recording([written(day.text(), "whole.log")])
    assert merged.engine_on_s == pytest.approx(whole.engine_on_s, abs=3.0)
    assert merged.fan_on_s == pytest.approx(whole.fan_on_s, abs=6.0)
    assert merged.overlap_s == pytest.approx(2400.0, abs=5.0)


@pytest.mark.parametrize("shift_s", [-1777.0, 37.4, 1013.0])
def test_a_clock_that_is_wrong_is_set_and_said(day: Day, shift_s: float, written: Write) -> None:
    whole = read_recording([written(day.text(), "whole.log")])
    one = written(day.text(), "a.log")
    two = written(log_of(day, 500, 3600, shift_s), "b.log")
    merged = read_recording([one, two])
    assert "as the engine speeds show" in notes(merged)
    assert merged.fan_on_s == pytest.approx(whole.fan_on_s, abs=2.0)
    assert merged.engine_on_s == pytest.approx(whole.engine_on_s, abs=2.0)


def test_unlike_clocks_that_fit_nowhere_are_counted_apart_and_said(
    day: Day, other_day: Day, written: Write
) -> None:
    log, rows = written(day.text(), "a.log"), written(rows_of(other_day, 0, 3600, zero_s=0), "b.csv")
    merged = read_recording([log, rows])
    alone = [read_recording([path]) for path in (log, rows)]
    assert "counted by itself" in notes(merged)
    assert merged.overlap_s == 0.0
    assert merged.fan_on_s == pytest.approx(sum(one.fan_on_s for one in alone))


def test_two_trucks_at_one_time_are_refused(day: Day, other_day: Day, written: Write) -> None:
    with pytest.raises(FileError, match="two trucks, or a clock that is wrong"):
        read_recording([written(day.text(), "a.log"), written(other_day.text(), "b.log")])


def test_trucks_that_name_themselves_are_refused(written: Write) -> None:
    paths = [
        written(
            make_day(DayStory(n, 0.2, vehicle_number=f"DEMO000000000021{n}", engine_every_s=0.5)).text(),
            f"{n}.log",
        )
        for n in (4, 5)
    ]
    with pytest.raises(FileError, match="of two trucks") as refused:
        read_recording(paths)
    assert not any(
        "DEMO" in str(value.value) for one in refused.value.messages for value in one.values.values()
    )


def test_tables_of_different_units_are_refused(day: Day, written: Write) -> None:
    one, two = (
        written(rows_of(day, 0, 900, unit="214"), "a.csv"),
        written(rows_of(day, 900, 1800, unit="77"), "b.csv"),
    )
    with pytest.raises(FileError, match="is of unit"):
        read_recording([one, two])


def test_a_clock_set_back_in_one_of_several_stays_apart(day: Day, written: Write) -> None:
    back = written(log_of(day, 0, 600) + log_of(day, 600, 1200, -3600.0), "a.log")
    after = written(log_of(day, 2000, 3000), "b.log")
    merged = read_recording([back, after])
    assert merged.engine_on_s == pytest.approx(2200.0, abs=3.0)


# --- Spans and clocks -------------------------------------------------------------------------------------

LISTS = st.lists(st.tuples(st.integers(0, 60), st.integers(1, 9)), max_size=6)


def spans_of(pairs: list[tuple[int, int]]) -> Spans:
    starts = np.array([first for first, _ in pairs], np.int64)
    return (
        Spans.union(
            [Spans(starts[n : n + 1], starts[n : n + 1] + length) for n, (_, length) in enumerate(pairs)]
        )
        if pairs
        else Spans(starts, starts)
    )


@settings(deadline=None)
@given(one=LISTS, other=LISTS)
def test_spans_agree_with_sets_of_cells(one: list[tuple[int, int]], other: list[tuple[int, int]]) -> None:
    cells = [{at for first, length in pairs for at in range(first, first + length)} for pairs in (one, other)]
    a, b = spans_of(one), spans_of(other)
    assert a.total_us == len(cells[0])
    assert a.common(b).total_us == len(cells[0] & cells[1])
    assert Spans.union([a, b]).total_us == len(cells[0] | cells[1])


def test_engine_speeds_that_only_idle_or_differ_prove_nothing() -> None:
    chance = np.random.default_rng(3)
    time = 1_000_000 * np.arange(3600)
    idle = Series(time, (650 + chance.normal(0, 5, 3600)) * RPM, 0)
    assert clock_apart_us(idle, Series(time + 5_000_000, idle.value, 0)) is None
    walk = [
        Series(time, (1200 + 200 * np.sin(np.cumsum(chance.normal(0, 0.1, 3600)))) * RPM, 0) for _ in range(2)
    ]
    assert clock_apart_us(*walk) is None
    later = Series(walk[0].time_us[800:] + 123_400_000, walk[0].value[800:], 0)
    assert clock_apart_us(walk[0], later) == pytest.approx(-123_400_000, abs=200_000)
