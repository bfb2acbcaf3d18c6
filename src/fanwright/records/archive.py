"""A backup: one zip file with every row as text and every file, made while others write, for both databases.

It holds ``manifest.json``, ``tables/NAME.jsonl`` (a line with the columns, then a line a row) and
``files/SHA256``. Addresses, passwords and keys are not in it.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import shutil
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, MetaData, Table, func, insert, inspect, select
from sqlalchemy.exc import DataError as SQLDataError
from sqlalchemy.exc import IntegrityError, ProgrammingError

from fanwright.errors import FileError, InputError
from fanwright.records.engine import open_engine
from fanwright.records.files import Folder
from fanwright.records.migrating import migrate, require_head, version_of
from fanwright.records.places import Place
from fanwright.records.store import Store, utc_text
from fanwright.records.tables import HEAD, KEPT, entries, files
from fanwright.records.trouble import told_plainly
from fanwright.records.verifying import Walk
from fanwright.words import Message, count, text

FORM = "fanwright backup 1"
AT_ONCE = 5_000
# What a damaged or altered zip file, its texts and the rows in it can bring about.
DAMAGE = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError, KeyError, TypeError,
    IndexError, IntegrityError, SQLDataError, ProgrammingError,
)  # fmt: skip
FILE_NAME = re.compile(r"files/([0-9a-f]{64})")
_encode = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode


@dataclass(frozen=True)
class Archived:
    """A backup that was written or read back.

    Args:
        path: The zip file.
        entries: How many entries it holds.
        rows: How many rows they vouch for.
        files: How many files.
        head: SHA-256 of its last entry.
    """

    path: Path
    entries: int
    rows: int
    files: int
    head: str


def backup(store: Store, out: Path, *, made_at: dt.datetime) -> Archived:
    """Write a backup of one moment; others may go on writing meanwhile.

    Args:
        store: The records.
        out: The zip file; it appears whole or not at all.
        made_at: The time now.

    Returns:
        What it holds.

    Raises:
        FileError: It cannot be written, or a file of the records is missing.
    """
    beside: Path | None = None
    try:
        handle, name = tempfile.mkstemp(dir=out.parent, prefix=".fanwright-", suffix=".part")
        beside = Path(name)
        with os.fdopen(handle, "wb") as target:
            with store.reading() as connection, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed:
                made = _pack(store, connection, packed, out, made_at)
            target.flush()
            os.fsync(target.fileno())
        beside.chmod(0o600)
        beside.replace(out)
    except OSError as error:
        raise FileError(
            Message(
                "{file} cannot be written: {reason}; nothing was left there",
                {"file": text(out), "reason": text(error.strerror or error)},
            )
        ) from error
    finally:
        if beside is not None:
            beside.unlink(missing_ok=True)
    return made


def _pack(
    store: Store, connection: Connection, packed: zipfile.ZipFile, out: Path, made_at: dt.datetime
) -> Archived:
    rows = {table.name: _pack_table(connection, packed, table) for table in (entries, *KEPT)}
    missing = []
    for (sha256,) in connection.execute(select(files.c.sha256).order_by(files.c.id)):
        path = store.folder.path(sha256)
        if path.is_file():
            packed.write(path, "files/" + sha256)
        else:
            missing.append(Message("file {file} is missing from the records", {"file": text(path)}))
    if missing:
        raise FileError(missing)
    last = connection.execute(select(entries.c.sha256).order_by(entries.c.number.desc()).limit(1)).scalar()
    head = last or ""
    manifest = {
        "form": FORM,
        "made_at_utc": utc_text(made_at),
        "tables_version": version_of(connection),
        "head": head,
        "rows": rows,
    }
    packed.writestr("manifest.json", json.dumps(manifest, indent=1))
    return Archived(out, rows["entries"], sum(rows.values()) - rows["entries"], rows["files"], head)


def _pack_table(connection: Connection, packed: zipfile.ZipFile, table: Table) -> int:
    number = 0
    first = next(iter(table.primary_key))
    with packed.open("/".join(("tables", table.name)) + ".jsonl", "w", force_zip64=True) as member:
        member.write((_encode(table.c.keys()) + "\n").encode())
        streaming = connection.execution_options(stream_results=True, max_row_buffer=AT_ONCE)
        result = streaming.execute(select(table).order_by(first))
        while part := result.fetchmany(AT_ONCE):
            member.write("".join(_encode(list(row)) + "\n" for row in part).encode())
            number += len(part)
    return number


def restore(path: Path, place: Place) -> Archived:
    """Read a backup back into an empty place, and verify it before it counts.

    Args:
        path: The zip file.
        place: An empty place: no file of that name yet, or a database without tables or rows.

    Returns:
        What was restored.

    Raises:
        FileError: The backup is damaged or not one; the place is as empty as before.
        InputError: The place is not empty, or the backup comes from a newer program.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            manifest = _manifest(packed, path)
            require_head(str(manifest["tables_version"]), str(path))
            _require_empty(place)
            if place.sqlite is not None:
                return _into_file(packed, path, manifest, place, place.sqlite)
            return _into(packed, path, manifest, place)
    except DAMAGE as error:
        raise FileError(
            Message(
                "{file} is not a whole backup: it is damaged or was altered; nothing was restored",
                {"file": text(path)},
            )
        ) from error
    except OSError as error:
        raise FileError(
            Message(
                "{file} cannot be restored: {reason}; nothing was restored",
                {"file": text(path), "reason": text(error.strerror or error)},
            )
        ) from error


