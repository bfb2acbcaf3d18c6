"""What candump prints on a screen, kept in a file; times absolute, dated, from zero, or as differences."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from fanwright.evidence.recording.formats._text import (
    Row,
    data_row,
    error_row,
    first_lines,
    hand_on,
    microseconds,
)
from fanwright.evidence.recording.formats._text import remote_row as remote_frame
from fanwright.evidence.recording.formats.candump_log import EARLIEST_S
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.source import Source
from fanwright.words import Message

NAME: Final = "candump screen"
LINE = re.compile(
    r" *\((?:(\d{4})-(\d\d)-(\d\d) (\d\d):(\d\d):)?(\d{1,12}\.\d{1,9})\) +([!-~]{1,15}) +"
    r"(?:(RX|TX)(?: +[-BE]){2} +)?([0-9A-F]{8}|[0-9A-F]{3}) +\[(\d{1,2})\](?:  ?(.*?))?\s*"
)
DATA = re.compile(r"((?:[0-9A-F]{2})(?: [0-9A-F]{2})*)? *(?:'.*)?")
UNTIMED = re.compile(r" *[!-~]{1,15} +[0-9A-F]{3,8} +\[\d{1,2}\] .*")
BACKWARD_SHARE = 0.05
"""More steps back than this in the first lines: the stamps are differences, not times (assumption)."""


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no such text; None when it may be."""
    lines = first_lines(head)
    if any(LINE.fullmatch(line) for line in lines):
        return None
    if any(UNTIMED.fullmatch(line) for line in lines):
        return Message("its lines carry no time stamps: record with candump -t a")
    return Message("no line is «(seconds) channel identifier [length] bytes»")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a file on and give the kind of its clock."""
    differences = _are_differences(first_lines(source.head(), 2000))
    dated: list[bool] = []
    hand_on(_rows(source, intake, differences, dated), intake)
    if dated and all(dated):
        return "local"
    first = intake.tally().first_us
    return "absolute" if first is not None and first >= EARLIEST_S * 1_000_000 else "relative"


def _rows(source: Source, intake: Intake, differences: bool, dated: list[bool]) -> Iterator[Row]:
    clock = 0
    for raw in source.lines():
        line = raw.decode("latin-1").rstrip("\r")
        if not line.strip():
            continue
        found = LINE.fullmatch(line)
        row = None if found is None else _row(found, intake, clock if differences else 0)
        if found is None or row is None:
            intake.unread()
            continue
        clock = row[1]
        if not dated:
            dated.append(found[1] is not None)
        yield row


def _row(found: re.Match[str], intake: Intake, since_us: int) -> Row | None:
    time = since_us + _time_us(found)
    channel = intake.channel(found[7])
    ident, extended, length = int(found[9], 16), len(found[9]) == 8, int(found[10])
    rest = found[11] or ""
    if extended and ident >> 29 == 1:
        return error_row(time, channel)
    if ident > (0x1FFFFFFF if extended else 0x7FF):
        return None
    if rest.startswith("remote request"):
        return remote_frame(time, ident, channel)
    data = DATA.fullmatch(rest)
    if data is None:
        return None
    content = bytes.fromhex(data[1] or "")
    if len(content) != length:
        return None
    return data_row(time, ident, extended, content, channel, sent=found[8] == "TX", long=len(found[10]) == 2)


def _time_us(found: re.Match[str]) -> int:
    if found[1] is None:
        return microseconds(found[6])
    year, month, day, hour, minute = (int(found[place]) for place in range(1, 6))
    try:
        whole = dt.datetime(year, month, day, hour, minute, tzinfo=dt.UTC)
    except ValueError:
        return 0
    return int(whole.timestamp()) * 1_000_000 + microseconds(found[6])


def _are_differences(lines: list[str]) -> bool:
    times = [_time_us(found) for line in lines if (found := LINE.fullmatch(line))]
    back = sum(later < earlier for earlier, later in pairwise(times))
    return back > BACKWARD_SHARE * len(times)
