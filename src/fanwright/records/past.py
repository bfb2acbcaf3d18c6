"""Lines of history: days on which a truck was read, without a whole visit behind them."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable

from sqlalchemy import Connection, exists, select

from fanwright.evidence.reading import Reading
from fanwright.records.store import Entry, Store, Transaction
from fanwright.records.tables import readings, trucks, visits
from fanwright.records.told import reading_columns, reading_from
from fanwright.visit import Past

PLACES = 9


def past_key(truck: int, past: Past) -> str:
    """Give the key under which a line of history is known: the truck, the day and what was read."""
    read = [(one.test, one.after, _rounded(one), one.outcome) for one in past.readings]
    odometer = None if past.odometer_m is None else round(past.odometer_m)
    held = [truck, past.date.isoformat(), odometer, sorted(read, key=repr)]
    return "past-" + hashlib.sha256(json.dumps(held).encode("ascii")).hexdigest()


def _rounded(reading: Reading) -> float | None:
    return None if reading.measured is None else round(reading.measured.si, PLACES)


def all_past(connection: Connection, truck: int) -> set[str]:
    """Give the keys of a truck's lines of history."""
    found = connection.execute(select(visits.c.key).where(visits.c.truck == truck, visits.c.kind == "past"))
    return {key for (key,) in found}


def add_past(
    transaction: Transaction, entry: Entry, truck: int, given: Iterable[Past], known: set[str], zone: str
) -> int:
    """Add lines of history that are not known yet.

    Args:
        transaction: The write.
        entry: The entry they belong to.
        truck: The truck's number.
        given: The lines.
        known: Keys of those known; the new ones are added to it.
        zone: Time zone of the shop.

    Returns:
        How many were added.
    """
    added = 0
    for past in given:
        key = past_key(truck, past)
        if key in known:
            continue
        known.add(key)
        number = transaction.add(
            entry,
            visits,
            truck=truck,
            key=key,
            form="past",
            kind="past",
            date=past.date.isoformat(),
            zone=zone,
            odometer_m=past.odometer_m,
        )
        for reading in past.readings:
            transaction.add(entry, readings, visit=number, **reading_columns(reading))
        added += 1
    return added


def history(store: Store, unit: str, *, before: dt.date | None = None) -> tuple[Past, ...]:
    """Give what is known of a truck's past.

    Args:
        store: The records.
        unit: The truck.
        before: Only days before this one; None for all.

    Returns:
        Days with their readings, oldest first; those after a repair follow those before. A visit that was
        corrected is not among them.
    """
    later = visits.alias()
    chosen = (
        select(visits.c.id, visits.c.date, visits.c.odometer_m)
        .join(trucks, trucks.c.id == visits.c.truck)
        .where(trucks.c.unit == unit, ~exists().where(later.c.corrects == visits.c.id))
        .order_by(visits.c.date, visits.c.id)
    )
    if before is not None:
        chosen = chosen.where(visits.c.date < before.isoformat())
    with store.reading() as connection:
        days = connection.execute(chosen).all()
        wanted = chosen.with_only_columns(visits.c.id).order_by(None)
        rows = connection.execute(
            select(readings).where(readings.c.visit.in_(wanted)).order_by(readings.c.after, readings.c.id)
        ).mappings()
        read: dict[int, list[Reading]] = {}
        for row in rows:
            read.setdefault(row["visit"], []).append(reading_from(dict(row)))
    return tuple(
        Past(dt.date.fromisoformat(date), odometer_m, tuple(read.get(number, ())))
        for number, date, odometer_m in days
    )
