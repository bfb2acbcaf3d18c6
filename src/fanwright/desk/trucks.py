"""What the records hold: trucks, visits, one visit in full, one truck's past."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fanwright.desk.records import open_records
from fanwright.errors import InputError
from fanwright.visit import Past
from fanwright.words import Message, listing, text

if TYPE_CHECKING:
    from fanwright.records.model import KeptVisit, TruckRow, VisitRow


@dataclass(frozen=True)
class TruckPast:
    """One truck's record.

    Args:
        row: What a list shows of it.
        visits: Its visits and lines of history, newest first.
        past: The readings of each day, oldest first.
    """

    row: TruckRow
    visits: tuple[VisitRow, ...]
    past: tuple[Past, ...]


def list_trucks(db: str | None, search: str = "", most: int = 200) -> tuple[TruckRow, ...]:
    """List trucks by their number.

    Args:
        db: The records.
        search: A piece of number, VIN, serial or make; empty for all.
        most: How many at most.

    Returns:
        The trucks.

    Raises:
        FileError: The records cannot be read.
    """
    from fanwright.records import searching

    store = open_records(db)
    try:
        return searching.list_trucks(store, search, most)
    finally:
        store.close()


def list_visits(
    db: str | None,
    *,
    unit: str = "",
    state: str = "",
    search: str = "",
    since: str = "",
    until: str = "",
    corrected: bool = False,
    most: int = 200,
) -> tuple[VisitRow, ...]:
    """List visits, newest first.

    Args:
        db: The records.
        unit: Only of this truck.
        state: Only in this state.
        search: A piece of what identifies the truck, of a person, a place, or a cause.
        since: Only from this day on.
        until: Only up to this day.
        corrected: Whether corrected visits are listed too.
        most: How many at most.

    Returns:
        The visits.

    Raises:
        InputError: There is no such state.
        FileError: The records cannot be read.
    """
    from fanwright.records import searching
    from fanwright.records.model import STATES

    wanted = state.replace("-", "_")
    if wanted and wanted not in STATES:
        raise InputError(
            Message(
                "{given} is not a state of a visit; there are {states}",
                {"given": text(f"«{state}»"), "states": listing(tuple(text(one) for one in STATES))},
            )
        )
    store = open_records(db)
    try:
        return searching.list_visits(
            store,
            unit=unit,
            state=wanted,
            search=search,
            since=since,
            until=until,
            corrected=corrected,
            most=most,
        )
    finally:
        store.close()


def show_truck(db: str | None, unit: str) -> TruckPast:
    """Give one truck's record.

    Args:
        db: The records.
        unit: The truck.

    Returns:
        Its visits and its past.

    Raises:
        InputError: It is not in the records.
    """
    from fanwright.records import searching
    from fanwright.records.past import history

    store = open_records(db)
    try:
        searching.require_truck(store, unit)
        row = next(one for one in searching.list_trucks(store, unit) if one.unit == unit)
        return TruckPast(row, searching.list_visits(store, unit=unit, corrected=True), history(store, unit))
    finally:
        store.close()


def show_visit(db: str | None, number: int) -> KeptVisit:
    """Give everything kept about one visit.

    Args:
        db: The records.
        number: The visit.

    Returns:
        The visit.

    Raises:
        InputError: It is not there.
    """
    from fanwright.records import searching

    store = open_records(db)
    try:
        return searching.show_visit(store, number)
    finally:
        store.close()
