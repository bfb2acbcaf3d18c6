"""Tables go up and down on filled records, alike in both databases; a step that fails changes nothing."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import inspect, text

from fanwright.errors import InputError
from fanwright.records.access_tables import METADATA as ACCESS
from fanwright.records.engine import open_engine
from fanwright.records.migrating import SCRIPTS, migrate, version_of
from fanwright.records.model import Author
from fanwright.records.places import Place
from fanwright.records.store import Store, open_store
from fanwright.records.tables import HEAD, METADATA, people, trucks
from fanwright.records.verifying import verify
from fanwright.report.say import say


def fill(store: Store, ana: Author) -> None:
    for unit in ("214", "215"):
        with store.writing() as transaction, transaction.entry("truck added", ana, unit) as entry:
            transaction.add(entry, trucks, unit=unit)
            transaction.add(entry, people, name=unit)


def test_the_steps_lead_to_the_tables_of_today(store: Store) -> None:
    with store.engine.connect() as connection:
        assert version_of(connection) == HEAD
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, [METADATA, ACCESS]) == []


def test_down_and_up_again_on_filled_records(store: Store, ana: Author) -> None:
    fill(store, ana)
    head = verify(store).head
    migrate(store.engine, "0001")
    with store.engine.connect() as connection:
        assert version_of(connection) == "0001"
        assert "learning_marks" not in inspect(connection).get_table_names()
        assert connection.execute(text("SELECT count(*) FROM trucks")).scalar() == 2
    migrate(store.engine, HEAD)
    found = verify(store)
    assert found.sound
    assert found.head == head


def test_down_to_nothing(store: Store, ana: Author) -> None:
    fill(store, ana)
    migrate(store.engine, "base")
    with store.engine.connect() as connection:
        assert set(inspect(connection).get_table_names()) <= {"alembic_version"}


def test_older_tables_are_brought_up_to_date_when_opened(place: Place, ana: Author) -> None:
    engine = open_engine(place)
    migrate(engine, "0001")
    engine.dispose()
    store = open_store(place)
    fill(store, ana)
    with store.engine.connect() as connection:
        assert version_of(connection) == HEAD
    assert verify(store).sound
    store.close()


def test_tables_of_a_newer_program_are_refused(store: Store, place: Place) -> None:
    with store.engine.execution_options(writes=True).begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0999'")
    with pytest.raises(InputError) as refused:
        open_store(place)
    assert "newer version" in say(refused.value.messages[0])


BROKEN = '''"""A step that changes much and then fails."""

import sqlalchemy as sa
from alembic import op

revision = "0099"
down_revision = "%s"
branch_labels = None
depends_on = None


def upgrade():
    with op.batch_alter_table("people") as table:
        table.add_column(sa.Column("phone", sa.Text))
    op.create_table("extra", sa.Column("id", sa.Integer, primary_key=True))
    op.execute("INSERT INTO people (id, entry, name) VALUES (99, 1, 'half')")
    raise RuntimeError("the power went")


def downgrade():
    pass
'''


@pytest.fixture
def broken_scripts(tmp_path: Path) -> Path:
    scripts = tmp_path / "scripts"
    scripts.mkdir()
    for path in SCRIPTS.glob("v*.py"):
        shutil.copy(path, scripts)
    (scripts / "v0099_broken.py").write_text(BROKEN % HEAD)
    return scripts


def test_a_step_that_fails_leaves_everything_as_it_was(
    store: Store, ana: Author, broken_scripts: Path
) -> None:
    fill(store, ana)
    with pytest.raises(RuntimeError, match="the power went"):
        migrate(store.engine, "0099", scripts=broken_scripts)
    with store.engine.connect() as connection:
        assert version_of(connection) == HEAD
        assert "extra" not in inspect(connection).get_table_names()
        assert "phone" not in [column["name"] for column in inspect(connection).get_columns("people")]
    assert verify(store).sound
    fill_more = Author("Bo", "UTC")
    with store.writing() as transaction, transaction.entry("person added", fill_more) as entry:
        transaction.add(entry, people, name="Bo")
    with pytest.raises(Exception, match="may not be changed"), store.writing() as transaction:
        transaction.connection.exec_driver_sql("DELETE FROM people")
    assert verify(store).entries == 3


def test_a_column_that_comes_later_leaves_old_hashes_true(
    store: Store, ana: Author, broken_scripts: Path
) -> None:
    fill(store, ana)
    path = broken_scripts / "v0099_broken.py"
    path.write_text(
        (BROKEN % HEAD).partition('    op.create_table("extra"')[0] + "\n\ndef downgrade():\n    pass\n"
    )
    migrate(store.engine, "0099", scripts=broken_scripts)
    with store.engine.connect() as connection:
        assert "phone" in [column["name"] for column in inspect(connection).get_columns("people")]
    assert verify(store).sound


def test_two_programs_may_start_the_same_records(new_place: Callable[[str], Place], kind: str) -> None:
    import threading

    place = new_place(kind)
    stores: list[Store] = []
    threads = [
        threading.Thread(target=lambda: stores.append(open_store(place, create=True))) for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(stores) == 4
    assert verify(stores[0]).sound
    for store in stores:
        store.close()
