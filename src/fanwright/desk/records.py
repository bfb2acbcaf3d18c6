"""Opens the records a command means: the ones named, else the environment's, else those of this folder."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.errors import FileError
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.records.model import Author
    from fanwright.records.places import Place
    from fanwright.records.store import Store

DB_VARIABLE = "FANWRIGHT_DB"
BY_VARIABLE = "FANWRIGHT_BY"
ZONE_VARIABLE = "FANWRIGHT_ZONE"
DEFAULT = "fanwright.db"


def named_records(db: str | None) -> str | None:
    """Say which records are meant, if any are named on the command line or by the environment."""
    return db or os.environ.get(DB_VARIABLE) or None


def place_named(db: str | None, files: Path | None = None, *, create: bool = False) -> Place:
    """Find the place of the records.

    Args:
        db: What was typed, or None.
        files: The folder of the files, or None.
        create: Whether new records may be started in this folder when nothing is named.

    Returns:
        The place.

    Raises:
        FileError: Nothing is named, and there are none in this folder.
        InputError: The name is no place for records.
    """
    from fanwright.records.places import place_of

    named = named_records(db)
    if named is None and not create and not Path(DEFAULT).is_file():
        raise FileError(
            Message(
                "no records are named and there is no {file} here: name them with --db or {variable},"
                " or start some with «fanwright demo --db demo.db»",
                {"file": text(DEFAULT), "variable": text(DB_VARIABLE)},
            )
        )
    return place_of(named or DEFAULT, files, typed=db is not None)


def open_records(db: str | None, *, create: bool = False) -> Store:
    """Open the records.

    Args:
        db: What was typed, or None.
        create: Whether to start new ones where there are none.

    Returns:
        The store.

    Raises:
        FileError: There are none, or they cannot be opened.
        InputError: The name is no place for records.
    """
    from fanwright import __version__
    from fanwright.records.store import open_store

    return open_store(place_named(db, create=create), create=create, program=__version__)


def author(by: str | None, why: str | None = None, otherwise: str = "") -> Author:
    """Say who writes.

    Args:
        by: The name given, or None: then the environment's, then ``otherwise``.
        why: The reason given, or None.
        otherwise: Who it is when nobody is named.

    Returns:
        The author, in the zone of the environment or of this machine.
    """
    from fanwright.records.model import Author

    return Author(by or os.environ.get(BY_VARIABLE, "") or otherwise, _zone(), why or "")


def _zone() -> str:
    """The shop's zone: the environment's, else the name this machine goes by, else its offset now."""
    named = os.environ.get(ZONE_VARIABLE) or os.environ.get("TZ")
    if named:
        return named.lstrip(":")
    local = Path("/etc/localtime")
    if local.is_symlink():
        _, _, name = str(local.resolve()).partition("zoneinfo/")
        if name:
            return "UTC" if name in ("Etc/UTC", "UTC") else name
    return dt.datetime.now().astimezone().strftime("%z")
