"""Lists of bay visits."""

from __future__ import annotations

from sqlalchemy import exists, func, select

from fanwright.records.bay import KEPT, SIGNED, count_of, version_of
from fanwright.records.bay_model import BayRow
from fanwright.records.store import Store
from fanwright.records.tables import bay_ends, bay_entries, bay_visits, entries

MOST_LISTED = 500


def list_bays(store: Store, *, signed: bool = False, most: int = MOST_LISTED) -> tuple[BayRow, ...]:
    """List bay visits, newest first.

    Args:
        store: The records.
        signed: Whether those that are signed are listed too.
        most: How many at most.

    Returns:
        The visits.
    """
    has_signed = exists().where(bay_ends.c.bay == bay_visits.c.id, bay_ends.c.act == SIGNED)
    kept = (
        select(func.max(bay_ends.c.visit))
        .where(bay_ends.c.bay == bay_visits.c.id, bay_ends.c.act == KEPT)
        .scalar_subquery()
    )
    query = (
        select(
            bay_visits.c.id,
            bay_visits.c.unit,
            entries.c.made_by,
            entries.c.at_utc,
            version_of(bay_visits.c.id).label("version"),
            count_of(bay_entries, bay_visits.c.id).label("entered"),
            bay_visits.c.base_visit,
            kept.label("kept"),
            has_signed.label("signed"),
        )
        .join(entries, entries.c.number == bay_visits.c.entry)
        .order_by(bay_visits.c.id.desc())
        .limit(most)
    )
    if not signed:
        query = query.where(~has_signed)
    with store.reading() as connection:
        return tuple(
            BayRow(
                row.id,
                row.unit,
                row.made_by,
                row.at_utc,
                row.version,
                row.entered,
                row.base_visit,
                row.kept,
                bool(row.signed),
            )
            for row in connection.execute(query)
        )
