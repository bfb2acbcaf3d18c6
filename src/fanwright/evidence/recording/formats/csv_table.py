"""Tables from other programs: columns are found by their names, or fields by their labels."""

from __future__ import annotations

import base64
import binascii
import csv
import datetime as dt
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from fanwright.evidence.recording.formats._text import (
    Row,
    data_row,
    error_row,
    first_lines,
    hand_on,
    microseconds,
    remote_row,
)
from fanwright.evidence.recording.formats.candump_log import EARLIEST_S
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.source import Source
from fanwright.words import Message

NAME: Final = "table (CSV)"
SEPARATORS = (";", "\t", ",")
DAY_US = 86_400_000_000
NAMES: dict[str, tuple[str, ...]] = {
    "time": ("abs", "abstime", "timeabs", "absolutetime", "time", "timestamp", "t", "timestamps", "zeit"),
    "ident": ("id", "arbid", "arbitrationid", "canid", "identifier", "messageid", "msgid", "hexid", "idhex"),
    "extended": ("ext", "extended", "xtd", "ide", "isextended", "extendedid", "frameformat"),
    "length": ("dlc", "len", "length", "datalength", "bytes"),
    "data": ("data", "databytes", "payload", "datahex", "hexdata"),
    "sent": ("dir", "direction", "tx", "rxtx"),
    "channel": ("bus", "channel", "network", "ch", "interface", "port"),
    "remote": ("remote", "rtr"),
    "error": ("er", "err", "error", "errorframe"),
}
UNITS = {"s": 1_000_000, "sec": 1_000_000, "ms": 1_000, "us": 1, "µs": 1, "ns": -1_000}
PACKED_HEADER = ["timestamp", "arbitrationid", "extended", "remote", "error", "dlc", "data"]
"""The header of python-can's own table, whose data are in base 64."""

BYTE = re.compile(r"(?:b|d|byte|data)_?([0-8])")
LABELLED = re.compile(r"(?:^|[,;])\s*(id|idx):\s*[,;]?\s*([0-9A-Fa-f]+)\s*[,;]", re.IGNORECASE)
LABELLED_DATA = re.compile(r"[,;]\s*data:((?:\s*[,;]\s*[0-9A-Fa-f]{2})*)", re.IGNORECASE)
OF_DAY = re.compile(r"(?:(\d{4})-(\d\d)-(\d\d)[T ])?(\d{1,2}):(\d\d):(\d\d(?:[.,]\d+)?)(Z)?")
DECIMAL_COMMA = re.compile(r"\d+,\d+")


@dataclass(frozen=True)
class Table:
    """How one table is laid out.

    Args:
        separator: What stands between cells.
        places: Column by role.
        bytes_at: Columns of single data bytes, in order.
        step: Microseconds for one unit of time; negative: units for a microsecond.
        number_base: 16 or 10.
        packed: Whether data are in base 64.
        header: Which line holds the names of the columns.
    """

    separator: str
    places: dict[str, int]
    bytes_at: tuple[int, ...]
    step: int
    number_base: int
    packed: bool
    header: int


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no such table; None when it may be."""
    lines = _lines(head)
    if _table(lines) is not None or _is_labelled(lines):
        return None
    return Message("no line names columns for time, identifier and data")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a table on and give the kind of its clock."""
    lines = _lines(source.head())
    table = _table(lines)
    seen = _Seen()
    if table is None:
        hand_on(_labelled_rows(source, intake, lines), intake)
    else:
        hand_on(_table_rows(source, intake, table, seen), intake)
    first = intake.tally().first_us
    if seen.dated:
        return "absolute" if seen.utc else "local"
    absolute = first is not None and first >= EARLIEST_S * 1_000_000
    return "absolute" if absolute else "relative"


@dataclass
class _Seen:
    """What the time cells turned out to be."""

    dated: bool = False
    utc: bool = False
    days_us: int = 0
    last_us: int = 0


def _lines(head: bytes) -> list[str]:
    return first_lines(head) if b"\0" not in head else []


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", re.sub(r"\(.*?\)|\[.*?\]", "", name.lower()))


def _table(lines: list[str]) -> Table | None:
    for number, line in enumerate(lines):
        for separator in SEPARATORS:
            cells = _split(line, separator)
            found = _columns(cells)
            if found is not None:
                places, bytes_at = found
                rest = [_split(row, separator) for row in lines[number + 1 :] if row.strip()]
                return _laid_out(separator, cells, places, bytes_at, rest, number)
    return None


