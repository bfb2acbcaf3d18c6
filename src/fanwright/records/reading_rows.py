"""Every reading with its day and verdict, one after the other, for taking records out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import and_, exists, select

from fanwright.evidence.reading import Reading
from fanwright.records.store import Store
from fanwright.records.tables import readings, trucks, verdicts, visits
from fanwright.records.told import reading_from

AT_ONCE = 5_000


@dataclass(frozen=True)
class ReadingRow:
    """One reading with what it belongs to.

    Args:
        unit: The truck.
        visit: The visit's number.
        date: The day.
        kind: Kind of visit; ``past`` for a line of history.
        odometer_m: Distance run [m], or None.
        reading: The reading; None for a day without any.
        verdict: Its verdict, or empty where none was given.
    """

    unit: str
    visit: int
    date: str
    kind: str
    odometer_m: float | None
    reading: Reading | None
    verdict: str


def reading_rows(store: Store, unit: str = "") -> Iterator[ReadingRow]:
    """Give all readings of one truck or of all, ordered by truck, day and visit.

    Args:
        store: The records.
        unit: The truck; empty for all.

    Yields:
        A row a reading; a visit that was corrected is left out.
    """
    later = visits.alias()
    judged = and_(
        verdicts.c.visit == readings.c.visit,
        verdicts.c.test == readings.c.test,
        verdicts.c.after == readings.c.after,
        verdicts.c.value_si.is_not_distinct_from(readings.c.value_si)
        | (verdicts.c.outcome == readings.c.outcome),
    )
    verdict = select(verdicts.c.verdict).where(judged).order_by(verdicts.c.id).limit(1).scalar_subquery()
    query = (
        select(
            trucks.c.unit,
            visits.c.id.label("number"),
            visits.c.date,
            visits.c.kind,
            visits.c.odometer_m,
            readings,
            verdict.label("verdict"),
        )
        .join(trucks, trucks.c.id == visits.c.truck)
        .outerjoin(readings, readings.c.visit == visits.c.id)
        .where(~exists().where(later.c.corrects == visits.c.id))
        .order_by(trucks.c.unit, visits.c.date, visits.c.id, readings.c.id)
    )
    if unit:
        query = query.where(trucks.c.unit == unit)
    with store.reading() as connection:
        streaming = connection.execution_options(stream_results=True, max_row_buffer=AT_ONCE)
        with streaming.execute(query) as result:
            for row in result.mappings():
                yield ReadingRow(
                    row["unit"],
                    row["number"],
                    row["date"],
                    row["kind"],
                    row["odometer_m"],
                    None if row["test"] is None else reading_from(dict(row)),
                    row["verdict"] or "",
                )
