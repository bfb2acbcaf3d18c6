"""Facings in the records: their readings day by day, and forecasts kept before anyone knows the outcome."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import ColumnElement, and_, exists, or_, select

from fanwright.evidence.reading import Reading
from fanwright.life.forecast import Forecast
from fanwright.life.outlook import Outlook, line_outlook
from fanwright.records.store import Entry, Store, Transaction
from fanwright.records.tables import (
    fittings,
    forecasts,
    parts,
    readings,
    settings,
    truck_details,
    trucks,
    visits,
    work,
)
from fanwright.records.told import reading_from
from fanwright.visit import Assessment

TEST = "facing_thickness"
FACING = "facing"
PLACES = 9
TOLD, LINE = "told", "line"
"""Whose forecast it is: what the assessment said, and one straight line through the truck's own readings."""


@dataclass(frozen=True)
class FacingDay:
    """One reading of a facing in the records.

    Args:
        unit: The truck.
        visit: The visit's number.
        date: The day.
        odometer_m: Distance run, or None [m].
        engine_time_s: Engine hours, or None [s].
        reading: The reading; ``after`` says whether it was taken after the repair.
        entry: Number of the entry of the chain that holds it.
    """

    unit: str
    visit: int
    date: dt.date
    odometer_m: float | None
    engine_time_s: float | None
    reading: Reading
    entry: int


@dataclass(frozen=True)
class NotedDay:
    """A day on which a truck was worked on or a setting of it was changed.

    Args:
        unit: The truck.
        date: The day.
        kind: ``setting``, ``work`` or ``facing`` (a new one was fitted).
        what: The test id of the setting, or what the work was; empty otherwise.
    """

    unit: str
    date: dt.date
    kind: str
    what: str = ""


@dataclass(frozen=True)
class KeptForecast:
    """A forecast as it was kept.

    Args:
        unit: The truck.
        visit: The visit it was made at.
        date: The day of the reading it starts from.
        method: ``told`` or ``line``.
        usage: Usage at that reading [m or s].
        in_hours: Whether usage is the engine's time.
        thickness_m: That reading [m].
        limit_m: Thickness at which the facing is renewed [m].
        ahead: The distance [m] or engine time [s] to the next service that was asked about.
        outlook: The thickness to come.
        energy_j_per_m: Heat of grips for distance by the visit's recording, or None [J/m].
        entry: Number of the entry of the chain that holds it: a reading of an earlier one was known before.
    """

    unit: str
    visit: int
    date: dt.date
    method: str
    usage: float
    in_hours: bool
    thickness_m: float
    limit_m: float
    ahead: float
    outlook: Outlook
    energy_j_per_m: float | None
    entry: int


def add_forecasts(transaction: Transaction, entry: Entry, visit: int, said: Assessment) -> None:
    """Keep what is foretold of a facing that was read today, beside the plain line.

    Args:
        transaction: The write.
        entry: The entry of the visit.
        visit: The visit's number.
        said: Its assessment.
    """
    if said.life is None or said.life.forecast.outlook is None:
        return
    told, pace = said.life.forecast, said.life.energy_j_per_m
    last = told.history.readings[-1]
    if last.date != said.visit.date or told.outlook is None:
        return
    for method, outlook in ((TOLD, told.outlook), (LINE, line_outlook(told.history, told.ahead))):
        body = _body(told, outlook)
        transaction.add(entry, forecasts, visit=visit, method=method, body=body, energy_j_per_m=pace)


def _body(told: Forecast, outlook: Outlook) -> str:
    last = told.history.readings[-1]
    held = {
        "usage": last.usage,
        "in_hours": told.history.in_hours,
        "thickness_m": round(last.thickness_m, PLACES),
        "limit_m": round(told.history.limit_m, PLACES),
        "ahead": told.ahead,
        "steps": outlook.ahead,
        "outlook_m": [[round(one, PLACES) for one in step] for step in outlook.thickness_m],
    }
    return json.dumps(held, separators=(",", ":"))


def kept_forecasts(store: Store, unit: str = "") -> tuple[KeptForecast, ...]:
    """Give the forecasts kept so far, oldest first; those of corrected visits are left out.

    Args:
        store: The records.
        unit: The truck; empty for all.

    Returns:
        The forecasts.
    """
    query = (
        select(trucks.c.unit, visits.c.date, forecasts)
        .join(visits, visits.c.id == forecasts.c.visit)
        .join(trucks, trucks.c.id == visits.c.truck)
        .where(_stands())
        .order_by(visits.c.date, forecasts.c.id)
    )
    if unit:
        query = query.where(trucks.c.unit == unit)
    with store.reading() as connection:
        rows = connection.execute(query).all()
    found = []
    for row in rows:
        held = json.loads(row.body)
        steps = tuple(tuple(float(one) for one in step) for step in held["outlook_m"])
        outlook = Outlook(tuple(float(one) for one in held["steps"]), steps)
        date = dt.date.fromisoformat(row.date)
        told = (held["usage"], held["in_hours"], held["thickness_m"], held["limit_m"], held["ahead"])
        pace, entry = row.energy_j_per_m, row.entry
        found.append(KeptForecast(row.unit, row.visit, date, row.method, *told, outlook, pace, entry))
    return tuple(found)


