"""One contract for every format: the same frames in, the same frames and runs out.

Where python-can can write a format, its writer is the outside check; else the text is written here.
"""

from __future__ import annotations

import datetime as dt
import gzip
import itertools
import random
import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing
from pathlib import Path
from typing import Any, ClassVar

import can
import numpy as np
import polars as pl
import pytest

from fanwright.errors import FileError
from fanwright.evidence.recording.formats import format_of, formats
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.reader import read_recording
from fanwright.evidence.recording.signals import STANDARD
from fanwright.evidence.recording.source import Source

START_S = 1_790_000_000.5
SAMPLES = Path(__file__).parents[1] / "data" / "recordings"


def story() -> list[can.Message]:
    """Two minutes with the fan told on from 40 s to 70 s, and everything a bus carries beside it."""
    found = []
    for tenth in range(1200):
        time = tenth / 10
        found.append(_message(time, 0x0CF00400, "FFFFFF802EFFFFFF"))
        if tenth % 10 == 0:
            on = 40 <= time < 70
            found.append(_message(time + 0.001, 0x18FEBD00, "FAF4FFFFFFFFFFFF" if on else "00F0FFFFFFFFFFFF"))
            found.append(_message(time + 0.002, 0x18FEEE00, "7DFFFFFFFFFFFFFF"))
        if tenth % 100 == 50:
            found.append(_message(time + 0.003, 0x123, "0102", extended=False))
            found.append(_message(time + 0.004, 0x18FF0117, "010203"))
    return found


def _message(time: float, ident: int, data: str, *, extended: bool = True) -> can.Message:
    return can.Message(
        timestamp=START_S + time,
        arbitration_id=ident,
        is_extended_id=extended,
        data=bytes.fromhex(data),
        channel=0,
        is_rx=True,
    )


