"""What a database complains of, as one clear line."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, OperationalError

from fanwright.errors import FileError
from fanwright.words import Message, text

# A piece of what SQLite or PostgreSQL say (lower case), and what that means to a person.
KNOWN: tuple[tuple[str, str], ...] = (
    (
        "database is locked",
        "{place} is being written by another program; nothing was changed; try again in a moment",
    ),
    (
        "lock timeout",
        "{place} is being written by another program; nothing was changed; try again in a moment",
    ),
    ("database or disk is full", "{place}: the disk is full; nothing was changed; make room and try again"),
    ("no space left", "{place}: the disk is full; nothing was changed; make room and try again"),
    (
        "readonly database",
        "{place} may only be read by this user; nothing was changed; ask for the right to write",
    ),
    ("read-only", "{place} may only be read by this user; nothing was changed; ask for the right to write"),
    ("permission denied", "{place}: this user has no right to that; nothing was changed; ask for the right"),
    (
        "file is not a database",
        "{place} is not a database, or its beginning is damaged; restore the last backup",
    ),
    ("malformed", "{place} is damaged; restore the last backup"),
    (
        "unable to open database file",
        "{place} cannot be opened; check that the folder exists and may be written to",
    ),
    ("disk i/o error", "{place}: the disk cannot be read or written; nothing was changed; check the disk"),
    ("never overwritten", "{place}: a row of the records may not be changed or taken out; add a correction"),
    ("password authentication failed", "{place}: the password was not accepted"),
    ("no password supplied", "{place} wants a password; see «fanwright --help» for where it is read from"),
    ("connection refused", "{place}: no server answers there; start it or check the address"),
    ("no such file or directory", "{place}: no server answers there; start it or check the address"),
    ("name or service not known", "{place}: there is no such host; check the address"),
    ("does not exist", "{place} is not there, or lacks a table: {said}"),
    ("server closed the connection", "{place}: the server went away; nothing was changed; try again"),
    ("terminating connection", "{place}: the server went away; nothing was changed; try again"),
)


@contextmanager
def told_plainly(place: str) -> Iterator[None]:
    """Turn what the database complains of into one clear line; a fault of our own goes through as it is.

    Args:
        place: What people call the records.

    Raises:
        FileError: The line.
    """
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        said = " ".join(str(error.orig if isinstance(error, DBAPIError) else error).split())
        template = next((template for piece, template in KNOWN if piece in said.lower()), "")
        if not template and not isinstance(error, OperationalError | sqlite3.OperationalError):
            raise
        raise FileError(_line(template or "{place} cannot be used: {said}", place, said)) from error


def _line(template: str, place: str, said: str) -> Message:
    return Message(
        template, {"place": text(place)} | ({"said": text(said[:200])} if "{said}" in template else {})
    )
