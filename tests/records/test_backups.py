"""A backup is one moment, whole, without keys; restored it equals the original, or nothing is restored."""

from __future__ import annotations

import contextlib
import io
import threading
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from fanwright.errors import FanwrightError, InputError
from fanwright.records.archive import backup, restore
from fanwright.records.engine import open_engine
from fanwright.records.migrating import migrate
from fanwright.records.model import Author
from fanwright.records.places import Place
from fanwright.records.store import Store, open_store, utc_now
from fanwright.records.tables import HEAD, METADATA, files, people
from fanwright.records.verifying import verify
from fanwright.report.say import say, say_all

ANA = Author("Ana", "UTC")


def add(store: Store, name: str) -> None:
    stored = store.folder.put_stream(io.BytesIO(name.encode()))
    with store.writing() as transaction, transaction.entry("person added", ANA) as entry:
        transaction.add(entry, people, name=name)
        transaction.add(entry, files, sha256=stored.sha256, size=stored.size)


def everything(store: Store) -> dict[str, list[tuple[Any, ...]]]:
    with store.reading() as connection:
        return {
            table.name: [
                tuple(row)
                for row in connection.execute(select(table).order_by(next(iter(table.primary_key))))
            ]
            for table in METADATA.sorted_tables
        }


@pytest.fixture
def archive(store: Store, tmp_path: Path) -> Path:
    for name in ("Ana", "Bö «x»", "Kit"):
        add(store, name)
    return backup(store, tmp_path / "b.zip", made_at=utc_now()).path


@pytest.mark.parametrize("to", ["sqlite", "postgresql"])
def test_a_restored_backup_equals_the_original(
    store: Store, archive: Path, new_place: Callable[[str], Place], to: str
) -> None:
    place = new_place(to)
    made = restore(archive, place)
    assert (made.entries, made.rows, made.files) == (3, 6, 3)
    again = open_store(place)
    with contextlib.closing(again):
        assert everything(again) == everything(store)
        assert sorted(path.name for path in again.folder.stored()) == sorted(
            path.name for path in store.folder.stored()
        )
        assert verify(again).head == verify(store).head
        add(again, "Rae")
        assert verify(again).sound


def test_a_backup_while_others_write_is_one_moment(
    store: Store, tmp_path: Path, new_place: Callable[[str], Place]
) -> None:
    add(store, "first")
    stop = threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            add(store, f"person {number}")
            number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(5):
            made = backup(store, tmp_path / f"{number}.zip", made_at=utc_now())
            place = new_place("sqlite")
            assert restore(made.path, place).head == made.head
    finally:
        stop.set()
        writer.join()
    assert verify(store).sound
    assert verify(store).entries > 5


def test_no_key_is_in_it(place: Place, archive: Path) -> None:
    with zipfile.ZipFile(archive) as packed:
        held = b"".join(packed.read(name) for name in packed.namelist())
        assert {name.partition("/")[0] for name in packed.namelist()} == {"tables", "files", "manifest.json"}
    assert place.url.encode() not in held
    assert str(place.files).encode() not in held
    assert archive.stat().st_mode & 0o077 == 0


def test_a_place_that_is_not_empty_is_refused(store: Store, archive: Path, place: Place) -> None:
    before = everything(store)
    with pytest.raises(InputError) as refused:
        restore(archive, place)
    assert "empty place" in say(refused.value.messages[0]) or "is there already" in say(
        refused.value.messages[0]
    )
    assert everything(store) == before


def rewritten(archive: Path, out: Path, change: Callable[[str, bytes], bytes | None]) -> Path:
    """Pack a backup anew, with one member changed or left out."""
    with zipfile.ZipFile(archive) as packed, zipfile.ZipFile(out, "w") as target:
        for name in packed.namelist():
            content = change(name, packed.read(name))
            if content is not None:
                target.writestr(name, content)
    return out