class Contract:
    """What every format must do; a subclass says how a file is written and what the format cannot carry."""

    name: ClassVar[str]
    precision_s: ClassVar[float] = 1e-6
    absolute: ClassVar[bool] = True
    clock: ClassVar[str] = "absolute"
    carries_errors: ClassVar[bool] = False
    sample: ClassVar[str] = ""
    can_be_cut: ClassVar[bool] = True
    can_be_packed: ClassVar[bool] = True

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        raise NotImplementedError

    @pytest.fixture
    def file(self, tmp_path: Path) -> Path:
        path = tmp_path / "recording.bin"
        self.write(story(), path)
        return path

    def test_is_found_by_content_alone(self, file: Path) -> None:
        assert self.name == format_of(Source(file)).NAME

    def test_same_frames(self, file: Path) -> None:
        intake = Intake({group: stream.number for group, stream in STANDARD.streams.items()})
        source = Source(file)
        format_of(source).read(source, intake)
        tally, columns = intake.tally(), intake.columns()
        messages = story()
        wanted = [one for one in messages if one.is_extended_id and one.arbitration_id != 0x18FF0117]
        assert tally.frames == len(messages)
        assert tally.frames_used == len(wanted)
        assert tally.short_identifier == 12
        assert tally.lines_unread == 0
        assert columns.ident.tolist() == [one.arbitration_id for one in wanted]
        assert columns.payload.tolist() == [int.from_bytes(one.data, "little") for one in wanted]
        time = columns.time_us / 1e6
        expected = np.array([one.timestamp for one in wanted])
        shift = 0.0 if self.absolute else expected[0] - time[0]
        assert np.abs(time + shift - expected).max() <= self.precision_s

    def test_same_runs(self, file: Path) -> None:
        result = read_recording([file])
        assert [run.reason for run in result.runs] == ["coolant"]
        assert result.fan_on_s == pytest.approx(30.0, abs=2 * self.precision_s)
        assert result.engine_on_s == pytest.approx(119.9, abs=0.01)
        assert result.files[0].clock == self.clock

    def test_packed(self, file: Path) -> None:
        if not self.can_be_packed:
            return
        plain = read_recording([file])
        file.write_bytes(gzip.compress(file.read_bytes()))
        packed = read_recording([file])
        assert packed.runs == plain.runs
        assert packed.files[0].tally == plain.files[0].tally

    @pytest.mark.parametrize("keep", [0.999, 0.75, 0.31])
    def test_a_cut_file_keeps_what_is_there(self, file: Path, keep: float) -> None:
        if not self.can_be_cut:
            return
        raw = file.read_bytes()
        file.write_bytes(raw[: int(len(raw) * keep)])
        tally = read_recording([file]).files[0].tally
        assert 0 < tally.frames <= len(story())

    def test_errors_are_counted(self, tmp_path: Path) -> None:
        if not self.carries_errors:
            return
        path = tmp_path / "errors.bin"
        bad = can.Message(timestamp=START_S + 1.0, is_error_frame=True, channel=0)
        self.write([*story()[:20], bad, *story()[20:]], path)
        tally = read_recording([path]).files[0].tally
        assert tally.error_frames == 1
        assert tally.frames == len(story())

    @pytest.mark.parametrize("damage", ["empty", "head only", "cut", "zeros", *range(12)])
    def test_damaged_twins_are_read_or_refused_in_one_line(self, file: Path, damage: str | int) -> None:
        raw = bytearray(file.read_bytes())
        if isinstance(damage, int):
            chance = random.Random(damage)
            for _ in range(1 + damage):
                raw[chance.randrange(len(raw))] = chance.randrange(256)
        else:
            keep = {"empty": 0, "head only": 40, "cut": 2 * len(raw) // 3, "zeros": len(raw) // 2}[damage]
            rest = len(raw) - keep
            raw[keep:] = b"\0" * rest if damage == "zeros" else b""
        file.write_bytes(raw)
        refused: FileError | None = None
        try:
            result = read_recording([file])
        except FileError as error:
            refused = error
        if refused is not None:
            assert len(refused.messages) == 1
            assert "\n" not in str(refused.messages[0].values)
            return
        assert result.files[0].tally.frames <= 2 * len(story())
        assert result.fan_on_s <= result.fan_known_s + 1e-6

    def test_sample(self) -> None:
        if not self.sample:
            return
        result = read_recording([SAMPLES / self.sample])
        assert result.files[0].format == self.name
        assert [run.reason for run in result.runs] == ["coolant"]


def _by_python_can(writer: Callable[[str], Any], messages: Iterable[can.Message], path: Path) -> None:
    named = path.with_suffix(".tmp")
    with writer(str(named)) as out:
        for message in messages:
            out.on_message_received(message)
    path.write_bytes(named.read_bytes())
    named.unlink()


class TestCandumpLog(Contract):
    name = "candump log"
    carries_errors = True
    sample = "candump_log/short.log"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        _by_python_can(can.CanutilsLogWriter, messages, path)


class TestCandumpScreen(Contract):
    name = "candump screen"
    sample = "candump_screen/short.txt"

    def stamp(self, message: can.Message, before: float) -> str:
        return f"({message.timestamp:.6f})"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        lines, before = [], START_S
        for one in messages:
            ident = f"{one.arbitration_id:08X}" if one.is_extended_id else f"{one.arbitration_id:03X}"
            data = one.data.hex(" ").upper()
            lines.append(f" {self.stamp(one, before)}  can1  {ident:>8}   [{len(one.data)}]  {data}\n")
            before = one.timestamp
        path.write_text("".join(lines))


class TestCandumpScreenDated(TestCandumpScreen):
    clock = "local"
    sample = ""

    def stamp(self, message: can.Message, before: float) -> str:
        moment = dt.datetime.fromtimestamp(message.timestamp, dt.UTC)
        return f"({moment:%Y-%m-%d %H:%M:%S.%f})"


class TestCandumpScreenZero(TestCandumpScreen):
    clock = "relative"
    absolute = False
    sample = ""

    def stamp(self, message: can.Message, before: float) -> str:
        return f"({message.timestamp - START_S:010.6f})"


class TestCandumpScreenDifferences(TestCandumpScreenZero):
    precision_s = 0.002

    def stamp(self, message: can.Message, before: float) -> str:
        return f"({message.timestamp - before:010.6f})"


class TestAsc(Contract):
    name = "ASC"
    clock = "local"
    precision_s = 2e-5
    carries_errors = True
    absolute = False
    sample = "asc/short.asc"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        _by_python_can(can.ASCWriter, messages, path)


class TestAscDecimal(TestAsc):
    carries_errors = False
    clock = "relative"
    sample = ""

    def lines(self, messages: Iterable[can.Message], kind: str) -> Iterable[str]:
        yield f"base dec  timestamps {kind}\nno internal events logged\n"
        before = START_S
        for one in messages:
            time = one.timestamp - (before if kind == "relative" else START_S)
            before = one.timestamp
            data = " ".join(str(byte) for byte in one.data)
            mark = "x" if one.is_extended_id else ""
            yield f"{time:11.6f} 1  {one.arbitration_id}{mark}  Rx   d {len(one.data)} {data}\n"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        path.write_text("".join(self.lines(messages, "absolute")))


class TestAscRelative(TestAscDecimal):
    precision_s = 0.002

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        path.write_text("".join(self.lines(messages, "relative")))


class TestBlf(Contract):
    name = "BLF"
    clock = "local"
    precision_s = 0.0011
    carries_errors = True
    sample = "blf/short.blf"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        _by_python_can(can.BLFWriter, messages, path)


class TestPythonCanTable(Contract):
    name = "table (CSV)"
    sample = "csv_table/short.csv"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        _by_python_can(can.CSVWriter, messages, path)


class TestForeignTable(Contract):
    name = "table (CSV)"
    clock = "relative"
    absolute = False
    header = "n;Time [ms];Tx;network;ID(hex);remote;Xtd;DLC;B1;B2;B3;B4;B5;B6;B7;B8"

    def row(self, number: int, one: can.Message) -> str:
        stamp = f"{(one.timestamp - START_S) * 1000:.3f}".replace(".", ",")
        cells = [f"{byte:02X}" for byte in one.data] + [""] * (8 - len(one.data))
        flag = "T" if one.is_extended_id else "F"
        return ";".join(
            [str(number), stamp, "F", "1", f"{one.arbitration_id:X}", "F", flag, str(len(one.data)), *cells]
        )

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        rows = [self.row(number, one) for number, one in enumerate(messages)]
        preamble = ["some logger", "setup;1;2", ""] * 30
        path.write_bytes("\r\n".join([*preamble, self.header, *rows, ""]).encode("utf-8-sig"))


class TestForeignTableOfDay(TestForeignTable):
    header = "time\tbus\tarb_id\tdata"
    precision_s = 1e-6

    def row(self, number: int, one: can.Message) -> str:
        of_day = (one.timestamp - START_S + 86_340.0) % 86_400.0
        hours, rest = divmod(of_day, 3600)
        ident = f"0x{one.arbitration_id:X}"
        return f"{int(hours):02d}:{int(rest // 60):02d}:{rest % 60:09.6f}\tA\t{ident}\t{one.data.hex(' ')}"


class TestLabelledTable(Contract):
    name = "table (CSV)"
    clock = "relative"
    absolute = False

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        lines = ["; something about a logger \u00b0", "; more"]
        before = START_S
        for one in messages:
            since = round((one.timestamp - before) * 1e6)
            before = one.timestamp
            kind = "idx" if one.is_extended_id else "id"
            data = ",".join(f"{byte:02x}" for byte in one.data)
            lines.append(
                f"{one.timestamp - START_S:.6f},+{since}us,On/Off,CAN (4a8),RX ch:1,Dlc:{len(one.data)},"
                f"{kind}:,{one.arbitration_id:x},data:,{data},"
            )
        path.write_bytes("\n".join(lines).encode("latin-1"))


class TestTrc(Contract):
    name = "TRC"
    clock = "local"
    precision_s = 0.0011
    absolute = False
    sample = "trc/short.trc"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        _by_python_can(can.TRCWriter, messages, path)


class TestTrc20(TestTrc):
    """Lines laid out here, in the order of columns that the header names."""

    precision_s = 1e-6
    sample = ""
    version = "2.0"
    days = "46287.0000057870"
    carries_errors = True

    def head(self) -> str:
        return f";$FILEVERSION={self.version}\n;$STARTTIME={self.days}\n;$COLUMNS=N,O,T,I,d,l,D\n;   more\n"

    def line(self, number: int, one: can.Message) -> str:
        offset = f"{(one.timestamp - START_S) * 1000:.3f}"
        if one.is_error_frame:
            return f"{number} {offset} ER        Rx 4 00 00 00 08"
        ident = f"{one.arbitration_id:08X}" if one.is_extended_id else f"{one.arbitration_id:04X}"
        return f"{number} {offset} DT {ident} Rx {len(one.data)} {one.data.hex(' ').upper()}"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        lines = [self.line(number, one) for number, one in enumerate(messages, 1)]
        path.write_bytes((self.head() + "\r\n".join(lines) + "\r\n").encode("latin-1"))

    def test_status_lines_are_counted_apart(self, tmp_path: Path) -> None:
        path = tmp_path / "a.trc"
        self.write(story(), path)
        path.write_bytes(path.read_bytes() + self.status.encode())
        tally = read_recording([path]).files[0].tally
        assert (tally.status_lines, tally.error_frames, tally.lines_unread) == (2, 0, 1)

    status: ClassVar[str] = "9 1.0 ST    Rx    00 00 00 08\n9 2.0 EC    Rx 01 00\n9 3.0 DT 18FEBD00 Rx 8 00\n"


class TestTrc11(TestTrc20):
    version = "1.1"
    status = "9) 1.0 Warng FFFFFFFF 4 00 00 00 08\n9) 1 Warng FFFFFFFF 4 00\n9) 3.0 Rx 18FEBD00 8 00\n"

    def line(self, number: int, one: can.Message) -> str:
        offset = f"{(one.timestamp - START_S) * 1000:.3f}"
        kind, ident = ("Error", "0008") if one.is_error_frame else ("Rx", f"{one.arbitration_id:04X}")
        if one.is_extended_id and not one.is_error_frame:
            ident = f"{one.arbitration_id:08X}"
        return f"{number:6}) {offset:>12} {kind:<5} {ident:>8} {len(one.data)} {one.data.hex(' ').upper()}"


class TestTrc13(TestTrc11):
    version = "1.3"
    status = (
        "9) 1.0 1 Warng FFFFFFFF - 4 00 00 00 08\n9) 1 1 Warng FFFFFFFF - 4 00\n9) 3.0 1 Rx 18FEBD00 - 8 00\n"
    )

    def line(self, number: int, one: can.Message) -> str:
        head, _, rest = super().line(number, one).partition(") ")
        offset, kind, ident, *more = rest.split()
        return f"{head}) {offset} 1 {kind} {ident} - {' '.join(more)}"


class TestTrc10(TestTrc11):
    clock = "relative"
    carries_errors = False
    precision_s = 0.0006

    def head(self) -> str:
        return ";##########\n;   made by some logger\n"

    def line(self, number: int, one: can.Message) -> str:
        ident = f"{one.arbitration_id:08X}" if one.is_extended_id else f"{one.arbitration_id:04X}"
        offset = f"{(one.timestamp - START_S) * 1000:.0f}"
        return f"{number:6}) {offset:>9} {ident:>8} {len(one.data)} {one.data.hex(' ').upper()}"

    def test_status_lines_are_counted_apart(self, tmp_path: Path) -> None:
        """This version has none."""


FIELDS = (
    ("BusChannel", "<u1"), ("ID", "<u4"), ("IDE", "<u1"), ("DLC", "<u1"), ("DataLength", "<u1"),
    ("DataBytes", "(8,)u1"), ("Dir", "<u1"),
)  # fmt: skip


def mf4_group(kind: str, messages: list[can.Message], channel: int) -> Any:
    from asammdf import Signal
    from asammdf import Source as AcquisitionSource

    rows = np.zeros(len(messages), np.dtype([(f"{kind}.{name}", *rest) for name, *rest in FIELDS]))
    for row, one in zip(rows, messages, strict=True):
        data = list(bytes(one.data).ljust(8, b"\xaa")[:8])
        size = len(one.data)
        values = (channel, one.arbitration_id, one.is_extended_id, size, size, data, not one.is_rx)
        for (name, *_), value in zip(FIELDS, values, strict=True):
            row[f"{kind}.{name}"] = value
    source = AcquisitionSource(
        f"CAN{channel}", f"CAN{channel}", "", AcquisitionSource.SOURCE_BUS, AcquisitionSource.BUS_TYPE_CAN
    )
    return Signal(rows, np.array([one.timestamp - MF4_START_S for one in messages]), name=kind, source=source)


MF4_START_S = 1_789_999_000.0


def write_mf4(groups: list[Any], path: Path, signals: Iterable[Any] = ()) -> None:
    from asammdf import MDF

    with MDF(version="4.10") as mdf:
        mdf.start_time = dt.datetime.fromtimestamp(MF4_START_S, dt.UTC)
        for group in [*groups, *signals]:
            mdf.append([group], common_timebase=True)
        named = path.with_suffix(".mf4")
        mdf.save(named, overwrite=True, compression=2)
    named.replace(path)


class TestMf4(Contract):
    """Groups of several kinds; asammdf puts their description last, so a cut file has none."""

    name = "MF4"
    can_be_cut = False
    carries_errors = True
    sample = "mf4/short.mf4"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        data = [one for one in messages if not one.is_error_frame]
        groups = [mf4_group("CAN_DataFrame", data[0::2], 1), mf4_group("CAN_DataFrame", data[1::2], 1)]
        errors = [one for one in messages if one.is_error_frame]
        if errors:
            groups.append(mf4_group("CAN_ErrorFrame", errors, 1))
        write_mf4(groups, path)


class TestMf4ByPythonCan(TestMf4):
    clock = "local"
    absolute = False
    sample = ""

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        named = path.with_suffix(".mf4")
        with can.MF4Writer(named) as out:
            for message in messages:
                out.on_message_received(message)
        named.replace(path)


class TestParquetFrames(Contract):
    """Parquet has its description last, so a cut file has none."""

    name = "frames (Parquet)"
    can_be_cut = can_be_packed = False
    carries_errors = True
    sample = "parquet_frames/short.parquet"

    def columns(self, messages: list[can.Message]) -> dict[str, Any]:
        return {
            "time": pl.Series([round(one.timestamp * 1e6) for one in messages]).cast(
                pl.Datetime("us", "UTC")
            ),
            "id": [one.arbitration_id for one in messages],
            "extended": [one.is_extended_id for one in messages],
            "data": [bytes(one.data) for one in messages],
            "channel": ["can0"] * len(messages),
            "error": [one.is_error_frame for one in messages],
        }

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        pl.DataFrame(self.columns(list(messages))).write_parquet(path, row_group_size=500)


class TestParquetFramesAsText(TestParquetFrames):
    clock = "relative"
    absolute = False
    carries_errors = False
    sample = ""

    def columns(self, messages: list[can.Message]) -> dict[str, Any]:
        return {
            "Time [ms]": [(one.timestamp - START_S) * 1e3 for one in messages],
            "arb_id": [f"0x{one.arbitration_id:x}" for one in messages],
            "dlc": [len(one.data) for one in messages],
            "payload": [one.data.hex(" ") for one in messages],
        }


class TestSqlite(Contract):
    name = "SQLite"
    can_be_cut = can_be_packed = False
    precision_s = 2e-6
    sample = "sqlite/short.db"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        # The writer of python-can 4.6 loses its last buffer when it is stopped, so its table is filled here.
        with closing(sqlite3.connect(path)) as base, base:
            base.execute(
                "CREATE TABLE messages (ts REAL, arbitration_id INTEGER, extended INTEGER, remote INTEGER, "
                "error INTEGER, dlc INTEGER, data BLOB)"
            )
            base.executemany(
                "INSERT INTO messages VALUES (?, ?, ?, 0, 0, ?, ?)",
                [
                    (one.timestamp, one.arbitration_id, one.is_extended_id, len(one.data), bytes(one.data))
                    for one in messages
                ],
            )


def test_every_format_has_its_contract() -> None:
    classes = {one.name for one in _all_contracts(Contract)}
    assert classes >= {one.NAME for one in formats()}


def _all_contracts(base: type[Contract]) -> set[type[Contract]]:
    return set(itertools.chain.from_iterable({one, *_all_contracts(one)} for one in base.__subclasses__()))
