"""Reading the files of loggers, sound and damaged."""

from __future__ import annotations

import contextlib
import time as clock

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fanwright.errors import FanwrightError, FileError
from fanwright.evidence.trace import read_trace
from fanwright.evidence.trace.reader import read_file

PSI = 6894.757293168
ROWS = [(0.0, 118.0, 0.0, 0), (0.25, 118.5, 0.5, 1), (0.5, 117.0, 60.25, 1), (0.75, 118.0, 99.5, 1)]


def put(tmp_path, content: bytes | str):
    path = tmp_path / "trace.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def refused(tmp_path, content, **more) -> list[str]:
    with pytest.raises(FileError) as caught:
        read_file(put(tmp_path, content), **more)
    return [message.template for message in caught.value.messages]


def table(header: str, separator: str = ",", comma: bool = False, end: str = "\n", moments=None) -> str:
    lines = [header]
    for number, row in enumerate(ROWS):
        first = moments[number] if moments else str(row[0])
        cells = [first, *(str(cell) for cell in row[1:])]
        lines.append(separator.join(cell.replace(".", ",") if comma else cell for cell in cells))
    return end.join(lines) + end


@pytest.mark.parametrize(
    "content",
    [
        table("time [s],supply [psi],drive [psi],command"),
        table("Time [S], SUPPLY (psi) ,Drive[PSI],Command"),
        table("time [s];supply [psi];drive [psi];command", ";", comma=True),
        table("time [s]\tsupply [psi]\tdrive [psi]\tcommand", "\t", comma=True),
        table("time [s];supply [psi];drive [psi];command;", ";"),
        table("time [s],supply [psi],drive [psi],command", end="\r\n"),
        table("time [s],supply [psi],drive [psi],command", end="\r"),
        "\ufeff" + table("time [s],supply [psi],drive [psi],command"),
        "made by a logger\nserial 12\n\n" + table("time [s],supply [psi],drive [psi],command"),
        '"time [s]","supply [psi]","drive [psi]","command"\n"0","118","0","0"\n"0.25","118.5","0.5","1"\n'
        '"0.5","117","60.25","1"\n"0.75","118","99.5","1"\n',
        table(
            "time,supply [psi],drive [psi],command",
            moments=["23:59:59.5", "23:59:59.75", "00:00:00", "0:00:00.25"],
        ),
        table(
            "time,supply [psi],drive [psi],command",
            moments=[
                "2028-02-28T23:59:59.5",
                "2028-02-28 23:59:59.75",
                "2028-02-29T00:00:00Z",
                "2028/02/29 00:00:00.25",
            ],
        ),
        table("time [ms],supply [psi],drive [psi],command", moments=["1e3", "1250", "1500.0", "+1750"]),
        table("time [s],supply [psi],drive [psi],command").rstrip("\n"),
    ],
)
def test_one_trace_written_in_many_ways_reads_the_same(tmp_path, content):
    found = read_file(put(tmp_path, content))
    assert found.time_s.tolist() == pytest.approx([0.0, 0.25, 0.5, 0.75])
    assert (found.supply_gauge_pa / PSI).tolist() == pytest.approx([118.0, 118.5, 117.0, 118.0])
    assert (found.drive_gauge_pa / PSI).tolist() == pytest.approx([0.0, 0.5, 60.25, 99.5])
    assert found.air_sent.tolist() == [False, True, True, True]
    assert found.shut is None


def test_latin_1_and_columns_nobody_asked_for(tmp_path):
    content = "Prüfer;time [s];drive [bar];Notiz °C\nJörg;0;0,5;warm ±1\nJörg;1;1,5;kalt\nJörg;2;2,5;\n"
    found = read_file(put(tmp_path, content.encode("latin-1")))
    assert found.drive_gauge_pa.tolist() == pytest.approx([0.5e5, 1.5e5, 2.5e5])


def test_columns_by_their_own_names(tmp_path):
    content = "t[ms],P1 [bar],P2,x\n0,8,0,1\n100,8,1,1\n200,8,2,1\n"
    named = {"time": "t[ms]", "drive": "P2[psi]", "supply": "p1"}
    found = read_file(put(tmp_path, content), named)
    assert found.time_s.tolist() == pytest.approx([0.0, 0.1, 0.2])
    assert (found.drive_gauge_pa / PSI).tolist() == pytest.approx([0.0, 1.0, 2.0])
    assert found.supply_gauge_pa.tolist() == [8e5] * 3


def test_a_column_said_to_be_in_another_unit_than_its_header_is_refused(tmp_path):
    assert (
        "said to be in"
        in refused(tmp_path, "time [s],P2 [bar]\n0,1\n1,2\n2,3\n", columns={"drive": "P2[psi]"})[0]
    )


