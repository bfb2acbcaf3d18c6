"""Walks the chain and says whether the records are as they were written; if not, what differs first."""

from __future__ import annotations

from collections.abc import Generator, Iterable
from dataclasses import dataclass, fields
from typing import Any, cast

from sqlalchemy import Connection, Select, Table, select

from fanwright.records.chain import START, EntryRow, Row, covered_sha256, digest, first_difference
from fanwright.records.files import sha256_of
from fanwright.records.store import Store
from fanwright.records.tables import KEPT, entries, files
from fanwright.words import Message, count, text

AT_ONCE = 5_000
WORDS = {
    "altered": "entry {number}: row {row} of {table} was altered after it was written",
    "missing": "entry {number}: row {row} of {table} is missing",
    "added": "entry {number}: row {row} of {table} was added later; no entry vouches for it",
}


@dataclass(frozen=True)
class Verified:
    """What a walk along the chain found.

    Args:
        entries: How many entries were walked.
        rows: How many rows they vouch for.
        files: How many files were read again.
        head: SHA-256 of the last entry; zeros where there is none.
        wrong: The first thing that is not as it was written, then each file that is not; empty when sound.
        notes: What is odd but harmless: a clock that was set back, a file left by a write that was cut off.
    """

    entries: int
    rows: int
    files: int
    head: str
    wrong: tuple[Message, ...]
    notes: tuple[Message, ...]

    @property
    def sound(self) -> bool:
        """Whether everything is as it was written."""
        return not self.wrong


class _Rows:
    """The rows of one table in the order in which they were written, handed out entry by entry."""

    def __init__(self, connection: Connection, table: Table) -> None:
        self.name = table.name
        ordered = select(table).order_by(table.c.id)
        self._rows = _stream(connection, ordered)
        self.next: Row | None = next(self._rows, None)

    def close(self) -> None:
        """Let go of what was not read."""
        self._rows.close()

    def waits_for(self, number: int) -> bool:
        """Say whether the next row was written by entries up to a number."""
        return self.next is not None and cast("int", self.next[1]) <= number

    def up_to(self, number: int) -> list[Row]:
        """Give the rows written by entries up to a number."""
        found = []
        while self.next is not None and self.waits_for(number):
            found.append(self.next)
            self.next = next(self._rows, None)
        return found


def _stream(connection: Connection, query: Select[Any]) -> Generator[Row]:
    """Read rows a few thousand at a time, as plain tuples; from SQLite without a detour, for speed."""
    if connection.dialect.name == "sqlite":
        cursor = connection.connection.cursor()
        cursor.execute(str(query.compile(connection.engine)))
        try:
            while some := cursor.fetchmany(AT_ONCE):
                yield from some
        finally:
            cursor.close()
        return
    streaming = connection.execution_options(stream_results=True, max_row_buffer=AT_ONCE)
    with streaming.execute(query) as result:
        while part := result.fetchmany(AT_ONCE):
            yield from map(tuple, part)


def verify(store: Store, *, expected_head: str = "", with_files: bool = True) -> Verified:
    """Walk the whole chain.

    Args:
        store: The records.
        expected_head: A SHA-256 noted earlier (on paper, in a backup) that the chain must hold, or empty.
        with_files: Whether every file is read again.

    Returns:
        What was found.
    """
    with store.reading() as connection:
        walked = Walk(connection, KEPT)
        walked.run(expected_head.strip().lower())
    wrong, notes = list(walked.wrong), list(walked.notes)
    seen = 0
    if with_files:
        with store.reading() as connection:
            seen = _files(store, connection, wrong, notes)
    return Verified(walked.count, walked.rows, seen, walked.head, tuple(wrong), tuple(notes))


