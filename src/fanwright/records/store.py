"""The records opened: reads from one snapshot, and writes as whole entries of the chain."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, cast

from sqlalchemy import BigInteger, Column, Connection, Double, Engine, Table, func, insert, select

from fanwright.errors import DataError, FileError, InputError
from fanwright.records.chain import START, EntryRow, digest, marks
from fanwright.records.engine import WAIT_S, one_writer, open_engine
from fanwright.records.files import Folder
from fanwright.records.migrating import migrate, require_head, version_of
from fanwright.records.model import Author
from fanwright.records.places import Place
from fanwright.records.tables import HEAD, KEPT, entries
from fanwright.records.trouble import told_plainly
from fanwright.words import Message, text

FLUSH_ROWS = 20_000
_HALF_PAIR = re.compile("[\ud800-\udfff]")
Clock = Callable[[], dt.datetime]


def utc_now() -> dt.datetime:
    """Give the time now, in UTC."""
    return dt.datetime.now(dt.UTC)


def utc_text(moment: dt.datetime) -> str:
    """Write a moment as it stands in the records.

    Example:
        >>> utc_text(dt.datetime(2026, 4, 14, 7, 10, tzinfo=dt.UTC))
        '2026-04-14T07:10:00.000Z'
    """
    return moment.astimezone(dt.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


@dataclass
class Entry:
    """An entry being written: the rows that it will vouch for.

    Args:
        number: Its number in the chain.
        act: What is done.
        subject: What it is about.
        author: Who does it.
    """

    number: int
    act: str
    subject: str
    author: Author
    rows: dict[str, list[tuple[object, ...]]] = field(default_factory=dict)


class Transaction:
    """One write: entries gather rows; all of it is there afterwards, or nothing."""

    def __init__(self, connection: Connection, clock: Clock, program: str) -> None:
        self.connection = connection
        self._clock, self._program = clock, program
        self._next: dict[str, int] = {}
        self._waiting: dict[str, list[dict[str, object]]] = {}
        self._waiting_rows = 0
        last = connection.execute(
            select(entries.c.number, entries.c.sha256, entries.c.at_utc)
            .order_by(entries.c.number.desc())
            .limit(1)
        ).first()
        self._number: int = 0 if last is None else last.number
        self._head: str = START if last is None else last.sha256
        self._last_at: str = "" if last is None else last.at_utc
        self.clock_behind = False

    @property
    def head(self) -> str:
        """SHA-256 of the last entry, written or waiting."""
        return self._head

    @contextmanager
    def entry(self, act: str, author: Author, subject: str = "") -> Iterator[Entry]:
        """Write one entry; its rows are added with :meth:`add`.

        Args:
            act: What is done, such as ``visit kept``.
            author: Who, where and why.
            subject: What it is about.

        Raises:
            InputError: Nobody is named.
        """
        if not author.name.strip():
            raise InputError(Message("nobody is named: say who makes this entry, with --by"))
        writing = Entry(self._number + 1, act, subject, author)
        yield writing
        self._close(writing)

    def add(self, entry: Entry, table: Table, **values: object) -> int:
        """Add a row to an entry.

        Args:
            entry: The entry.
            table: Where the row goes.
            values: Its columns; those not named are empty.

        Returns:
            The number of the row.
        """
        number = self._next.get(table.name)
        if number is None:
            number = (
                int(self.connection.execute(select(func.coalesce(func.max(table.c.id), 0))).scalar_one()) + 1
            )
        self._next[table.name] = number + 1
        values |= {"id": number, "entry": entry.number}
        unknown = set(values) - set(table.c.keys())
        if unknown:
            raise KeyError(sorted(unknown)[0])
        row = tuple(_cell(column, values.get(column.name)) for column in table.columns)
        entry.rows.setdefault(table.name, []).append(row)
        return number

    def _close(self, entry: Entry) -> None:
        at = utc_text(self._clock())
        self.clock_behind |= bool(self._last_at) and at < self._last_at
        texts = (
            entry.author.zone,
            entry.author.name,
            entry.act,
            entry.subject,
            entry.author.why,
            self._program,
        )
        zone, name, act, subject, why, program = (_text(one) for one in texts)
        row = EntryRow(
            entry.number, at, zone, name, act, subject, why, program,
            digest(entry.rows), marks(entry.rows), self._head,
        )  # fmt: skip
        sha256 = row.own_sha256()
        self._number, self._head, self._last_at = entry.number, sha256, at
        self._queue(entries, [{**vars(row), "sha256": sha256}])
        for table in KEPT:
            if table.name in entry.rows:
                names = table.c.keys()
                self._queue(table, [dict(zip(names, each, strict=True)) for each in entry.rows[table.name]])
        if self._waiting_rows > FLUSH_ROWS:
            self.flush()

    def _queue(self, table: Table, rows: list[dict[str, object]]) -> None:
        self._waiting.setdefault(table.name, []).extend(rows)
        self._waiting_rows += len(rows)

    def flush(self) -> None:
        """Hand the rows gathered so far to the database, parents before children."""
        for table in (entries, *KEPT):
            rows = self._waiting.pop(table.name, None)
            if rows:
                self.connection.execute(insert(table), rows)
        self._waiting_rows = 0


class Store:
    """The records of a shop."""

    def __init__(self, place: Place, engine: Engine, clock: Clock, program: str) -> None:
        self.place, self.engine, self.folder = place, engine, Folder(place.files)
        self._clock, self._program = clock, program

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Read from one snapshot, whatever others write meanwhile."""
        engine = self.engine
        if self.place.sqlite is None:
            engine = engine.execution_options(isolation_level="REPEATABLE READ")
        with told_plainly(self.place.name), engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Transaction]:
        """Write one or more entries, all or nothing; when this ends without an error they are on the disk.

        Yields:
            The transaction.

        Raises:
            FileError: The database is locked, full, read-only or damaged; nothing was changed.
        """
        engine = self.engine.execution_options(writes=True)
        with told_plainly(self.place.name), one_writer(self.place), engine.begin() as connection:
            transaction = Transaction(connection, self._clock, self._program)
            yield transaction
            transaction.flush()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


