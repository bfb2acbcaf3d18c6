"""What a bay visit begins with: a kept visit as it was written, and the machine of a truck as last seen."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import func, select

from fanwright.evidence.reading import Reading
from fanwright.records.bay import open_bay_of
from fanwright.records.store import Store
from fanwright.records.tables import (
    entries,
    learning_marks,
    readings,
    sign_offs,
    truck_details,
    trucks,
    visits,
)
from fanwright.records.told import reading_from


@dataclass(frozen=True)
class Written:
    """A kept visit as it was written.

    Args:
        form: ``toml`` or ``json``; ``past`` for a line of history.
        written: The text.
        language: Language of its numbers.
    """

    form: str
    written: str
    language: str


def written_visit(store: Store, visit: int) -> Written | None:
    """Give a kept visit as it was written, or None when there is no such visit."""
    query = select(visits.c.form, visits.c.written, visits.c.language).where(visits.c.id == visit)
    with store.reading() as connection:
        row = connection.execute(query).first()
    return None if row is None else Written(*row)


def read_out_of(store: Store, visit: int) -> tuple[Reading, ...]:
    """Give the readings that were read out of the files of a kept visit."""
    query = select(readings).where(readings.c.visit == visit, readings.c.origin != "typed")
    with store.reading() as connection:
        found = connection.execute(query.order_by(readings.c.id)).mappings()
        return tuple(reading_from(dict(row)) for row in found)


def going_on(store: Store, visit: int) -> int | None:
    """Give the bay visit that continues a kept visit and is not signed, or None."""
    with store.reading() as connection:
        return open_bay_of(connection, visit)


def machine_of(store: Store, unit: str) -> dict[str, object]:
    """Give preset, ``grips_by``, ``valve`` and ``volts`` as last kept; empty where none is known."""
    query = (
        select(truck_details)
        .join(trucks, trucks.c.id == truck_details.c.truck)
        .where(trucks.c.unit == unit, truck_details.c.grips_by != "")
        .order_by(truck_details.c.id.desc())
        .limit(1)
    )
    with store.reading() as connection:
        row = connection.execute(query).mappings().first()
    if row is None:
        return {}
    return {name: row[name] for name in ("preset", "grips_by", "valve", "volts") if row[name]}


def lessons_mark(store: Store) -> tuple[int, int, int]:
    """Give a mark that changes whenever closed visits may teach something else than before."""
    corrected = visits.c.corrects.is_not(None)
    with store.reading() as connection:
        asked = (
            select(func.max(sign_offs.c.id)),
            select(func.max(learning_marks.c.id)),
            select(func.max(visits.c.id)).where(corrected),
        )
        one, two, three = (int(connection.execute(each).scalar() or 0) for each in asked)
    return one, two, three


def head(store: Store) -> str:
    """Give the SHA-256 of the chain's last entry; empty records have none."""
    with store.reading() as connection:
        newest = select(entries.c.sha256).order_by(entries.c.number.desc()).limit(1)
        return str(connection.execute(newest).scalar() or "")
