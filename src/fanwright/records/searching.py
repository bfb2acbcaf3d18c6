"""Lists of trucks and visits, and everything kept about one visit. Plain rows, a few at a time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, Select, Subquery, and_, exists, func, or_, select

from fanwright.catalogue import load
from fanwright.errors import InputError
from fanwright.records.model import (
    KeptFile,
    KeptState,
    KeptVerdict,
    KeptVisit,
    TruckRow,
    VisitRow,
)
from fanwright.records.store import Store
from fanwright.records.tables import (
    assessments,
    causes,
    entries,
    files,
    not_done,
    parts,
    people,
    shops,
    sign_offs,
    states,
    truck_details,
    trucks,
    verdicts,
    visit_files,
    visits,
    work,
)
from fanwright.records.told import message_from
from fanwright.words import Message, count, text

MOST = 200
FEW = 1_000


def list_trucks(store: Store, search: str = "", most: int = MOST) -> tuple[TruckRow, ...]:
    """List trucks by their number.

    Args:
        store: The records.
        search: A piece of the number, VIN, serial or make; empty for all.
        most: How many at most.

    Returns:
        The trucks, each with its latest visit.
    """
    with store.reading() as connection:
        chosen = select(trucks.c.id).order_by(trucks.c.unit).limit(most)
        if search:
            chosen = chosen.where(_truck_matches(search))
        numbers = list(connection.execute(chosen).scalars())
        return _truck_rows(connection, numbers)


def _truck_rows(connection: Connection, numbers: list[int]) -> tuple[TruckRow, ...]:
    """All trucks by three questions, however many there are."""
    of_truck = visits.c.truck == trucks.c.id, ~_was_corrected()
    newest = select(visits.c.id).where(*of_truck).order_by(visits.c.date.desc(), visits.c.id.desc()).limit(1)
    counted = select(func.count()).select_from(visits).where(*of_truck)
    detail = select(func.max(truck_details.c.id)).where(truck_details.c.truck == trucks.c.id)
    rows = connection.execute(
        select(
            trucks.c.unit,
            newest.correlate(trucks).scalar_subquery().label("newest"),
            counted.correlate(trucks).scalar_subquery().label("visits"),
            truck_details.c.vin,
            truck_details.c.grips_by,
            truck_details.c.valve,
        )
        .outerjoin(truck_details, truck_details.c.id == detail.correlate(trucks).scalar_subquery())
        .where(trucks.c.id.in_(numbers))
        .order_by(trucks.c.unit)
    ).all()
    latest = {
        row["id"]: row
        for row in connection.execute(
            _visit_columns().where(visits.c.id.in_([row.newest for row in rows]))
        ).mappings()
    }
    return tuple(
        TruckRow(
            unit=row.unit,
            vin=row.vin or "",
            arrangement="-".join((row.grips_by, row.valve)) if row.grips_by else "",
            visits=row.visits,
            last_date=latest[row.newest]["date"] if row.newest in latest else "",
            last_overall=(latest[row.newest]["overall"] or "") if row.newest in latest else "",
            last_state=(latest[row.newest]["state"] or "") if row.newest in latest else "",
        )
        for row in rows
    )


def _like(column: Any, piece: str) -> Any:
    escaped = piece.lower().replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    return func.lower(column).like("".join(("%", escaped, "%")), escape="\\")


def _truck_matches(search: str) -> Any:
    of = truck_details.c
    in_details = select(of.truck).where(or_(*(_like(of[name], search) for name in ("vin", "serial", "make"))))
    return or_(_like(trucks.c.unit, search), trucks.c.id.in_(in_details))


def _was_corrected() -> Any:
    later = visits.alias()
    return exists().where(later.c.corrects == visits.c.id)


def _latest(table: Any, column: str) -> Any:
    """The newest value a table holds of a visit."""
    other = table.alias()
    return (
        select(other.c[column])
        .where(other.c.visit == visits.c.id)
        .order_by(other.c.id.desc())
        .limit(1)
        .correlate(visits)
        .scalar_subquery()
    )


def _visit_columns() -> Select[Any]:
    later = visits.alias()
    corrected_by = (
        select(later.c.id).where(later.c.corrects == visits.c.id).limit(1).correlate(visits).scalar_subquery()
    )
    return select(
        visits,
        trucks.c.unit,
        _latest(states, "state").label("state"),
        _latest(assessments, "overall").label("overall"),
        _latest(assessments, "overall_after").label("overall_after"),
        corrected_by.label("corrected_by"),
    ).join(trucks, trucks.c.id == visits.c.truck)


def list_visits(
    store: Store,
    *,
    unit: str = "",
    state: str = "",
    search: str = "",
    since: str = "",
    until: str = "",
    corrected: bool = False,
    most: int = MOST,
) -> tuple[VisitRow, ...]:
    """List visits, newest first.

    Args:
        store: The records.
        unit: Only of this truck; empty for all.
        state: Only in this state; empty for all.
        search: A piece of what identifies the truck, of a person, a place, or a cause; empty for all.
        since: Only from this day on (ISO 8601); empty for all.
        until: Only up to this day (ISO 8601); empty for all.
        corrected: Whether visits that were corrected are listed too.
        most: How many at most.

    Returns:
        The visits.
    """
    newest_first = visits.c.date.desc(), visits.c.id.desc()
    asked = [] if corrected else [~_was_corrected()]
    asked += [trucks.c.unit == unit] if unit else []
    asked += [visits.c.date >= since] if since else []
    asked += [visits.c.date <= until] if until else []
    asked += [visits.c.id.in_(select(_in_state(state).c.visit))] if state else []
    with store.reading() as connection:
        query = _visit_columns().where(*asked).order_by(*newest_first).limit(most)
        if search:
            found = select(visits.c.id).join(trucks, trucks.c.id == visits.c.truck).where(*asked)
            found = found.order_by(*newest_first).limit(most)
            numbers = {
                number
                for matches in _visit_matches(connection, search)
                for number in connection.execute(found.where(matches)).scalars()
            }
            query = query.where(visits.c.id.in_(sorted(numbers)))
        return tuple(_visit_row(dict(row)) for row in connection.execute(query).mappings())


def _in_state(state: str) -> Subquery:
    """Visits whose newest state is this one."""
    newer = states.alias()
    none_newer = ~exists().where(and_(newer.c.visit == states.c.visit, newer.c.id > states.c.id))
    return select(states.c.visit).where(states.c.state == state, none_newer).subquery()


def _visit_matches(connection: Connection, search: str) -> list[Any]:
    """Ways in which a visit can match. Each is asked alone: together no index would carry them."""
    some_trucks = select(trucks.c.id).where(_truck_matches(search)).limit(MOST)
    names = select(people.c.name).where(_like(people.c.name, search)).limit(MOST)
    places = select(shops.c.name).where(_like(shops.c.name, search)).limit(MOST)
    found = [
        (visits.c.truck, list(connection.execute(some_trucks).scalars())),
        (visits.c.technician, list(connection.execute(names).scalars())),
        (visits.c.place, list(connection.execute(places).scalars())),
    ]
    ways = [column.in_(values) for column, values in found if values]
    piece = search.lower()
    named = [one.id for one in load().faults.values() if piece in one.id or piece in one.label.lower()]
    return ways + ([_of_cause(connection, named)] if named else [])


def _of_cause(connection: Connection, faults: list[str]) -> Any:
    """A rare cause is found by its few visits, a frequent one by walking back from the newest visit."""
    few = select(causes.c.visit).where(causes.c.fault.in_(faults)).limit(FEW + 1)
    numbers = list(connection.execute(few).scalars())
    if len(numbers) <= FEW:
        return visits.c.id.in_(numbers)
    return exists().where(causes.c.visit == visits.c.id, causes.c.fault.in_(faults))


def _visit_row(row: Mapping[Any, Any]) -> VisitRow:
    return VisitRow(
        number=row["id"],
        unit=row["unit"],
        date=row["date"],
        kind=row["kind"],
        state=row["state"] or "",
        overall=row["overall"] or "",
        overall_after=row["overall_after"] or "",
        technician=row["technician"],
        place=row["place"],
        odometer_m=row["odometer_m"],
        corrected_by=row["corrected_by"],
    )


def show_visit(store: Store, number: int) -> KeptVisit:
    """Give everything kept about one visit.

    Args:
        store: The records.
        number: Its number.

    Returns:
        The visit.

    Raises:
        InputError: There is no such visit.
    """
    with store.reading() as connection:
        return visit_in(connection, number)


def visit_in(connection: Connection, number: int) -> KeptVisit:
    """Give everything kept about one visit, inside a read or a write.

    Raises:
        InputError: There is no such visit.
    """
    row = connection.execute(_visit_columns().where(visits.c.id == number)).mappings().first()
    if row is None:
        raise InputError(
            Message("there is no visit {number}; «fanwright visits» lists them", {"number": count(number)})
        )
    said = connection.execute(select(assessments).where(assessments.c.visit == number)).mappings().first()
    program = connection.execute(select(entries.c.program).where(entries.c.number == row["entry"])).scalar()
    done = connection.execute(select(work).where(work.c.visit == number)).mappings().first()
    return KeptVisit(
        row=_visit_row(row),
        form=row["form"],
        written=row["written"],
        zone=row["zone"],
        at_utc=row["at_utc"],
        corrects=row["corrects"],
        program=program or "",
        shop_sha256="" if said is None else said["shop_sha256"],
        verdicts=_verdicts(connection, number),
        not_done=_pairs(
            connection, select(not_done.c.test, not_done.c.why).where(not_done.c.visit == number)
        ),
        causes=_causes(connection, number),
        parts=tuple(
            connection.execute(
                select(parts.c.name).where(parts.c.visit == number).order_by(parts.c.id)
            ).scalars()
        ),
        labour_s=None if done is None else done["labour_s"],
        files=_files(connection, number),
        states=_states(connection, number),
        signed_by=_pairs(
            connection,
            select(sign_offs.c.role, sign_offs.c.person)
            .where(sign_offs.c.visit == number)
            .order_by(sign_offs.c.id),
        ),
    )


def _pairs(connection: Connection, query: Select[Any]) -> Mapping[str, str]:
    return {str(row[0]): str(row[1]) for row in connection.execute(query)}


def _causes(connection: Connection, number: int) -> Mapping[str, bool]:
    found = connection.execute(
        select(causes.c.fault, causes.c.confirmed).where(causes.c.visit == number).order_by(causes.c.id)
    )
    return {fault: bool(confirmed) for fault, confirmed in found}


def _verdicts(connection: Connection, number: int) -> tuple[KeptVerdict, ...]:
    found = connection.execute(
        select(verdicts).where(verdicts.c.visit == number).order_by(verdicts.c.id)
    ).mappings()
    return tuple(_verdict(dict(row)) for row in found)


def _verdict(row: dict[str, Any]) -> KeptVerdict:
    why = message_from(row["why"]) or Message("")
    kept = {
        name: row[name]
        for name in (
            "test", "verdict", "outcome", "dimension", "value_si", "sd_si", "limit_si", "watch_limit_si",
            "chance_beyond_limit", "chance_beyond_watch", "limit_source",
        )
    }  # fmt: skip
    return KeptVerdict(after=bool(row["after"]), repeat=bool(row["repeat"]), why=why, **kept)


def _files(connection: Connection, number: int) -> tuple[KeptFile, ...]:
    found = connection.execute(
        select(visit_files.c.what, visit_files.c.name, files.c.sha256, files.c.size)
        .join(files, files.c.id == visit_files.c.file)
        .where(visit_files.c.visit == number)
        .order_by(visit_files.c.id)
    )
    return tuple(KeptFile(*row) for row in found)


def _states(connection: Connection, number: int) -> tuple[KeptState, ...]:
    found = connection.execute(
        select(states.c.state, entries.c.at_utc, entries.c.made_by, states.c.because)
        .join(entries, entries.c.number == states.c.entry)
        .where(states.c.visit == number)
        .order_by(states.c.id)
    )
    return tuple(KeptState(*row) for row in found)


def require_truck(store: Store, unit: str) -> None:
    """Refuse a truck that is not in the records.

    Raises:
        InputError: It is not there.
    """
    with store.reading() as connection:
        if connection.execute(select(trucks.c.id).where(trucks.c.unit == unit)).first() is None:
            raise InputError(
                Message(
                    "truck {unit} is not in the records; «fanwright trucks» lists them", {"unit": text(unit)}
                )
            )
