"""TRC text of versions 1.0 to 2.1; lines of status, counters and errors are counted."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Final

from fanwright.evidence.recording.formats import LOCAL, RELATIVE
from fanwright.evidence.recording.formats._text import (
    Row,
    data_row,
    error_row,
    first_lines,
    hand_on,
    remote_row,
)
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.source import Source
from fanwright.words import Message

NAME: Final = "TRC"
FIRST_DAY: Final = 25_569
"""1970 in days since 1899-12-30."""
DAY_US: Final = 86_400_000_000
LONG: Final = ("FD", "FB", "FE", "BI")
"""Kinds of frames with long data or two bit rates."""
STATUS: Final = ("ST", "EC", "EV", "WARNG", "WARNING")
DIRECTIONS: Final = ("RX", "TX")
LINE_1: Final = re.compile(r"\s*\d+\)\s+\d+(?:\.\d+)?\s")
COLUMNS_2: Final = "NOTIDLD"
HEXADECIMAL: Final = re.compile(r"[0-9A-Fa-f]{1,8}")


@dataclass(frozen=True)
class Head:
    """What the beginning of a file says.

    Args:
        version: Its version; 10 for 1.0.
        begin_us: Start of the recording in an unnamed zone, or None [us].
        columns: Letters of the columns from version 2 on.
    """

    version: int
    begin_us: int | None
    columns: str


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no TRC; None when it may be."""
    lines = first_lines(head, 60)
    said = any(line.startswith((";$FILEVERSION", ";##")) for line in lines)
    remarks = sum(line.startswith(";") for line in lines)
    if said or (remarks and any(LINE_1.match(line) for line in lines)):
        return None
    return Message("it does not begin with ;$FILEVERSION")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a file on and give the kind of its clock."""
    head = _head(first_lines(source.head(), 100))
    hand_on(_rows(source, intake, head), intake)
    return RELATIVE if head.begin_us is None else LOCAL


def _head(lines: list[str]) -> Head:
    version, begin, columns = 10, None, COLUMNS_2
    for line in lines:
        name, _, value = line.removeprefix(";$").partition("=")
        if not line.startswith(";$"):
            continue
        if name == "FILEVERSION" and (found := re.match(r"\s*(\d)\.(\d)", value)):
            version = 10 * int(found[1]) + int(found[2])
        elif name == "STARTTIME":
            begin = _begin_us(value)
        elif name == "COLUMNS":
            columns = value.replace(",", "").strip()
    return Head(version, begin, columns)


def _begin_us(days: str) -> int | None:
    try:
        return int((Decimal(days.strip().replace(",", ".")) - FIRST_DAY) * DAY_US)
    except InvalidOperation:
        return None


Cells = dict[str, str]


def _rows(source: Source, intake: Intake, head: Head) -> Iterator[Row]:
    split: Callable[[list[str], Head], Cells | None] = _of_version_1 if head.version < 20 else _of_version_2
    for raw in source.lines():
        line = raw.decode("latin-1").strip().lstrip("\u00ef\u00bb\u00bf")
        if not line or line.startswith(";"):
            continue
        cells = split(line.split(), head)
        kind = "" if cells is None else cells["T"].upper()
        if kind in STATUS:
            intake.status_lines += 1
            continue
        row = None if cells is None else _row(cells, kind, intake, head.begin_us or 0)
        if row is None:
            intake.unread()
        else:
            yield row


def _of_version_2(words: list[str], head: Head) -> Cells | None:
    """Put the words of a line under the letters of the columns; the data are the rest."""
    if len(words) < 3:
        return None
    cells = {"T": "DT", "B": "1", "d": "Rx", "D": ""}
    for place, letter in enumerate(head.columns):
        if letter == "D":
            cells["D"] = " ".join(words[place:])
        elif place < len(words):
            cells[letter] = words[place]
    return cells


def _of_version_1(words: list[str], head: Head) -> Cells | None:
    """Read ``number) offset [bus] [kind] id [-] length data``; what is there differs by version."""
    if len(words) < 4 or not words[0].endswith(")"):
        return None
    cells = {"N": words[0], "O": words[1], "T": "DT", "B": "1", "d": "Rx"}
    rest = words[2:]
    if head.version >= 12:
        cells["B"] = rest.pop(0)
    if rest and head.version >= 11:
        kind = rest.pop(0)
        cells["d" if kind.upper() in DIRECTIONS else "T"] = "ER" if kind.upper() == "ERROR" else kind
    if len(rest) < 2:
        return None
    cells["I"] = rest.pop(0)
    if rest[0] == "-":
        rest.pop(0)
    cells["L"] = rest[0] if rest else ""
    cells["D"] = " ".join(rest[1:])
    return cells


def _row(cells: Cells, kind: str, intake: Intake, begin_us: int) -> Row | None:
    try:
        time = begin_us + int(Decimal(cells["O"]) * 1_000)
    except (InvalidOperation, KeyError):
        return None
    channel = intake.channel(cells["B"])
    if kind == "ER":
        return error_row(time, channel)
    written = cells.get("I", "")
    if not HEXADECIMAL.fullmatch(written):
        return None
    ident, extended = int(written, 16), len(written) > 4
    if ident > (0x1FFFFFFF if extended else 0x7FF):
        return None
    if kind == "RR" or cells["D"].upper().startswith("RTR"):
        return remote_row(time, ident, channel)
    return _data(cells, kind, time, ident, extended, channel)


def _data(cells: Cells, kind: str, time: int, ident: int, extended: bool, channel: int) -> Row | None:
    size, long = cells.get("L") or cells.get("l") or "", kind in LONG
    try:
        data = bytes.fromhex(cells["D"])
    except ValueError:
        return None
    if not size.isdigit() or kind not in ("DT", *LONG) or (len(data) != int(size) and not long):
        return None
    return data_row(time, ident, extended, data[:8], channel, sent=cells["d"].upper() == "TX", long=long)