def open_store(
    place: Place,
    *,
    create: bool = False,
    program: str = "",
    clock: Clock = utc_now,
    wait_s: float = WAIT_S,
) -> Store:
    """Open records; tables of an older version are brought up to date, whole or not at all.

    Args:
        place: Where they are.
        create: Whether to start new ones where there are none.
        program: The version of the program, kept with each entry.
        clock: Where the time comes from.
        wait_s: How long a writer waits for another one [s].

    Returns:
        The store.

    Raises:
        FileError: There are none, or they cannot be opened.
        InputError: They were written by a newer program.
    """
    if place.sqlite is not None and not create and not place.sqlite.is_file():
        raise FileError(_none_there(place))
    engine = open_engine(place, wait_s)
    try:
        with told_plainly(place.name):
            with engine.connect() as connection:
                version = version_of(connection)
            require_head(version, place.name)
            if not version and not create:
                raise FileError(_none_there(place))
            if version != HEAD:
                with one_writer(place):
                    migrate(engine)
    except BaseException:
        engine.dispose()
        raise
    return Store(place, engine, clock, program)


def _none_there(place: Place) -> Message:
    return Message(
        "{place}: there are no records; keep a first visit with «fanwright assess VISIT --keep --db {place}»,"
        " or name the right place with --db",
        {"place": text(place.name)},
    )


def _cell(column: Column[Any], value: object) -> object:
    """Bring a value to exactly what will be read back, so that its hash stays true."""
    if isinstance(column.type, Double):
        if value is None:
            return None
        number = float(cast("float", value)) + 0.0  # + 0.0 turns -0.0 into 0.0
        if not math.isfinite(number):
            raise DataError(Message("a number for {column} is not finite", {"column": text(column)}))
        return number
    if isinstance(column.type, BigInteger):
        if value is None:
            return None if column.nullable else 0
        return int(cast("int", value))
    return _text("" if value is None else str(value))


def _text(value: str) -> str:
    """Refuse what a database cannot give back: a zero character or half of a pair."""
    if "\x00" in value or _HALF_PAIR.search(value):
        raise InputError(
            Message(
                "{given} holds a character that cannot be kept; write it without",
                {"given": text(value[:40].encode("unicode_escape").decode("ascii"))},
            )
        )
    return value
