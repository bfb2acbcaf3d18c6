"""Back up, restore, verify, and show what the law no longer asks for."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.desk.records import open_records, place_named
from fanwright.errors import InputError
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.records.archive import Archived
    from fanwright.records.retention import Beyond
    from fanwright.records.verifying import Verified


def make_backup(db: str | None, out: Path) -> Archived:
    """Write a backup while others go on writing.

    Args:
        db: The records.
        out: The zip file; an existing one is never written over.

    Returns:
        What it holds.

    Raises:
        InputError: The file exists already.
        FileError: It cannot be written.
    """
    from fanwright.records.archive import backup

    if out.exists():
        raise InputError(
            Message("{file} is there already; give the backup a name of its own", {"file": text(out)})
        )
    store = open_records(db)
    try:
        return backup(store, out, made_at=dt.datetime.now(dt.UTC))
    finally:
        store.close()


def restore_backup(path: Path, db: str | None) -> Archived:
    """Read a backup back into an empty place.

    Args:
        path: The zip file.
        db: The place.

    Returns:
        What was restored and verified.

    Raises:
        InputError: The place is not empty.
        FileError: The backup is damaged, or the place cannot be written to.
    """
    from fanwright.records.archive import restore

    return restore(path, place_named(db, create=True))


def verify_records(db: str | None, expected_head: str = "", *, with_files: bool = True) -> Verified:
    """Walk the chain of entries and read every file again.

    Args:
        db: The records.
        expected_head: SHA-256 of an entry noted earlier, or empty.
        with_files: Whether files are read.

    Returns:
        What was found.

    Raises:
        FileError: The records cannot be read.
    """
    from fanwright.records.verifying import verify

    store = open_records(db)
    try:
        return verify(store, expected_head=expected_head, with_files=with_files)
    finally:
        store.close()


def show_retention(db: str | None, today: dt.date) -> tuple[Beyond, ...]:
    """List what is older than the rule asks for; nothing is ever removed.

    Args:
        db: The records.
        today: The day counted back from.

    Returns:
        A line for each truck that has such records.

    Raises:
        FileError: The records cannot be read.
    """
    from fanwright.records.retention import beyond_rule

    store = open_records(db)
    try:
        return beyond_rule(store, today)
    finally:
        store.close()
