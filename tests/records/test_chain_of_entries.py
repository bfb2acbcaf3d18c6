"""The chain: what was changed, taken out or slipped in behind the program's back is named."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable

import pytest
from sqlalchemy import Connection, inspect, text

from fanwright.errors import FileError, InputError
from fanwright.records.model import Author
from fanwright.records.places import Place
from fanwright.records.store import Store, open_store
from fanwright.records.tables import files, people, trucks
from fanwright.records.verifying import verify
from fanwright.report.say import say

Tamper = Callable[[Connection], None]


def fill(store: Store, ana: Author, number: int = 5) -> None:
    for each in range(1, number + 1):
        with store.writing() as transaction, transaction.entry("truck added", ana, f"{each}") as entry:
            transaction.add(entry, trucks, unit=f"{each}")
            transaction.add(entry, people, name=f"Person {each}")


def tamper(store: Store, *statements: str) -> None:
    """Change rows as somebody with the file or the server in their hands would: guards off first."""
    sqlite = store.engine.dialect.name == "sqlite"
    with store.engine.execution_options(writes=True).begin() as connection:
        tables = inspect(connection).get_table_names()
        for table in tables:
            for act in ("update", "delete"):
                on = "" if sqlite else f" ON {table}"
                connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS keep_{table}_{act}{on}")
        for statement in statements:
            connection.execute(text(statement))


def wrong(store: Store, head: str = "") -> list[str]:
    return [say(message) for message in verify(store, expected_head=head).wrong]


def test_a_sound_chain(store: Store, ana: Author) -> None:
    fill(store, ana)
    found = verify(store)
    assert found.sound
    assert (found.entries, found.rows, found.files) == (5, 10, 0)
    assert wrong(store, found.head) == []


def test_empty_records_are_sound(store: Store) -> None:
    found = verify(store)
    assert found.sound
    assert (found.entries, found.head) == (0, "0" * 64)


@pytest.mark.parametrize(
    ("statement", "expected"),
    [
        (
            "UPDATE people SET name = 'Zoe' WHERE id = 3",
            "entry 3: row 3 of people was altered after it was written",
        ),
        ("DELETE FROM people WHERE id = 2", "entry 2: row 2 of people is missing"),
        (
            "INSERT INTO people (id, entry, name) VALUES (6, 5, 'Max')",
            "entry 5: row 6 of people was added later; no entry vouches for it",
        ),
        ("UPDATE entries SET made_by = 'Bo' WHERE number = 4", "entry 4 was altered after it was written"),
        ("UPDATE entries SET why = 'so' WHERE number = 1", "entry 1 was altered after it was written"),
        (
            "UPDATE people SET entry = 4 WHERE id = 5",
            "entry 4: row 5 of people was added later; no entry vouches for it",
        ),
    ],
)
def test_the_first_wrong_row_is_named(store: Store, ana: Author, statement: str, expected: str) -> None:
    fill(store, ana)
    tamper(store, statement)
    assert wrong(store) == [expected]


def test_an_entry_taken_out_is_named(store: Store, ana: Author) -> None:
    fill(store, ana)
    gone = [f"DELETE FROM {table} WHERE entry = 3" for table in ("people", "trucks")]
    tamper(store, *gone, "DELETE FROM entries WHERE number = 3")
    assert wrong(store) == ["entry 3 is missing"]


def test_a_rewritten_entry_breaks_the_next(store: Store, ana: Author) -> None:
    """Somebody who makes the hash of one entry anew still cannot hide from the entry after it."""
    fill(store, ana)
    with store.engine.connect() as connection:
        row = connection.execute(text("SELECT * FROM entries WHERE number = 2")).mappings().one()
    held = {**row, "made_by": "Bo"}
    covered = [held[key] for key in row if key != "sha256"]
    forged = hashlib.sha256(json.dumps(covered, separators=(",", ":")).encode()).hexdigest()
    tamper(store, f"UPDATE entries SET made_by = 'Bo', sha256 = '{forged}' WHERE number = 2")
    assert wrong(store) == ["entry 3 does not follow the one before it: one of the two was altered"]


def test_an_end_cut_off_is_seen_by_a_hash_noted_earlier(store: Store, ana: Author) -> None:
    fill(store, ana)
    head = verify(store).head
    gone = [f"DELETE FROM {table} WHERE entry = 5" for table in ("people", "trucks")]
    tamper(store, *gone, "DELETE FROM entries WHERE number = 5")
    assert wrong(store) == []
    (said,) = wrong(store, head)
    assert "entries were taken off its end" in said


def test_rows_without_their_entry_are_named(store: Store, ana: Author) -> None:
    fill(store, ana, 2)
    keys_off = "PRAGMA foreign_keys=OFF" if store.place.sqlite else "SET session_replication_role = replica"
    with store.engine.connect() as connection:
        cursor = connection.connection.cursor()
        cursor.execute(keys_off)
        for table in ("entries",):
            drop = f"DROP TRIGGER keep_{table}_delete" + ("" if store.place.sqlite else f" ON {table}")
            cursor.execute(drop)
        cursor.execute("DELETE FROM entries WHERE number = 2")
        connection.connection.commit()
        connection.invalidate()
    (said,) = wrong(store)
    assert "entries after 1 are missing" in said


@pytest.mark.parametrize("act", ["UPDATE people SET name = 'x'", "DELETE FROM people", "DELETE FROM entries"])
def test_the_database_refuses_to_change_a_row(store: Store, ana: Author, act: str) -> None:
    fill(store, ana, 1)
    with pytest.raises(FileError) as refused, store.writing() as transaction:
        transaction.connection.exec_driver_sql(act)
    assert "may not be changed or taken out" in say(refused.value.messages[0])
    assert verify(store).sound


def test_files_missing_altered_added_and_left_over(store: Store, ana: Author, tmp_path: object) -> None:
    import io

    kept = [store.folder.put_stream(io.BytesIO(content)) for content in (b"one", b"two", b"three")]
    with store.writing() as transaction, transaction.entry("files kept", ana) as entry:
        for one in kept:
            transaction.add(entry, files, sha256=one.sha256, size=one.size)
    assert verify(store).sound
    assert verify(store).files == 3
    left = store.folder.put_stream(io.BytesIO(b"a write that was cut off"))
    found = verify(store)
    assert found.sound
    assert [left.sha256 in say(note) for note in found.notes] == [True]

    altered, missing = store.folder.path(kept[0].sha256), store.folder.path(kept[1].sha256)
    altered.chmod(0o644)
    altered.write_bytes(b"eno")
    missing.unlink()
    added = store.folder.root / "note.txt"
    added.write_text("hello")
    assert wrong(store) == [
        f"file {altered} was altered after it was kept",
        f"file {missing} is missing",
        f"file {added} was added without an entry",
    ]


def test_a_clock_set_back_is_noted_and_nothing_is_lost(place: Place, ana: Author) -> None:
    times = iter([dt.datetime(2026, 4, 14, 12, tzinfo=dt.UTC), dt.datetime(2026, 4, 13, 12, tzinfo=dt.UTC)])
    store = open_store(place, create=True, clock=lambda: next(times))
    behind = []
    for name in ("Ana", "Bo"):
        with store.writing() as transaction:
            with transaction.entry("person added", ana) as entry:
                transaction.add(entry, people, name=name)
            behind.append(transaction.clock_behind)
    found = verify(store)
    store.close()
    assert behind == [False, True]
    assert found.sound
    assert [say(note) for note in found.notes] == [
        "entry 2 is dated before the one it follows: the clock was set back"
    ]


def test_an_entry_needs_a_name(store: Store) -> None:
    with (
        pytest.raises(InputError),
        store.writing() as transaction,
        transaction.entry("x", Author(" ", "UTC")) as entry,
    ):
        transaction.add(entry, people, name="x")
    assert verify(store).entries == 0


@pytest.mark.parametrize("name", ["a\x00b", "half \ud800 pair"])
def test_a_character_that_cannot_be_kept_is_refused(store: Store, ana: Author, name: str) -> None:
    with (
        pytest.raises(InputError, match="cannot be kept"),
        store.writing() as transaction,
        transaction.entry("x", ana) as entry,
    ):
        transaction.add(entry, people, name=name)
    assert verify(store).entries == 0


def test_texts_and_numbers_come_back_exactly(store: Store, ana: Author) -> None:
    """Hashes stay true only when every value is read back bit by bit."""
    from fanwright.records.tables import calibrations, instruments

    numbers = [0.1 + 0.2, 1e-300, -0.0, 5.0, 2.0**53 + 1, 1 / 3, None]
    names = ["Zoë «Ω» 漢字 🚚", "'; DROP TABLE people; --", "", "\\", "%s :x", "line\nbreak"]
    with store.writing() as transaction, transaction.entry("x", ana, "ü") as entry:
        number = transaction.add(entry, instruments, number="G-07")
        for value in numbers:
            transaction.add(entry, calibrations, instrument=number, offset_si=value)
        for name in names:
            transaction.add(entry, people, name=name)
    assert verify(store).sound
    with store.reading() as connection:
        assert [*connection.execute(text("SELECT name FROM people ORDER BY id")).scalars()] == names
        back = [*connection.execute(text("SELECT offset_si FROM calibrations ORDER BY id")).scalars()]
    assert back == numbers