@pytest.mark.parametrize(
    ("content", "part"),
    [
        (b"", "is empty"),
        (b"\n \n", "is empty"),
        ("time [s],drive [psi]\n", "no rows of numbers"),
        ("time [s],drive [psi]", "no rows of numbers"),
        ("time [s],supply [psi]\n0,1\n", "no column for {role}"),
        ("time [s],drive\n0,1\n", "has no unit"),
        ("time,drive [psi]\n0,1\n", "has no unit"),
        ("time [s],drive [furlong]\n0,1\n", "which is not one of"),
        ("time [s],drive [psia]\n0,1\n", "absolute"),
        ("time [s],drive [psi],drive [bar]\n0,1,2\n", "columns are meant for"),
        (b"time [s],drive [psi]\n\x00\x01\x02", "not a text file"),
        (b"PK\x03\x04zip", "not a text file"),
        ("time [s],drive [psi]\n0,a\n1,b\n2,3\n", "cannot be read as numbers"),
        ("time [s],drive [bar]\n0,5,1,5\n1,5,2,5\n2,5,3,5\n", "{hint}"),
        ("time [s],drive [psi]\n0,1\n1,2\n", "fewer than"),
        ("time [s],drive [psi]\n0,nan\n1,inf\n2,\n", "no row holds both"),
        ("time [s],drive [psi]\n3,1\n2,2\n1,3\n0,4\n", "runs backwards"),
        ("time [s],drive [psi]\n1,1\n1,2\n1,3\n1,4\n", "repeat the time stamp"),
        ("time [s],drive [psi]\n" + "9" * 2_000_000, "no line ends"),
    ],
)
def test_a_bad_file_is_refused_in_one_line(tmp_path, content, part):
    found = refused(tmp_path, content)
    assert len(found) == 1
    assert part in found[0]


def test_all_mistakes_of_a_header_are_reported_together(tmp_path):
    named = {"valve": "v", "supply": "P9"}
    assert len(refused(tmp_path, "time,drive [furlong]\n0,1\n", columns=named)) == 4


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    for path in (tmp_path / "nothing.csv", tmp_path):
        with pytest.raises(FileError):
            read_file(path)


def test_oddities_are_counted(tmp_path):
    rows = [f"{number / 100:.2f},118,{number % 7}" for number in range(200)]
    rows[10] = "0.10,118,"
    rows[11] = "0.11,nan,3"
    rows[20] = "0.20,118,abc"
    rows[21] = "garbage"
    rows[30] = rows[29]
    rows[40] = "0.05,118,3"
    rows[50] = "99999,118,3"
    del rows[100:150]
    path = put(tmp_path, "time [s],supply [psi],drive [psi]\n" + "\n".join(rows) + "\n2.00,118")
    found = read_file(path)
    odd = found.oddities
    assert (odd.missing, odd.unread, odd.repeated, odd.backward, odd.gaps) == (2, 2, 1, 2, 1)
    assert odd.longest_gap_s == pytest.approx(0.51)
    assert odd.cut_line
    assert len(found.notes) == 6
    assert found.time_s.size == 150 - 7
    assert np.all(np.diff(found.time_s) > 0)


def test_a_mostly_empty_column_is_not_used_and_that_is_said(tmp_path):
    content = "time [s],supply [psi],drive [psi]\n" + "".join(f"{row},,{row % 3}\n" for row in range(20))
    found = read_file(put(tmp_path, content))
    assert found.supply_gauge_pa is None
    assert found.time_s.size == 20
    assert "mostly empty" in found.notes[0].template


def test_sixty_thousand_rows_are_quick(tmp_path, made):
    story = made.Story(switches=tuple(np.arange(2.0, 56.0, 5.0)), end=60.0)
    path = made.write_csv(tmp_path / "long.csv", story.rows(1000, 0.3, 1), digits=2)
    best = min(_seconds(path) for _ in range(3))
    assert best < 0.6  # 0.17 s on a quiet machine


def _seconds(path) -> float:
    start = clock.perf_counter()
    read_trace(path)
    return clock.perf_counter() - start


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=400))
def test_any_bytes_end_in_a_result_or_a_refusal(tmp_path, content):
    for head in (b"", b"time [s],supply [psi],drive [psi],command,shut\n"):
        with contextlib.suppress(FanwrightError):
            read_trace(put(tmp_path, head + content))


CELL = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True).map(repr),
    st.integers(-5, 200).map(str),
    st.sampled_from(["", "nan", "1e400", "-", "1.2.3", "12:00:01", " 7 ", '"8"', "1 2", "\u00b5"]),
)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.lists(CELL, min_size=3, max_size=5), max_size=40),
    st.sampled_from(["time [s],supply [psi],drive [psi],command,shut", "time,drive [bar],supply [kPa]"]),
    st.booleans(),
)
def test_any_cells_end_in_a_result_or_a_refusal(tmp_path, rows, header, in_order):
    lines = [header]
    for number, row in enumerate(rows):
        lines.append(",".join([str(number / 10), *row[1:]] if in_order else row))
    try:
        result = read_trace(put(tmp_path, "\n".join(lines)))
    except FanwrightError:
        return
    for reading in result.evidence.readings:
        if reading.measured is not None:
            assert np.isfinite([reading.measured.si, reading.measured.sd_si]).all()


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 10**6), st.integers(0, 255), st.integers(0, 3))
def test_one_damaged_byte_never_breaks_a_trace(tmp_path, made, place, byte, kind):
    path = made.write_csv(tmp_path / "sound.csv", made.Story(end=7.0).rows(20, 0.3, 1), digits=2)
    content = bytearray(path.read_bytes())
    place %= len(content)
    if kind == 0:
        content[place] = byte
    elif kind == 1:
        del content[place]
    elif kind == 2:
        content[place:place] = bytes([byte])
    else:
        del content[place:]
    with contextlib.suppress(FanwrightError):
        read_trace(put(tmp_path, bytes(content)))
