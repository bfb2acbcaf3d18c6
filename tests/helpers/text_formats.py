"""The formats that are text or a logger's own bytes, each under the contract.

Where python-can can write a format, its writer is the outside check; else the text is written here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from pathlib import Path
from typing import ClassVar

import can

from fanwright.evidence.recording.reader import read_recording
from format_contract import START_S, Contract, by_python_can, story


class TestCandumpLog(Contract):
    name = "candump log"
    carries_errors = True
    sample = "candump_log/short.log"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        by_python_can(can.CanutilsLogWriter, messages, path)


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
        by_python_can(can.ASCWriter, messages, path)


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
        by_python_can(can.BLFWriter, messages, path)


class TestPythonCanTable(Contract):
    name = "table (CSV)"
    sample = "csv_table/short.csv"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        by_python_can(can.CSVWriter, messages, path)


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
        by_python_can(can.TRCWriter, messages, path)


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