CHANGES: dict[str, Callable[[str, bytes], bytes | None]] = {
    "a row altered": lambda name, held: held.replace(b"Kit", b"Kim") if "people" in name else held,
    "a row missing": lambda name, held: b"\n".join(held.splitlines()[:-1]) if "people" in name else held,
    "a table missing": lambda name, held: None if "people" in name else held,
    "an entry missing": lambda name, held: b"\n".join(held.splitlines()[:-1]) if "entries" in name else held,
    "a file altered": lambda name, held: held + b"!" if name.startswith("files/") else held,
    "a file missing": lambda name, held: None if name.startswith("files/") else held,
    "no manifest": lambda name, held: None if name == "manifest.json" else held,
    "no JSON": lambda name, held: b"{" if name == "manifest.json" else held,
    "another form": lambda name, held: held.replace(b"backup 1", b"backup 9") if "manifest" in name else held,
    "a newer program": lambda name, held: (
        held.replace(f'"{HEAD}"'.encode(), b'"0999"') if "manifest" in name else held
    ),
    "another head": lambda name, held: (
        held.replace(b'"head": "', b'"head": "f') if name == "manifest.json" else held
    ),
}


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("to", ["sqlite", "postgresql"])
def test_an_altered_backup_restores_nothing(
    new_place: Callable[[str], Place], tmp_path: Path, change: str, to: str
) -> None:
    origin = open_store(new_place("sqlite"), create=True)
    with contextlib.closing(origin):
        for name in ("Ana", "Bo", "Kit"):
            add(origin, name)
        whole = backup(origin, tmp_path / "whole.zip", made_at=utc_now()).path
    damaged = rewritten(whole, tmp_path / "damaged.zip", CHANGES[change])
    place = new_place(to)
    with pytest.raises(FanwrightError) as refused:
        restore(damaged, place)
    assert all(say_all(refused.value.messages))
    assert not place.files.exists() or not any(place.files.iterdir())
    if place.sqlite is not None:
        assert not place.sqlite.exists()
    assert restore(whole, place).entries == 3  # the place is as empty as before


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.999])
def test_a_backup_cut_off_restores_nothing(
    archive: Path, new_place: Callable[[str], Place], share: float
) -> None:
    whole = archive.read_bytes()
    archive.write_bytes(whole[: int(len(whole) * share)])
    place = new_place("sqlite")
    with pytest.raises(FanwrightError):
        restore(archive, place)
    assert place.sqlite is not None
    assert not place.sqlite.exists()


def test_a_backup_lacking_a_file_of_the_records_is_not_made(store: Store, tmp_path: Path) -> None:
    add(store, "Ana")
    next(iter(store.folder.stored())).unlink()
    with pytest.raises(FanwrightError) as refused:
        backup(store, tmp_path / "b.zip", made_at=utc_now())
    assert "is missing from the records" in say(refused.value.messages[0])
    assert list(tmp_path.glob("*.zip")) == []


def test_a_backup_of_older_tables_is_brought_up_to_date(
    new_place: Callable[[str], Place], tmp_path: Path
) -> None:
    store = open_store(new_place("sqlite"), create=True)
    with contextlib.closing(store):
        add(store, "Ana")
        whole = backup(store, tmp_path / "b.zip", made_at=utc_now()).path
        head = verify(store).head

    def as_older(name: str, held: bytes) -> bytes | None:
        if name in ("tables/mappings.jsonl", "tables/learning_marks.jsonl"):
            return None
        if name == "manifest.json":
            import json

            told = json.loads(held) | {"tables_version": "0001"}
            for later in ("mappings", "learning_marks"):
                del told["rows"][later]
            return json.dumps(told).encode()
        return held

    place = new_place("sqlite")
    assert restore(rewritten(whole, tmp_path / "old.zip", as_older), place).head == head
    again = open_store(place)
    with contextlib.closing(again):
        assert verify(again).sound


def test_tables_without_rows_are_an_empty_place(archive: Path, new_place: Callable[[str], Place]) -> None:
    place = new_place("postgresql")
    engine = open_engine(place)
    migrate(engine)
    engine.dispose()
    assert restore(archive, place).entries == 3
