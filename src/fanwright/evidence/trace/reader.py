"""Read the file of a gauge logger, a block at a time, and count everything odd in it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import FileError
from fanwright.evidence.trace.clock import Order, gaps, order, unroll_days
from fanwright.evidence.trace.columns import Layout, find_layout
from fanwright.evidence.trace.numbers import read_block
from fanwright.words import Message, Value, count, quantity, text

BLOCK_BYTES = 1 << 20
LONG_ROWS = 2_000_000
HEAD_BYTES = 1 << 16
LONGEST_LINE = 1 << 20
FEWEST_ROWS = 3
SLOWEST_INTERVAL_S = 0.1001
MOSTLY = 0.5
FLAGS = ("command", "shut")
NOT_GIVEN = -1

Series = NDArray[np.float64]
Column = NDArray[Any]


@dataclass(frozen=True)
class Oddities:
    """What was odd in a file, counted.

    Args:
        unread: Lines that could not be read.
        missing: Rows left out because a value was missing.
        repeated: Rows left out because their time stamp repeats one before.
        backward: Rows left out because their time stamp runs backwards.
        gaps: Steps in time of more than five usual ones.
        longest_gap_s: The longest of them [s].
        cut_line: Whether the last line was cut off.
    """

    unread: int = 0
    missing: int = 0
    repeated: int = 0
    backward: int = 0
    gaps: int = 0
    longest_gap_s: float = 0.0
    cut_line: bool = False


@dataclass(frozen=True, eq=False)
class RawTrace:
    """What a file holds, in SI and in time order.

    Pressures are doubles; those of more than two million rows come in single precision, which tells 0.1 Pa
    apart, to keep within bounded memory.

    Args:
        place: The file it came from.
        sha256: Hash of that file's bytes.
        interval_s: The usual step between two rows [s].
        time_s: Time from the first row [s], shape (n,).
        supply_gauge_pa: At the valve inlet, gauge [Pa], shape (n,), or None.
        drive_gauge_pa: At the drive, gauge [Pa], shape (n,).
        air_sent: Whether air was told to be sent, shape (n,), or None.
        shut: Whether the drive was shut off, shape (n,), or None.
        oddities: What was odd.
        notes: The same and columns left out, in sentences.
    """

    place: str
    sha256: str
    interval_s: float
    time_s: Series
    supply_gauge_pa: Series | None
    drive_gauge_pa: Series
    air_sent: NDArray[np.bool_] | None
    shut: NDArray[np.bool_] | None
    oddities: Oddities
    notes: tuple[Message, ...]


def read_file(path: Path, columns: Mapping[str, str] | None = None) -> RawTrace:
    """Read a trace.

    Args:
        path: The file.
        columns: What the file calls a column, by role, such as ``{"drive": "P2[psi]"}``.

    Returns:
        The series in SI, in time order.

    Raises:
        FileError: The file cannot be read as a trace; every mistake found.
    """
    store = _Store(path)
    try:
        file = path.open("rb")
    except (OSError, ValueError) as wrong:
        raise _cannot_open(path, wrong) from None
    with file:
        try:
            store.fill(file, columns)
        except OSError as wrong:
            raise _cannot_open(path, wrong) from None
    return store.close()


def _cannot_open(path: Path, wrong: OSError | ValueError) -> FileError:
    why = wrong.strerror if isinstance(wrong, OSError) and wrong.strerror else str(wrong)
    return FileError(Message("{file} cannot be read: {why}", {"file": text(path), "why": text(why)}))


class _Store:
    """Grows the columns block by block in arrays sized from the length of the file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.hash = hashlib.sha256()
        self.rows = self.missing = self.unread = 0
        self.first_unread = ""
        self.cut_line = False
        self.series: dict[str, Column] = {}
        self.given: dict[str, int] = {}
        self.layout: Layout | None = None

    def fill(self, file: BinaryIO, columns: Mapping[str, str] | None) -> None:
        size = self.path.stat().st_size
        layout = None
        for block in self._blocks(file):
            if not block.strip():
                continue
            if layout is None:
                layout, body = self._head(block, columns)
                self.layout = layout
            else:
                body = block
            if body.strip():
                rows = read_block(body, layout)
                self.unread += rows.unread
                self.first_unread = self.first_unread or rows.first_unread
                self._add(rows.values, layout.roles, max(1.0, size / len(body)))
        if layout is None:
            raise self._refuse("{file} is empty: it holds not a single line")

    def _blocks(self, file: BinaryIO) -> Iterator[bytes]:
        """Give whole lines with plain line ends; the last may be cut."""
        rest, first = b"", True
        while read := file.read(BLOCK_BYTES):
            self.hash.update(read)
            if first and (
                b"\0" in read[:HEAD_BYTES] or read.startswith((b"\x1f\x8b", b"PK\x03\x04", b"%PDF"))
            ):
                raise self._refuse("{file} is not a text file: let the logger export it as CSV in UTF-8")
            block = rest + (read.removeprefix(b"\xef\xbb\xbf") if first else read)
            first = False
            if b"\r" in block:
                block = block.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
            whole = block.rfind(b"\n") + 1
            rest = block[whole:]
            if len(rest) > LONGEST_LINE:
                raise self._refuse("{file} has no line ends where lines are wanted: it is not a CSV file")
            if whole:
                yield block[:whole]
        if rest.strip():
            yield self._last_line(rest)

    def _last_line(self, rest: bytes) -> bytes:
        """Leave a last line out that was cut off while it was written."""
        if self.layout is None:
            return rest
        separator = self.layout.separator.encode()
        self.cut_line = rest.count(separator) < self.layout.fields - 1 or rest.rstrip().endswith(
            (b".", separator)
        )
        return b"" if self.cut_line else rest

    def _head(self, block: bytes, columns: Mapping[str, str] | None) -> tuple[Layout, bytes]:
        head = block[:HEAD_BYTES]
        head = head[: head.rfind(b"\n") + 1] or head
        try:
            shown = head.decode("utf-8")
        except UnicodeDecodeError:
            shown = head.decode("latin-1")
        lines = shown.split("\n")
        layout = find_layout(lines, columns, self.path.name)
        return layout, b"".join(block.split(b"\n", layout.header_line + 1)[layout.header_line + 1 :])

    def _add(self, values: NDArray[np.float64], roles: tuple[str, ...], estimate: float) -> None:
        """Take the rows whose time and drive are there; how often the others are is counted."""
        there = ~np.isnan(values[:, roles.index("time")]) & ~np.isnan(values[:, roles.index("drive")])
        self.missing += int(values.shape[0] - there.sum())
        values = values[there]
        stop = self.rows + values.shape[0]
        for number, role in enumerate(roles):
            held = self.series.get(role)
            if held is None:
                rows = int(values.shape[0] * estimate * 1.05) + 16
                held = self.series[role] = np.empty(rows, _kind(role, rows))
            if stop > held.size:
                held = self.series[role] = np.concatenate(
                    (held[: self.rows], np.empty(stop - self.rows + held.size // 4, held.dtype))
                )
            given = ~np.isnan(values[:, number])
            held[self.rows : stop] = (
                np.where(given, values[:, number] >= 0.5, NOT_GIVEN) if role in FLAGS else values[:, number]
            )
            self.given[role] = self.given.get(role, 0) + int(given.sum())
        self.rows = stop

    def close(self) -> RawTrace:
        """Put the rows in order and build the trace whole."""
        self._refuse_unreadable()
        notes = self._leave_empty_columns_out()
        series, stamps = self._in_order(self._complete())
        time_s = series["time"]
        time_s -= time_s[0]
        steps = gaps(time_s)
        oddities = Oddities(
            self.unread,
            self.missing,
            stamps.repeated,
            stamps.backward,
            steps.gaps,
            steps.longest_s,
            self.cut_line,
        )
        return RawTrace(
            str(self.path),
            self.hash.hexdigest(),
            steps.interval_s,
            time_s,
            series.get("supply"),
            series["drive"],
            series["command"].view(np.bool_) if "command" in series else None,
            series["shut"].view(np.bool_) if "shut" in series else None,
            oddities,
            (*notes, *_said(oddities, self.first_unread)),
        )

    def _leave_empty_columns_out(self) -> list[Message]:
        empty = [
            role
            for role in ("supply", *FLAGS)
            if role in self.series and self.given[role] < MOSTLY * self.rows
        ]
        for role in empty:
            del self.series[role]
        template = "The column {role} is mostly empty and was not used"
        return [Message(template, {"role": text(role)}) for role in empty]

    def _complete(self) -> dict[str, Column]:
        """Give the rows that have a value in every column."""
        series = {role: held[: self.rows] for role, held in self.series.items()}
        keep = np.ones(self.rows, bool)
        for role, held in series.items():
            keep &= held != NOT_GIVEN if role in FLAGS else ~np.isnan(held)
        self.missing += int(self.rows - keep.sum())
        return _chosen(series, keep)

    def _in_order(self, series: dict[str, Column]) -> tuple[dict[str, Column], Order]:
        """Give the rows whose clock runs on."""
        time_s = series["time"]
        if self.layout is not None and self.layout.clock == "time_of_day":
            unroll_days(time_s)
        stamps = order(time_s)
        if stamps.backward + stamps.repeated > MOSTLY * time_s.size:
            raise self._clock_runs_wrong(stamps.backward, stamps.repeated)
        series = _chosen(series, stamps.keep)
        if series["time"].size < FEWEST_ROWS:
            raise self._refuse("{file} holds fewer than {least} rows of numbers", least=count(FEWEST_ROWS))
        return series, stamps

    def _refuse_unreadable(self) -> None:
        if self.unread > self.rows + self.missing:
            hint = ""
            if (
                self.layout is not None
                and self.layout.separator == ","
                and self.first_unread.count(",") >= self.layout.fields
            ):
                hint = "a decimal comma needs another sign between the columns, such as a semicolon"
            raise self._refuse(
                "{file}: {unread} of {all} lines cannot be read as numbers, the first is «{line}»; {hint}"
                if hint
                else "{file}: {unread} of {all} lines cannot be read as numbers, the first is «{line}»",
                unread=count(self.unread),
                all=count(self.unread + self.rows + self.missing),
                line=text(self.first_unread),
                **({"hint": text(hint)} if hint else {}),
            )
        if self.rows == 0 and self.missing == 0:
            raise self._refuse("{file} holds a header but no rows of numbers")
        if self.rows == 0:
            raise self._refuse("{file}: no row holds both a time and a pressure at the drive")

    def _clock_runs_wrong(self, backward: int, repeated: int) -> FileError:
        if repeated > backward:
            return self._refuse(
                "{file}: {number} rows repeat the time stamp of a row before; "
                "let the logger write parts of a second",
                number=count(repeated),
            )
        return self._refuse(
            "{file}: the clock runs backwards in {number} rows; "
            "sort the rows by time, or take the trace again",
            number=count(backward),
        )

    def _refuse(self, template: str, **values: Value) -> FileError:
        return FileError(Message(template, {"file": text(self.path.name), **values}))


def _chosen(series: dict[str, Column], keep: NDArray[np.bool_]) -> dict[str, Column]:
    if keep.all():
        return series
    return {role: series.pop(role)[keep] for role in tuple(series)}


def _kind(role: str, rows: int) -> type[np.generic]:
    """Say how a column is held: a flag as 1, 0 or not given, the pressures of a very long file in single."""
    if role in FLAGS:
        return np.int8
    return np.float32 if role != "time" and rows > LONG_ROWS else np.float64


def _said(oddities: Oddities, first_unread: str) -> Iterator[Message]:
    """Say each oddity that occurred."""
    if oddities.unread:
        yield Message(
            "{number} lines could not be read and were left out, the first is «{line}»",
            {"number": count(oddities.unread), "line": text(first_unread)},
        )
    for number, template in (
        (oddities.missing, "{number} rows have no value in a wanted column and were left out"),
        (oddities.repeated, "{number} rows repeat the time stamp of a row before and were left out"),
        (oddities.backward, "{number} rows have a time stamp that runs backwards and were left out"),
    ):
        if number:
            yield Message(template, {"number": count(number)})
    if oddities.gaps:
        yield Message(
            "There are {number} gaps in time, the longest {longest}",
            {"number": count(oddities.gaps), "longest": quantity(oddities.longest_gap_s, "time")},
        )
    if oddities.cut_line:
        yield Message("The last line was cut off and was left out")
