"""From one shape of the database to the next and back, whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, inspect, text

from fanwright.errors import InputError
from fanwright.records.access_tables import METADATA as ACCESS
from fanwright.records.access_tables import NAMES as CHANGING
from fanwright.records.tables import HEAD, METADATA
from fanwright.words import Message
from fanwright.words import text as quoted

SCRIPTS = Path(__file__).parent / "migrations"
VERSION_TABLE = "alembic_version"
GUARD_IN_SQLITE = (
    "CREATE TRIGGER %(name)s BEFORE %(act)s ON %(on)s FOR EACH ROW"
    " BEGIN SELECT RAISE(ABORT, 'records are never overwritten'); END"
)
REFUSE_IN_POSTGRES = (
    "CREATE OR REPLACE FUNCTION fanwright_refuse() RETURNS trigger LANGUAGE plpgsql AS"
    " $$ BEGIN RAISE EXCEPTION 'records are never overwritten'; END $$"
)
GUARD_IN_POSTGRES = (
    "CREATE TRIGGER %(name)s BEFORE %(act)s ON %(on)s FOR EACH ROW EXECUTE FUNCTION fanwright_refuse()"
)
DROP_IN_SQLITE = "DROP TRIGGER IF EXISTS %(name)s"
DROP_IN_POSTGRES = "DROP TRIGGER IF EXISTS %(name)s ON %(on)s"


def version_of(connection: Connection) -> str:
    """Give the version of the tables that are there; empty when there are none."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return ""
    found: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return found or ""


def require_head(version: str, place: str) -> None:
    """Refuse tables that a newer program made.

    Raises:
        InputError: They are newer than this program.
    """
    if version > HEAD:
        raise InputError(
            Message(
                "{place} was written by a newer version of fanwright (tables {version}, known here {head}):"
                " update it",
                {"place": quoted(place), "version": quoted(version), "head": quoted(HEAD)},
            )
        )


def migrate(engine: Engine, to: str = HEAD, *, scripts: Path = SCRIPTS) -> None:
    """Bring the tables to a version, up or down, in one transaction.

    Args:
        engine: The database.
        to: The version wanted, or ``base`` for none.
        scripts: Where the steps are.

    Raises:
        SQLAlchemyError: A step failed; the database is as it was.
    """
    with engine.execution_options(writes=True).connect() as connection:
        sqlite = connection.dialect.name == "sqlite"
        if sqlite:  # a rebuilt table is dropped for a moment; the keys are checked at the end
            _sqlite_keys(connection, on=False)
        try:
            with connection.begin():
                if version_of(connection) == to:
                    return
                _drop_guards(connection)
                _run(connection, to, scripts)
                _guard(connection)
                _require_keys(connection, sqlite=sqlite)
        finally:
            if sqlite:
                _sqlite_keys(connection, on=True)


def _sqlite_keys(connection: Connection, *, on: bool) -> None:
    """Switch the check of foreign keys; SQLite takes that only outside a transaction."""
    cursor = connection.connection.cursor()
    cursor.execute("PRAGMA foreign_keys=ON" if on else "PRAGMA foreign_keys=OFF")
    cursor.close()


def _require_keys(connection: Connection, *, sqlite: bool) -> None:
    if sqlite and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
        raise InputError(Message("a step left rows that belong to nothing; the tables stay as they were"))


def _run(connection: Connection, to: str, scripts: Path) -> None:
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext
    from alembic.script import ScriptDirectory

    script = ScriptDirectory(str(scripts), version_locations=[str(scripts)])
    now = version_of(connection) or "base"
    down = to == "base" or (now != "base" and to < now)
    walk = script._downgrade_revs if down else script._upgrade_revs  # what alembic's own commands call

    def step(revision: Any, _context: object) -> Any:
        return walk(to, revision)

    with EnvironmentContext(Config(), script, fn=step, destination_rev=to) as environment:
        environment.configure(
            connection=connection,
            target_metadata=[METADATA, ACCESS],
            render_as_batch=True,
            transactional_ddl=False,
        )
        environment.run_migrations()


def _tables(connection: Connection) -> list[str]:
    """The tables of the record; who may come in is no record, and changes."""
    named = inspect(connection).get_table_names()
    return [name for name in named if name != VERSION_TABLE and name not in CHANGING]


def _guard(connection: Connection) -> None:
    """Let the database itself refuse to change or take out a row."""
    sqlite = connection.dialect.name == "sqlite"
    if not sqlite:
        connection.exec_driver_sql(REFUSE_IN_POSTGRES)
    for table in _tables(connection):
        for act in ("update", "delete"):
            connection.exec_driver_sql(
                (GUARD_IN_SQLITE if sqlite else GUARD_IN_POSTGRES) % _named(table, act)
            )


def _drop_guards(connection: Connection) -> None:
    sqlite = connection.dialect.name == "sqlite"
    for table in _tables(connection):
        for act in ("update", "delete"):
            connection.exec_driver_sql((DROP_IN_SQLITE if sqlite else DROP_IN_POSTGRES) % _named(table, act))


def _named(table: str, act: str) -> dict[str, str]:
    return {"name": "_".join(("keep", table, act)), "on": table, "act": act}