def find_places(cells: Sequence[str]) -> dict[str, int] | None:
    """Give the place of each column by its role, when names say time, identifier and data.

    Example:
        >>> find_places(["Time [s]", "id", "data", "note"])
        {'time': 0, 'ident': 1, 'data': 2}
    """
    found = _columns(cells)
    return found[0] if found is not None and "data" in found[0] else None


def _columns(cells: Sequence[str]) -> tuple[dict[str, int], tuple[int, ...]] | None:
    places: dict[str, int] = {}
    for role, names in NAMES.items():
        plain = [_role_name(cell) for cell in cells]
        for name in names:
            if name in plain:
                places[role] = plain.index(name)
                break
    numbered = {int(found[1]): at for at, cell in enumerate(cells) if (found := BYTE.fullmatch(cell.lower()))}
    ordered = tuple(numbered[number] for number in sorted(numbered))
    if "time" not in places or "ident" not in places or ("data" not in places and len(ordered) < 8):
        return None
    return places, ordered if len(ordered) >= 8 else ()


def _role_name(cell: str) -> str:
    plain = _plain(cell)
    for ending in ("ms", "us", "sec", "s"):
        if plain.endswith(ending) and plain[: -len(ending)] in ("time", "abs", "timestamp", "abstime"):
            return plain[: -len(ending)]
    return plain


def _laid_out(
    separator: str,
    cells: Sequence[str],
    places: dict[str, int],
    bytes_at: tuple[int, ...],
    rows: list[list[str]],
    header: int,
) -> Table:
    name = cells[places["time"]].lower()
    unit = re.search(r"[\[(_ ](s|sec|ms|us|µs|ns)[\])]?$", name)
    idents = [row[places["ident"]].strip().lower() for row in rows if len(row) > places["ident"]]
    hexadecimal = "hex" in cells[places["ident"]].lower() or any(_looks_hex(ident) for ident in idents)
    return Table(
        separator,
        places,
        bytes_at,
        UNITS[unit[1]] if unit else 1_000_000,
        16 if hexadecimal else 10,
        [_plain(cell) for cell in cells] == PACKED_HEADER,
        header,
    )


def _looks_hex(ident: str) -> bool:
    bare = ident.removeprefix("0x").removesuffix("h").removesuffix("x")
    return (
        bare != ident or bool(re.search(r"[a-f]", bare)) or (len(bare) == 8 and bare.startswith(("0", "1")))
    )


def _table_rows(source: Source, intake: Intake, table: Table, seen: _Seen) -> Iterator[Row]:
    least = max(table.places[role] for role in ("time", "ident"))
    for number, raw in enumerate(source.lines()):
        if number <= table.header:
            continue
        line = raw.decode("latin-1").strip("\r")
        if not line.strip() or line.lstrip().startswith((";", "#")):
            continue
        cells = _split(line, table.separator)
        row = _table_row(cells, intake, table, seen) if len(cells) > least else None
        if row is None:
            intake.unread()
        else:
            yield row


def _split(line: str, separator: str) -> list[str]:
    cells = next(csv.reader([line], delimiter=separator)) if '"' in line else line.split(separator)
    return [cell.strip() for cell in cells]


def _table_row(cells: list[str], intake: Intake, table: Table, seen: _Seen) -> Row | None:
    cell = _getter(cells, table)
    time = _time_us(cell("time"), table, seen)
    channel = intake.channel(cell("channel") or "1")
    if time is not None and _true(cell("error")):
        return error_row(time, channel)
    ident = _ident(cell("ident"), table)
    if time is None or ident is None:
        return None
    extended = _extended(cell("extended"), cell("ident"), ident)
    if ident > (0x1FFFFFFF if extended else 0x7FF):
        return None
    if _true(cell("remote")):
        return remote_row(time, ident, channel)
    data = _data(cells, table)
    length = cell("length")
    if data is None or (length.isdigit() and len(data) < int(length) <= 8):
        return None
    if length.isdigit():
        data = data[: int(length)]
    sent = cell("sent").lower() in ("tx", "t", "true", "1", "sent")
    return data_row(time, ident, extended, data, channel, sent=sent)


