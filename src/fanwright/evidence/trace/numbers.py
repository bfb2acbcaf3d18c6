"""Lines of text to numbers, a block at a time, without a Python object for each number."""

from __future__ import annotations

import datetime as dt
import math
import re
import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.columns import Clock, Column, Layout

Bytes = NDArray[np.uint8]
Places = NDArray[np.int64]
Numbers = NDArray[np.float64]

TOKENS: dict[Clock, int] = {"number": 1, "time_of_day": 3, "date_time": 6}
LARGEST_PRESSURE_PA = 1.0e8
LARGEST_TIME_S = 1.0e12
BLANK, LINE_END = 32, 10

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_MISSING = {"", "-", "--", "---", "nan", "na", "n/a", "null", "none", "inf", "+inf", "-inf", "infinity"}
_TIME_OF_DAY = re.compile(r"(\d{1,2}):(\d{2}):(\d{2}(?:\.\d*)?)", re.ASCII)


def _table(allowed: bytes) -> NDArray[np.bool_]:
    table = np.ones(256, bool)
    table[list(allowed)] = False
    return table


_NOT_NUMBER = _table(b"0123456789+-.eE ")
_NOT_CLOCK = _table(b"0123456789:.-/TZ ")
_CLOCK_SIGNS = ~_table(b":-/TZ")


@dataclass(frozen=True, eq=False)
class Rows:
    """The numbers of one block of lines.

    Args:
        values: One row a line that could be read, one column a wanted column; NaN where a value is
            missing [SI], shape (n, columns).
        unread: How many lines could not be read.
        first_unread: The first of them, as it stands in the file.
    """

    values: Numbers
    unread: int
    first_unread: str


@dataclass(frozen=True, eq=False)
class _Lines:
    starts: Places
    ends: Places
    fields: tuple[tuple[Places, Places], ...]


def read_block(block: bytes, layout: Layout) -> Rows:
    r"""Read whole lines of text.

    Args:
        block: The bytes of the lines; line ends are single line feeds.
        layout: How the lines are laid out.

    Returns:
        The numbers, and what could not be read.

    Example:
        >>> from fanwright.evidence.trace.columns import find_layout
        >>> layout = find_layout(["time [s],drive [kPa]"])
        >>> read_block(b"0.1,5\n0.2,x\n", layout).values.tolist()
        [[0.1, 5000.0]]
    """
    block = block.replace(b'"', b" ")
    if layout.decimal_comma:
        block = block.replace(b",", b".")
    data = np.frombuffer(block if block.endswith(b"\n") else block + b"\n", np.uint8)
    lines, odd, first_odd = _split(data, layout)
    plain = _plain_lines(data, lines, layout)
    values = np.full((lines.starts.size, len(layout.columns)), np.nan)
    read = np.zeros(lines.starts.size, bool)
    fast = _fast(data, lines, plain, layout)
    if fast is None:
        plain[:] = False
    else:
        values[plain], read[plain] = fast
    for row in np.flatnonzero(~plain):
        numbers = _slow(bytes(data[lines.starts[row] : lines.ends[row]]), layout)
        if numbers is not None:
            values[row], read[row] = numbers, True
    read &= _believable(values, layout)
    unread = np.flatnonzero(~read)
    if unread.size and (first_odd is None or lines.starts[unread[0]] < first_odd[0]):
        first_odd = (int(lines.starts[unread[0]]), int(lines.ends[unread[0]]))
    shown = bytes(data[first_odd[0] : first_odd[1]]).decode("latin-1")[:60] if first_odd else ""
    return Rows(values[read], odd + unread.size, shown)


def _split(data: Bytes, layout: Layout) -> tuple[_Lines, int, tuple[int, int] | None]:
    """Find lines with the right number of fields, and the ends of the wanted fields."""
    ends = np.flatnonzero(data == LINE_END)
    starts = np.concatenate(([0], ends[:-1] + 1))
    separator = ord(layout.separator)
    marks = np.flatnonzero(data == separator)
    first = np.searchsorted(marks, starts)
    fields = np.searchsorted(marks, ends) - first + 1
    written = np.add.reduceat(data > BLANK, starts, dtype=np.int64) > 0
    trailing = (fields == layout.fields + 1) & (data[np.maximum(ends - 1, 0)] == separator)
    right = written & ((fields == layout.fields) | trailing)
    odd = np.flatnonzero(written & ~right)
    starts_right, ends_right, first_right = starts[right], ends[right], first[right]
    closed = np.concatenate((marks, [0]))
    spans = []
    for column in layout.columns:
        start = starts_right if column.index == 0 else closed[first_right + column.index - 1] + 1
        last = column.index == layout.fields - 1
        end = closed[np.minimum(first_right + column.index, marks.size)]
        spans.append((start, np.where(trailing[right], end, ends_right) if last else end))
    first_odd = (int(starts[odd[0]]), int(ends[odd[0]])) if odd.size else None
    return _Lines(starts_right, ends_right, tuple(spans)), int(odd.size), first_odd


def _plain_lines(data: Bytes, lines: _Lines, layout: Layout) -> NDArray[np.bool_]:
    """Say which lines hold nothing but the signs of numbers (and of a clock) where numbers are wanted."""
    plain = np.ones(lines.starts.size, bool)
    strange = {False: _running(_NOT_NUMBER[data])}
    for column, (start, end) in zip(layout.columns, lines.fields, strict=True):
        clock = column.role == "time" and layout.clock != "number"
        if clock not in strange:
            strange[clock] = _running(_NOT_CLOCK[data])
        plain &= strange[clock][end] == strange[clock][start]
    return plain