class Walk:
    """One walk from the first entry to the last; it stops at the first thing that is wrong."""

    def __init__(self, connection: Connection, tables: Iterable[Table]) -> None:
        if not connection.in_transaction():
            connection.begin()  # one snapshot for everything that is read
        names = [each.name for each in fields(EntryRow)]
        self._entries = _stream(
            connection, select(*(entries.c[name] for name in names)).order_by(entries.c.number)
        )
        self._tables = [_Rows(connection, table) for table in tables]
        self.count = self.rows = 0
        self.head, self._last_at = START, ""
        self.wrong: list[Message] = []
        self.notes: list[Message] = []

    def run(self, expected_head: str = "") -> None:
        """Walk; what is found is in ``wrong`` and ``notes`` afterwards.

        Args:
            expected_head: A SHA-256 that the chain must hold, or empty.
        """
        try:
            if self._walk(expected_head):
                self._look_behind()
        finally:
            self._entries.close()
            for table in self._tables:
                table.close()

    def _walk(self, expected_head: str) -> bool:
        met = not expected_head or expected_head == START
        for row in self._entries:
            entry = EntryRow(*cast("tuple[Any, ...]", row))  # the columns are its fields, in its order
            altered = covered_sha256(row[:-1]) != entry.sha256
            problem = self._problem(entry, altered=altered)
            if problem is not None:
                self.wrong.append(problem)
                return False
            met |= entry.sha256 == expected_head
        if not met:
            self.wrong.append(
                Message(
                    "the chain is sound as far as it goes, but does not hold the entry {head} noted earlier:"
                    " entries were taken off its end, or these are other records",
                    {"head": text(expected_head)},
                )
            )
        return met

    def _look_behind(self) -> None:
        """Rows that come after the last entry belong to none."""
        for table in self._tables:
            if table.next is not None:
                self.wrong.append(
                    Message(
                        "row {row} of {table} was added without an entry, or the entries after {number} are"
                        " missing",
                        {"row": text(table.next[0]), "table": text(table.name), "number": count(self.count)},
                    )
                )
                return

    def _problem(self, entry: EntryRow, *, altered: bool) -> Message | None:
        number = {"number": count(entry.number)}
        if entry.number != self.count + 1:
            return Message("entry {number} is missing", {"number": count(self.count + 1)})
        if entry.previous_sha256 != self.head:
            return Message(
                "entry {number} does not follow the one before it: one of the two was altered", number
            )
        if altered:
            return Message("entry {number} was altered after it was written", number)
        last = entry.number
        rows = {table.name: table.up_to(last) for table in self._tables if table.waits_for(last)}
        if digest(rows) != entry.rows_sha256:
            return _row_problem(entry, rows)
        if entry.at_utc < self._last_at:
            self.notes.append(
                Message(
                    "entry {number} is dated before the one it follows: the clock was set back",
                    number,
                )
            )
        self.count, self.head, self._last_at = entry.number, entry.sha256, entry.at_utc
        self.rows += sum(map(len, rows.values()))
        return None


def _row_problem(entry: EntryRow, rows: dict[str, list[Row]]) -> Message:
    found = first_difference(entry.row_marks, rows)
    if found is None:
        return Message(
            "entry {number}: one of its rows was altered after it was written",
            {"number": count(entry.number)},
        )
    kind, table, row = found
    return Message(WORDS[kind], {"number": count(entry.number), "row": text(row), "table": text(table)})


def _files(store: Store, connection: Connection, wrong: list[Message], notes: list[Message]) -> int:
    known: dict[str, int] = {}
    for sha256, size in connection.execute(select(files.c.sha256, files.c.size).order_by(files.c.id)):
        known[sha256] = size
        path = store.folder.path(sha256)
        if not path.is_file():
            wrong.append(Message("file {file} is missing", {"file": text(path)}))
        elif path.stat().st_size != size or sha256_of(path) != sha256:
            wrong.append(Message("file {file} was altered after it was kept", {"file": text(path)}))
    for path in store.folder.stored():
        if path.name in known:
            continue
        if path == store.folder.path(path.name) and sha256_of(path) == path.name:
            notes.append(
                Message(
                    "file {file} belongs to no visit: a write that was cut off left it; it does no harm",
                    {"file": text(path)},
                )
            )
        else:
            wrong.append(Message("file {file} was added without an entry", {"file": text(path)}))
    return len(known)
