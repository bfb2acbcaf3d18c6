"""The folder of a fleet's result: its list of recordings, its lock, its table of failures."""

from __future__ import annotations

import contextlib
import fcntl
import io
import os
import secrets
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from fanwright.desk.fleet_duty_addresses import shown
from fanwright.desk.spreadsheet import write_csv
from fanwright.errors import FileError, InputError
from fanwright.fleet.manifest import NAME, Entry, Manifest, header_line, read_manifest
from fanwright.fleet.tables import KINDS
from fanwright.report.writing import replace_file
from fanwright.words import Message, text

FAILURES = "failures.csv"
LOCK = ".lock"


@dataclass
class Result:
    """A result that is being written by this process alone.

    Args:
        folder: Where it is.
        manifest: What it held when it was opened.
        file: Its list, opened to append.
        added: What was added since.
    """

    folder: Path
    manifest: Manifest
    file: IO[bytes]
    added: list[Entry] = field(default_factory=list)

    @property
    def salt(self) -> str:
        """Salt of its masks of vehicle numbers."""
        return str(self.manifest.header["salt"])

    def add(self, entry: Entry) -> None:
        """Append a recording; when this returns the line is on the disk."""
        self.file.write(entry.line())
        self.file.flush()
        os.fsync(self.file.fileno())
        self.added.append(entry)

    def entries(self) -> tuple[Entry, ...]:
        """Give everything it holds now, the last line of each address."""
        return tuple({one.address: one for one in (*self.manifest.entries, *self.added)}.values())


@contextmanager
def opened(folder: Path, settings: Mapping[str, Any]) -> Iterator[Result]:
    """Open a result to write, or begin one.

    Args:
        folder: Where; its parent must exist.
        settings: What must be the same for all its recordings.

    Raises:
        InputError: It cannot be written, somebody else writes to it, or it was made with other settings.
    """
    try:
        folder.mkdir(exist_ok=True)
        lock = (folder / LOCK).open("wb")
    except OSError as error:
        raise FileError(_trouble(folder, error)) from error
    with lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise InputError(
                Message("{folder}: another run writes to it; wait for its end", {"folder": text(folder)})
            ) from None
        if not (folder / NAME).exists():
            _refuse_strange(folder)
            salt = secrets.token_hex(16)
            replace_file(folder / NAME, header_line({"salt": salt, **settings}))
        manifest = manifest_of(folder)
        _check_settings(folder, manifest, settings)
        with (folder / NAME).open("r+b") as file:
            file.truncate(manifest.whole_bytes)
            file.seek(0, os.SEEK_END)
            yield Result(folder, manifest, file)


def manifest_of(folder: Path) -> Manifest:
    """Read the list of a result.

    Raises:
        FileError: There is none, or it cannot be read.
    """
    try:
        content = (folder / NAME).read_bytes()
    except FileNotFoundError:
        raise FileError(
            Message(
                "{folder} is no result of a fleet; name the folder that was given with --into",
                {"folder": text(folder)},
            )
        ) from None
    except OSError as error:
        raise FileError(_trouble(folder, error)) from error
    return read_manifest(content, str(folder / NAME))


def _trouble(folder: Path, error: OSError) -> Message:
    return Message(
        "{folder} cannot be used: {reason}; name a folder inside one that may be written to",
        {"folder": text(folder), "reason": text(error.strerror or error)},
    )


def _refuse_strange(folder: Path) -> None:
    strange = [path.name for path in folder.iterdir() if path.name != LOCK]
    if strange:
        raise InputError(
            Message(
                "{folder} holds something else ({name}); name an empty or a new folder for the result",
                {"folder": text(folder), "name": text(shown(sorted(strange)[0]))},
            )
        )


def _check_settings(folder: Path, manifest: Manifest, settings: Mapping[str, Any]) -> None:
    for name, wanted in settings.items():
        if manifest.header.get(name) != wanted:
            raise InputError(
                Message(
                    "{folder} was made with another {what}; give the same, or name another folder",
                    {"folder": text(folder), "what": text(name.replace("_", " "))},
                )
            )


def tidy(result: Result) -> None:
    """Write the table of failures; remove tables that no recording in the list has."""
    failures = sorted((shown(one.address), one.failed) for one in result.entries() if one.failed)
    out = io.StringIO(newline="")
    write_csv(out, ("file", "reason"), failures)
    replace_file(result.folder / FAILURES, out.getvalue().encode("utf-8"))
    kept = {place for one in result.entries() for several in one.parts.values() for place in several}
    for kind in KINDS:
        for path in (result.folder / kind).rglob("*"):
            if path.is_file() and path.relative_to(result.folder).as_posix() not in kept:
                with contextlib.suppress(FileNotFoundError):
                    path.unlink()
