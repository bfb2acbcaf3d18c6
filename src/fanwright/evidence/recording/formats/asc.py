"""ASC: text with a header, identifiers hexadecimal or decimal, times absolute or from line to line."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
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
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.source import Source
from fanwright.words import Message

NAME: Final = "ASC"
BASE = re.compile(r"base\s+(hex|dec)\s+timestamps\s+(absolute|relative)", re.IGNORECASE)
DATE = re.compile(r"date\s+(?P<rest>\S.*)", re.IGNORECASE)
CLOCK = re.compile(r"(\d{1,2}):(\d\d):(\d\d)(?:\.(\d{1,6}))?(?:\s*([ap]m))?", re.IGNORECASE)
FRAME = re.compile(
    r"\s*(\d+\.?\d*)\s+(\d+)\s+([0-9A-Fa-f]+)(x?)\s+(Rx|Tx|TxRq)\s+([dr])(?:\s+([0-9A-Fa-f]{1,2})(.*))?"
)
FLEXIBLE = re.compile(
    r"\s*(\d+\.?\d*)\s+CANFD\s+(\d+)\s+(Rx|Tx|TxRq)\s+([0-9A-Fa-f]+)(x?)\s+(?:\S+\s+)??"
    r"([01])\s+([01])\s+([0-9a-fA-F])\s+(\d{1,2})\s+((?:[0-9A-Fa-f]{2}\s+)*[0-9A-Fa-f]{2})?(.*)"
)
ERROR = re.compile(r"\s*(\d+\.?\d*)\s+(?:CANFD\s+)?(\d+)\s+(?:\S+\s+)?ErrorFrame.*")
TIMED = re.compile(r"\s*\d+\.\d+\s+\S.*")
KNOWN = re.compile(
    r"\s*(?:$|//|date\b|base\b|(?:no )?internal events|begin trigger|end trigger|\d+\.?\d*\s+"
    r"(?:start of measurement|log trigger|log direct|trigger|\d+\s+statistic:|\d+\s+[0-9A-Fa-f]+x?\s+J1939TP"
    r"|J1939TP|can\s+\d+\s+status|\d+\s+status|CANFD\s+\d+\s+status|SV:|GPS|comment|%))",
    re.IGNORECASE,
)
"""Lines that are no frames and rightly so."""

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
OTHER_MONTHS = {"mrz": 3, "mär": 3, "mai": 5, "okt": 10, "dez": 12, "fev": 2, "fév": 2, "avr": 4, "aoû": 8}


@dataclass(frozen=True)
class Header:
    """What the header says.

    Args:
        number_base: 16 or 10.
        from_line_to_line: Whether each time counts from the line before.
        begin_us: Date and time of the zero, of an unknown zone, or 0 without [us].
    """

    number_base: int
    from_line_to_line: bool
    begin_us: int


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no ASC; None when it may be."""
    lines = first_lines(head)
    if any(BASE.match(line) for line in lines) or any(FRAME.fullmatch(line) for line in lines):
        return None
    return Message("it has no line «base hex timestamps absolute» and none of a frame")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a file on and give the kind of its clock."""
    header = _header(first_lines(source.head()))
    hand_on(_rows(source, intake, header), intake)
    return "local" if header.begin_us else "relative"


def _header(lines: list[str]) -> Header:
    number_base, from_line_to_line, begin = 16, False, 0
    for line in lines:
        if found := BASE.match(line):
            number_base = 16 if found[1].lower() == "hex" else 10
            from_line_to_line = found[2].lower() == "relative"
        elif (found := DATE.match(line)) and not begin:
            begin = _begin_us(found["rest"])
    return Header(number_base, from_line_to_line, begin)


def _begin_us(written: str) -> int:
    """Read ``Thu Sep 30 15:06:13.191 2021`` in several languages and orders; 0 where it cannot be read."""
    clock = CLOCK.search(written)
    if clock is None:
        return 0
    rest = (written[: clock.start()] + " " + written[clock.end() :]).replace(".", " ").split()
    numbers = [int(word) for word in rest if word.isdigit()]
    month = next((found for word in rest if (found := _month(word))), 0)
    years = [number for number in numbers if number > 1900]
    days = [number for number in numbers if 1 <= number <= 31]
    hour = int(clock[1]) % 12 + 12 * (clock[5].lower() == "pm") if clock[5] else int(clock[1])
    if not (month and years and days):
        return 0
    try:
        begin = dt.datetime(years[0], month, days[0], hour, int(clock[2]), int(clock[3]), tzinfo=dt.UTC)
    except ValueError:
        return 0
    return int(begin.timestamp()) * 1_000_000 + int(((clock[4] or "") + "000000")[:6])


def _month(word: str) -> int:
    short = word[:3].lower()
    return MONTHS.index(short) + 1 if short in MONTHS else OTHER_MONTHS.get(short, 0)


def _rows(source: Source, intake: Intake, header: Header) -> Iterator[Row]:
    clock = 0
    for raw in source.lines():
        line = raw.decode("latin-1").rstrip()
        if header.from_line_to_line and TIMED.match(line):
            clock += microseconds(line.split(None, 1)[0])
        row = _row(line, intake, header)
        if row is None:
            if not KNOWN.match(line) and not BASE.match(line):
                intake.unread()
            continue
        if row[0] < 0:
            continue
        since = clock if header.from_line_to_line else row[1]
        yield row[0], header.begin_us + since, *row[2:]


_ECHO: Row = (-1, 0, 0, 0, 0, 0, False)
"""A request to send; what was sent follows on a line of its own."""


def _row(line: str, intake: Intake, header: Header) -> Row | None:
    if found := FRAME.fullmatch(line):
        return _ECHO if found[5] == "TxRq" else _classic(found, intake, header)
    if found := FLEXIBLE.fullmatch(line):
        return _ECHO if found[3] == "TxRq" else _flexible(found, intake, header)
    if found := ERROR.fullmatch(line):
        return error_row(microseconds(found[1]), intake.channel(found[2]))
    return None


def _flexible(found: re.Match[str], intake: Intake, header: Header) -> Row | None:
    length = int(found[9])
    data = bytes.fromhex(found[10] or "")[:length]
    try:
        ident = int(found[4], header.number_base)
    except ValueError:
        return None
    if len(data) < length:
        return None
    channel = intake.channel(found[2])
    return data_row(microseconds(found[1]), ident, bool(found[5]), data, channel, sent=found[3] == "Tx")


def _classic(found: re.Match[str], intake: Intake, header: Header) -> Row | None:
    try:
        ident = int(found[3], header.number_base)
    except ValueError:
        return None
    extended = bool(found[4])
    if ident > (0x1FFFFFFF if extended else 0x7FF):
        return None
    channel, time = intake.channel(found[2]), microseconds(found[1])
    if found[6] == "r":
        return remote_row(time, ident, channel)
    length = int(found[7] or "0", header.number_base)
    words = (found[8] or "").split()[:length]
    try:
        data = bytes(int(word, header.number_base) for word in words)
    except ValueError:
        return None
    if len(data) < length or length > 8:
        return None
    return data_row(time, ident, extended, data, channel, sent=found[5] == "Tx")