def _stands() -> ColumnElement[bool]:
    later = visits.alias()
    return ~exists().where(later.c.corrects == visits.c.id)


def facing_days(store: Store, unit: str = "") -> tuple[FacingDay, ...]:
    """Give every reading of a facing, ordered by truck, day and visit, before the repair first.

    Args:
        store: The records.
        unit: The truck; empty for all.

    Returns:
        The readings that are a thickness; of two at one visit the surer one.
    """
    query = (
        select(trucks.c.unit, visits.c.date, visits.c.odometer_m, visits.c.engine_time_s, readings)
        .join(visits, visits.c.id == readings.c.visit)
        .join(trucks, trucks.c.id == visits.c.truck)
        .where(readings.c.test == TEST, readings.c.value_si.is_not(None), _stands())
        .order_by(trucks.c.unit, visits.c.date, visits.c.id, readings.c.after, readings.c.id)
    )
    if unit:
        query = query.where(trucks.c.unit == unit)
    with store.reading() as connection:
        rows = connection.execute(query).mappings().all()
    surest: dict[tuple[int, int], FacingDay] = {}
    for row in rows:
        reading = reading_from(dict(row))
        day = FacingDay(
            row["unit"],
            row["visit"],
            dt.date.fromisoformat(row["date"]),
            row["odometer_m"],
            row["engine_time_s"],
            reading,
            row["entry"],
        )
        key = row["visit"], row["after"]
        held = surest.get(key)
        if held is None or _sd(reading) < _sd(held.reading):
            surest[key] = day
    return tuple(surest.values())


def _sd(reading: Reading) -> float:
    assert reading.measured is not None
    return reading.measured.sd_si


def noted_days(store: Store, unit: str = "") -> Iterator[NotedDay]:
    """Give the days on which a setting was changed, work was done or a facing was fitted.

    Args:
        store: The records.
        unit: The truck; empty for all.

    Yields:
        The days, by kind.
    """
    where: list[ColumnElement[bool]] = [_stands()]
    if unit:
        where.append(trucks.c.unit == unit)
    base = select(trucks.c.unit, visits.c.date).join(visits, visits.c.truck == trucks.c.id)
    changed = base.add_columns(settings.c.name).join(
        settings, and_(settings.c.visit == visits.c.id, settings.c.after == 1)
    )
    fitted = base.add_columns(parts.c.name).join(parts, parts.c.visit == visits.c.id)
    done = base.add_columns(work.c.note).join(work, and_(work.c.visit == visits.c.id, work.c.note != ""))
    with store.reading() as connection:
        for kind, query in (("setting", changed), ("work", fitted), ("work", done)):
            for row in connection.execute(query.where(*where).order_by(visits.c.date)):
                yield NotedDay(row[0], dt.date.fromisoformat(row[1]), kind, row[2])
        new = (
            select(trucks.c.unit, fittings.c.date)
            .join(fittings, fittings.c.truck == trucks.c.id)
            .where(fittings.c.part == FACING, fittings.c.event == "fitted", fittings.c.date != "")
        )
        if unit:
            new = new.where(trucks.c.unit == unit)
        for row in connection.execute(new.order_by(fittings.c.date)):
            yield NotedDay(row[0], dt.date.fromisoformat(row[1]), FACING)


def drives_of(store: Store, unit: str = "") -> dict[str, tuple[str, str]]:
    """Give preset and arrangement of each truck as last written down; empty texts where nobody did.

    Args:
        store: The records.
        unit: The truck; empty for all.

    Returns:
        Preset and ``spring`` or ``air`` by unit.
    """
    query = (
        select(trucks.c.unit, truck_details.c.preset, truck_details.c.grips_by)
        .join(truck_details, truck_details.c.truck == trucks.c.id)
        .where(or_(truck_details.c.preset != "", truck_details.c.grips_by != ""))
        .order_by(truck_details.c.id)
    )
    if unit:
        query = query.where(trucks.c.unit == unit)
    found: dict[str, tuple[str, str]] = {}
    with store.reading() as connection:
        for row in connection.execute(query):
            before = found.get(row[0], ("", ""))
            found[row[0]] = (row[1] or before[0], row[2] or before[1])
    return found