def _manifest(packed: zipfile.ZipFile, path: Path) -> dict[str, Any]:
    found = json.loads(packed.read("manifest.json"))
    if not isinstance(found, dict) or found.get("form") != FORM:
        raise FileError(Message("{file} is not a backup of these records", {"file": text(path)}))
    return found


def _require_empty(place: Place) -> None:
    if place.sqlite is not None and place.sqlite.exists():
        raise InputError(
            Message(
                "{file} is there already; restore under a name that is not taken", {"file": text(place.name)}
            )
        )
    if place.files.exists() and any(place.files.iterdir()):
        raise InputError(
            Message(
                "{folder} holds files already; restore into an empty place", {"folder": text(place.files)}
            )
        )


def _into_file(
    packed: zipfile.ZipFile, path: Path, manifest: dict[str, Any], place: Place, target: Path
) -> Archived:
    """Build beside the place, and put it there only when it is whole."""
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=".fanwright-restore-") as name:
        built = Path(name) / "records"
        beside = Place(place.name, "".join(("sqlite+pysqlite:///", str(built))), Path(name) / "files", built)
        made = _into(packed, path, manifest, beside)
        if beside.files.exists():
            if place.files.exists():
                place.files.rmdir()
            shutil.move(beside.files, place.files)
        built.replace(target)
    return made


def _into(packed: zipfile.ZipFile, path: Path, manifest: dict[str, Any], place: Place) -> Archived:
    version = str(manifest["tables_version"])
    engine = open_engine(place)
    try:
        with told_plainly(place.name):
            _require_empty_tables(engine.connect(), place)
            migrate(engine, version)
            restored = 0
            try:
                restored = _unpack_files(packed, Folder(place.files))
                with engine.execution_options(writes=True).begin() as connection:
                    made = _load(connection, packed, path, manifest)
            except BaseException:
                shutil.rmtree(place.files, ignore_errors=True)
                raise
            if version != HEAD:
                migrate(engine)
            _settle(place, engine)
    finally:
        engine.dispose()
    return replace(made, files=restored)


def _settle(place: Place, engine: Any) -> None:
    """Bring everything from the write-ahead log into the file itself, so that it can be moved alone."""
    if place.sqlite is not None:
        with engine.connect() as connection:
            connection.connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _require_empty_tables(connecting: Connection, place: Place) -> None:
    with connecting as connection:
        if (
            inspect(connection).has_table("entries")
            and connection.execute(select(func.count()).select_from(entries)).scalar()
        ):
            raise InputError(
                Message(
                    "{place} holds records already; restore into an empty place", {"place": text(place.name)}
                )
            )


def _load(connection: Connection, packed: zipfile.ZipFile, path: Path, manifest: dict[str, Any]) -> Archived:
    reflected = MetaData()
    reflected.reflect(connection)
    ordered = [table for table in reflected.sorted_tables if table.name in manifest["rows"]]
    ordered.sort(key=lambda table: table.name != "entries")
    for table in ordered:
        for rows in _rows(packed, table.name):
            connection.execute(insert(table), rows)
    walk = Walk(connection, [table for table in ordered if table.name != "entries"])
    walk.run(str(manifest["head"]))
    if walk.wrong:
        raise FileError(
            (
                Message("{file} does not hold together; nothing was restored", {"file": text(path)}),
                *walk.wrong,
            )
        )
    listed = connection.execute(select(files.c.sha256)).scalars()
    missing = [sha256 for sha256 in listed if "files/" + sha256 not in packed.NameToInfo]
    if missing:
        raise FileError(
            Message(
                "{file} lacks {number} files that its entries speak of; nothing was restored",
                {"file": text(path), "number": count(len(missing))},
            )
        )
    return Archived(path, walk.count, walk.rows, 0, walk.head)


def _rows(packed: zipfile.ZipFile, table: str) -> Iterator[list[dict[str, Any]]]:
    with packed.open("/".join(("tables", table)) + ".jsonl") as member:
        names = json.loads(member.readline())
        part: list[dict[str, Any]] = []
        for line in member:
            part.append(dict(zip(names, json.loads(line), strict=True)))
            if len(part) >= AT_ONCE:
                yield part
                part = []
        if part:
            yield part


def _unpack_files(packed: zipfile.ZipFile, folder: Folder) -> int:
    number = 0
    for member in packed.infolist():
        named = FILE_NAME.fullmatch(member.filename)
        if named is None:
            continue
        with packed.open(member) as stream:
            stored = folder.put_stream(stream)
        if stored.sha256 != named[1]:
            raise ValueError(member.filename)
        number += 1
    return number