def _running(flags: NDArray[np.bool_]) -> NDArray[np.int32]:
    total = np.zeros(flags.size + 1, np.int32)
    np.cumsum(flags, out=total[1:], dtype=np.int32)
    return total


def _fast(
    data: Bytes, lines: _Lines, plain: NDArray[np.bool_], layout: Layout
) -> tuple[Numbers, NDArray[np.bool_]] | None:
    """Read the plain lines in one go; None if the numbers do not come out even."""
    filled = _running(data > BLANK)
    inside = np.zeros(data.size + 1, np.int8)
    in_clock = np.zeros(data.size + 1, np.int8)
    given, widths = [], []
    for column, (starts, ends) in zip(layout.columns, lines.fields, strict=True):
        start, end = starts[plain], ends[plain]
        inside[start] += 1
        inside[end] -= 1
        clock = column.role == "time" and layout.clock != "number"
        if clock:
            in_clock[start] += 1
            in_clock[end] -= 1
        widths.append(TOKENS[layout.clock] if clock else 1)
        given.append(np.repeat((filled[end] > filled[start])[:, None], widths[-1], axis=1))
    wanted = np.hstack(given) if given else np.zeros((0, 0), bool)
    kept = np.where(np.cumsum(inside[:-1], dtype=np.int8) > 0, data, BLANK).astype(np.uint8)
    if layout.clock != "number":
        kept[(np.cumsum(in_clock[:-1], dtype=np.int8) > 0) & _CLOCK_SIGNS[data]] = BLANK
    tokens = _tokens(kept.tobytes())
    if tokens is None or tokens.size != int(wanted.sum()):
        return None
    spread = np.full(wanted.shape, np.nan)
    spread[wanted] = tokens
    return _join(spread, widths, layout)


def _tokens(blank_separated: bytes) -> Numbers | None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            return (
                np.fromstring(blank_separated.decode("ascii"), sep=" ")
                if blank_separated.strip()
                else np.empty(0)
            )
        except (ValueError, DeprecationWarning):
            return None


def _join(spread: Numbers, widths: list[int], layout: Layout) -> tuple[Numbers, NDArray[np.bool_]]:
    values = np.empty((spread.shape[0], len(layout.columns)))
    read = np.ones(spread.shape[0], bool)
    place = 0
    for number, (column, width) in enumerate(zip(layout.columns, widths, strict=True)):
        parts = spread[:, place : place + width]
        place += width
        if width == 1:
            with np.errstate(over="ignore"):  # a number too large for a float counts as an unread line
                values[:, number] = parts[:, 0] * column.factor
            continue
        hour, minute, second = parts[:, -3], parts[:, -2], parts[:, -1]
        read &= ~((hour > 23) | (minute > 59) | (second >= 61))
        values[:, number] = hour * 3600.0 + minute * 60.0 + second
        if width == TOKENS["date_time"]:
            read &= ~((parts[:, 1] < 1) | (parts[:, 1] > 12) | (parts[:, 2] < 1) | (parts[:, 2] > 31))
            values[:, number] += _days(parts[:, 0], parts[:, 1], parts[:, 2]) * 86400.0
    return values, read


def _days(year: Numbers, month: Numbers, day: Numbers) -> Numbers:
    """Days since 1 March of the year 0: years counted from March, 153 days in five months (from memory)."""
    late = month > 2
    counted = np.where(late, year, year - 1)
    shifted = np.where(late, month - 3, month + 9)
    leaps = np.floor(counted / 4) - np.floor(counted / 100) + np.floor(counted / 400)
    days: Numbers = counted * 365 + leaps + np.floor((153 * shifted + 2) / 5) + day
    return days


def _slow(line: bytes, layout: Layout) -> list[float] | None:
    """Read one line that holds something else than plain numbers; None if it cannot be read."""
    cells = line.decode("latin-1").split(layout.separator)
    numbers = []
    for column in layout.columns:
        number = _one(cells[column.index].strip(), column, layout.clock)
        if number is None:
            return None
        numbers.append(number)
    return numbers


def _one(cell: str, column: Column, clock: Clock) -> float | None:
    if cell.casefold() in _MISSING:
        return math.nan
    if column.role == "time" and clock == "time_of_day":
        parts = _TIME_OF_DAY.fullmatch(cell)
        if parts is None or int(parts[1]) > 23 or int(parts[2]) > 59:
            return None
        return int(parts[1]) * 3600.0 + int(parts[2]) * 60.0 + float(parts[3])
    if column.role == "time" and clock == "date_time":
        try:
            moment = dt.datetime.fromisoformat(cell.replace("/", "-"))
        except ValueError:
            return None
        whole = _days(*(np.array([float(part)]) for part in (moment.year, moment.month, moment.day)))[0]
        return (
            float(whole) * 86400.0
            + moment.hour * 3600.0
            + moment.minute * 60.0
            + moment.second
            + moment.microsecond / 1e6
        )
    return float(cell) * column.factor if _NUMBER.fullmatch(cell) else None


def _believable(values: Numbers, layout: Layout) -> NDArray[np.bool_]:
    """Say which rows hold no number that no gauge and no clock can show."""
    believable = np.ones(values.shape[0], bool)
    for number, column in enumerate(layout.columns):
        most = LARGEST_TIME_S if column.role == "time" else LARGEST_PRESSURE_PA
        believable &= ~(np.abs(values[:, number]) > most)
    return believable
