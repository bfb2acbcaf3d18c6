"""Where records are: a SQLite file and its folder of files, or a PostgreSQL address and a named folder."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from fanwright.errors import InputError
from fanwright.words import Message, text

FILES_VARIABLE = "FANWRIGHT_FILES"
PASSWORD_FILE_VARIABLE = "FANWRIGHT_DB_PASSWORD_FILE"  # noqa: S105 - the name of a variable, no password
POSTGRES = "postgresql+psycopg"


@dataclass(frozen=True)
class Place:
    """Where records are kept.

    Args:
        name: What people call it: the file, or the address without any password.
        url: The address for the database library.
        files: The folder of the files, named by the hash of their content.
        sqlite: The SQLite file, or None.
    """

    name: str
    url: str
    files: Path
    sqlite: Path | None


def place_of(named: str, files: Path | None = None, *, typed: bool = False) -> Place:
    """Find the place a name stands for.

    Args:
        named: A file name, or an address such as ``postgresql+psycopg://shop@host/fanwright``.
        files: The folder of the files; beside a SQLite file when not given.
        typed: Whether it stood on a command line, where a password is refused.

    Returns:
        The place; nothing is opened yet.

    Raises:
        InputError: It is neither, a password stands on the command line, or no folder for files is named.

    Example:
        >>> place_of("shop.db").files.name
        'shop.db.files'
    """
    if "://" not in named:
        path = Path(named).absolute()
        return Place(named, f"sqlite+pysqlite:///{path}", files or path.with_name(f"{path.name}.files"), path)
    return _server(named, files, typed=typed)


def _server(named: str, files: Path | None, *, typed: bool) -> Place:
    from sqlalchemy.engine import make_url
    from sqlalchemy.exc import ArgumentError

    try:
        url = make_url(named)
    except (ArgumentError, ValueError) as error:
        raise InputError(_no_address(named)) from error
    if url.drivername in ("postgresql", "postgres"):
        url = url.set(drivername=POSTGRES)
    if url.drivername != POSTGRES:
        raise InputError(_no_address(url.render_as_string(hide_password=True)))
    shown = url.set(password=None).render_as_string()
    if typed and url.password is not None:
        raise InputError(
            Message(
                "a password on the command line can be read by everyone on this machine: take it out, and put"
                " it into a file named by {variable}, or into PGPASSWORD",
                {"variable": text(PASSWORD_FILE_VARIABLE)},
            )
        )
    named_folder = os.environ.get(FILES_VARIABLE)
    folder = files or (Path(named_folder) if named_folder else None)
    if folder is None:
        raise InputError(
            Message(
                "{place}: name the folder in which files are kept beside this database, by {variable}",
                {"place": text(shown), "variable": text(FILES_VARIABLE)},
            )
        )
    password = _password_from_file()
    full = url if password is None else url.set(password=password)
    return Place(shown, full.render_as_string(hide_password=False), folder.absolute(), None)


def _no_address(shown: str) -> Message:
    return Message(
        "{given} is not a place for records: name a file, or postgresql+psycopg://user@host/database",
        {"given": text(shown)},
    )


def _password_from_file() -> str | None:
    named = os.environ.get(PASSWORD_FILE_VARIABLE)
    if not named:
        return None
    try:
        return Path(named).read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            Message(
                "the password file {file}, named by {variable}, cannot be read",
                {"file": text(named), "variable": text(PASSWORD_FILE_VARIABLE)},
            )
        ) from error