def _getter(cells: list[str], table: Table) -> Callable[[str], str]:
    def cell(role: str) -> str:
        at = table.places.get(role)
        return cells[at] if at is not None and at < len(cells) else ""

    return cell


def _true(written: str) -> bool:
    return written.lower() in ("t", "true", "1", "yes", "y", "r")


def _extended(written: str, ident_written: str, ident: int) -> bool:
    flag = written.lower()
    if flag:
        return flag in ("t", "true", "1", "yes", "y", "x", "ext", "extended", "xtd")
    return ident > 0x7FF or ident_written.lower().endswith("x") or len(ident_written) == 8


def _ident(written: str, table: Table) -> int | None:
    bare = written.lower().strip()
    base = table.number_base
    if bare.startswith("0x"):
        bare, base = bare[2:], 16
    bare = bare.removesuffix("h").removesuffix("x")
    try:
        return int(bare, base) if bare and bare.isalnum() else None
    except ValueError:
        return None


def _data(cells: list[str], table: Table) -> bytes | None:
    try:
        if table.bytes_at:
            words = [cells[at] for at in table.bytes_at if at < len(cells) and cells[at]]
            return bytes(int(word.removeprefix("0x"), 16) for word in words)
        at = table.places["data"]
        if table.packed:
            return base64.b64decode(cells[at], validate=True)
        joined = table.separator.join(cells[at:]) if at == max(table.places.values()) else cells[at]
        joined = re.sub(r"0x|[\s,;_-]", "", joined)
        return bytes.fromhex(joined)
    except (ValueError, IndexError, binascii.Error):
        return None


def _time_us(written: str, table: Table, seen: _Seen) -> int | None:
    if found := OF_DAY.fullmatch(written):
        return _of_day_us(found, seen)
    if DECIMAL_COMMA.fullmatch(written) and table.separator != ",":
        written = written.replace(",", ".")
    if not re.fullmatch(r"\d+(?:\.\d*)?", written):
        return None
    if table.step == 1_000_000:
        return microseconds(written)
    micro = microseconds(written)
    return micro * table.step // 1_000_000 if table.step > 0 else micro // (1_000_000 * -table.step)


def _of_day_us(found: re.Match[str], seen: _Seen) -> int | None:
    of_day = (int(found[4]) * 3600 + int(found[5]) * 60) * 1_000_000 + microseconds(
        found[6].replace(",", ".")
    )
    if found[1] is None:
        if of_day < seen.last_us - DAY_US // 2:
            seen.days_us += DAY_US
        seen.last_us = of_day
        return seen.days_us + of_day
    try:
        day = dt.datetime(int(found[1]), int(found[2]), int(found[3]), tzinfo=dt.UTC)
    except ValueError:
        return None
    seen.dated, seen.utc = True, found[7] is not None
    return int(day.timestamp()) * 1_000_000 + of_day


def _is_labelled(lines: list[str]) -> bool:
    return any(LABELLED.search(line) and LABELLED_DATA.search(line) for line in lines)


def _labelled_rows(source: Source, intake: Intake, lines: list[str]) -> Iterator[Row]:
    separator = ";" if sum(";" in line for line in lines) * 2 > len(lines) else ","
    for raw in source.lines():
        line = raw.decode("latin-1").strip()
        if not line or line.startswith((";", "#")):
            continue
        row = _labelled_row(line, separator, intake)
        if row is None:
            intake.unread()
        else:
            yield row


def _labelled_row(line: str, separator: str, intake: Intake) -> Row | None:
    stamp = line.split(separator, 1)[0].strip()
    ident, data = LABELLED.search(line), LABELLED_DATA.search(line)
    if ident is None or data is None or not re.fullmatch(r"\d+\.\d+", stamp):
        return None
    extended = ident[1].lower() == "idx"
    number = int(ident[2], 16)
    if number > (0x1FFFFFFF if extended else 0x7FF):
        return None
    channel = re.search(r"ch:\s*(\w+)", line)
    content = bytes.fromhex(re.sub(r"[\s,;]", "", data[1]))
    sent = bool(re.search(r"[,;]\s*TX\b", line))
    place = intake.channel(channel[1] if channel else "1")
    return data_row(microseconds(stamp), number, extended, content, place, sent=sent)
