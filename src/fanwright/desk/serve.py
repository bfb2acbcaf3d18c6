"""What must hold before the bay page is served: which records, open to whom, under which names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.desk.records import named_records, place_named
from fanwright.errors import InputError
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.records.store import Store

DEMO_RECORDS = "demo.db"


@dataclass(frozen=True)
class Served:
    """Records that may be served.

    Args:
        store: The records, open.
        demo: Whether everybody who reaches them may work on them.
        keys: The folder for certificates and their keys, which no backup takes.
    """

    store: Store
    demo: bool
    keys: Path


def open_served(db: str | None, files: Path | None = None) -> Store:
    """Open the records that a server works on.

    Args:
        db: The records, or None for those of the environment or this folder.
        files: The folder of their files, or None for the one beside them.

    Returns:
        The store, whose tables are up to date.

    Raises:
        FileError: There are none, or they cannot be opened.
    """
    from fanwright import __version__
    from fanwright.records.store import open_store

    return open_store(place_named(db, files), program=__version__)


def prepare_serving(
    db: str | None, files: Path | None, *, demo: bool, loopback: bool, names: Sequence[str]
) -> Served:
    """Open records to be served, if they may be.

    Args:
        db: The records, or None for those of the environment or this folder.
        files: The folder of their files, or None for the one beside them.
        demo: Whether the demo was asked for; where there are no records yet, its fleet is loaded.
        loopback: Whether only this machine will reach the server.
        names: The names that tablets will use for this machine.

    Returns:
        The records, and whether they are open to everybody.

    Raises:
        InputError: Everything that stands against it.
        FileError: There are no records, or they cannot be opened.
    """
    if demo:
        db = _demo_records(db, loopback=loopback)
    store = open_served(db, files)
    try:
        is_open = _require_safe(store, demo=demo, loopback=loopback, names=names)
    except BaseException:
        store.close()
        raise
    beside = store.place.sqlite or store.place.files
    return Served(store, is_open, beside.with_name(f"{beside.name}.keys"))


def demo_is_new(db: str | None) -> bool:
    """Say whether the demo's fleet has yet to be loaded, which takes a while.

    Args:
        db: The records, or None for those of the environment, else of this folder.
    """
    named = named_records(db) or DEMO_RECORDS
    return "://" not in named and not Path(named).exists()


def _demo_records(db: str | None, *, loopback: bool) -> str:
    """Load the demo fleet where there is nothing yet."""
    if not loopback:
        raise InputError(_demo_here_only())
    named = named_records(db) or DEMO_RECORDS
    if demo_is_new(db):
        from fanwright.desk.demo import load_demo  # it can do everything, so it is slow to import

        load_demo(named)
    return named


def _require_safe(store: Store, *, demo: bool, loopback: bool, names: Sequence[str]) -> bool:
    """Say whether the records are open to everybody who reaches them."""
    from fanwright.desk.people import any_people
    from fanwright.records.demo_mark import is_demo

    made_as_demo, people = is_demo(store), any_people(store)
    place = {"place": text(store.place.name)}
    mistakes = []
    if demo and not made_as_demo:
        mistakes.append(
            Message(
                "{place} was not begun as the demo, so it is not opened to everybody: leave --demo out,"
                " or name records made by «fanwright demo»",
                place,
            )
        )
    if not loopback:
        if not people:
            mistakes.append(
                Message(
                    "nobody may sign in to {place} yet: run"
                    " «fanwright people add NAME --role manager --db {place}»",
                    place,
                )
            )
        if not names:
            mistakes.append(
                Message(
                    "other machines are served under a certificate only, so say what tablets type to reach"
                    " this one: --name bay.shop.example, or --name with its address"
                )
            )
    if mistakes:
        raise InputError(mistakes)
    return loopback and made_as_demo and (demo or not people)


def _demo_here_only() -> Message:
    return Message(
        "the demo asks for no password, so it is served to this machine only: leave --host out,"
        " or leave --demo out"
    )
