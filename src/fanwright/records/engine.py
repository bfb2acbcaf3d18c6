"""How the two databases are opened, so that an answered write survives a power cut."""

from __future__ import annotations

import importlib
import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event

from fanwright.errors import InputError
from fanwright.records.places import Place
from fanwright.words import Message, text

WAIT_S = 10.0
SETTINGS = (
    "PRAGMA foreign_keys=ON",
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=FULL",
    "PRAGMA cache_size=-16000",
)
ADVISORY_LOCK = 0x66616E77  # any fixed number; all writers of these records ask for the same one
_TURNS: dict[str, Turns] = {}
_TURNS_GUARD = threading.Lock()


def open_engine(place: Place, wait_s: float = WAIT_S) -> Engine:
    """Open a database.

    Args:
        place: Where it is.
        wait_s: How long a writer waits for another one [s].

    Returns:
        The engine; SQLite with a write-ahead log and full syncing, PostgreSQL with a limit on waiting.
    """
    engine = _sqlite(place, wait_s) if place.sqlite else _postgres(place, wait_s)
    event.listen(engine, "begin", _begin_sqlite if place.sqlite else _begin_postgres)
    return engine


def _sqlite(place: Place, wait_s: float) -> Engine:
    engine = create_engine(place.url, connect_args={"timeout": wait_s})

    def prepare(connection: Any, _record: object) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves, so that changes of tables roll back too
        cursor = connection.cursor()
        try:
            for setting in SETTINGS:
                cursor.execute(setting)
        finally:
            cursor.close()

    event.listen(engine, "connect", prepare)
    return engine


def _postgres(place: Place, wait_s: float) -> Engine:
    try:
        importlib.import_module("psycopg")  # only to say plainly that it is absent
    except ImportError as error:
        raise InputError(
            Message(
                "{place} needs the PostgreSQL driver, which is not installed: install fanwright[postgres]",
                {"place": text(place.name)},
            )
        ) from error
    options = f"-c lock_timeout={int(wait_s * 1000)} -c synchronous_commit=on -c timezone=UTC"
    return create_engine(place.url, connect_args={"options": options}, isolation_level="READ COMMITTED")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _begin_postgres(connection: Connection) -> None:
    if connection.get_execution_options().get("writes", False):
        connection.exec_driver_sql("SELECT pg_advisory_xact_lock(%s)", (ADVISORY_LOCK,))


class Turns:
    """A lock that is handed on in the order of asking; a plain one lets the quick starve the slow."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._waiting: deque[threading.Lock] = deque()
        self._taken = False

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Wait for one's turn, and hand it on at the end."""
        mine = self._ask()
        try:
            if mine is not None:
                mine.acquire()
        except BaseException:
            self._leave(mine)
            raise
        try:
            yield
        finally:
            self._hand_on()

    def _ask(self) -> threading.Lock | None:
        with self._guard:
            if not self._taken:
                self._taken = True
                return None
            mine = threading.Lock()
            mine.acquire()
            self._waiting.append(mine)
            return mine

    def _leave(self, mine: threading.Lock | None) -> None:
        """Somebody gave up waiting; if the turn had just been given, it goes on to the next."""
        with self._guard:
            if mine is not None and mine in self._waiting:
                self._waiting.remove(mine)
                return
        self._hand_on()

    def _hand_on(self) -> None:
        with self._guard:
            if self._waiting:
                self._waiting.popleft().release()
            else:
                self._taken = False


@contextmanager
def one_writer(place: Place) -> Iterator[None]:
    """Let one thread of this process write at a time; waiting here is fairer than waiting in the database."""
    with _TURNS_GUARD:
        turns = _TURNS.setdefault(place.url, Turns())
    with turns.turn():
        yield
