"""Instruments with their calibrations, and parts fitted to and removed from trucks."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from sqlalchemy import select

from fanwright.errors import InputError
from fanwright.records.model import Author
from fanwright.records.register import truck_of
from fanwright.records.store import Store
from fanwright.records.tables import calibrations, fittings, instruments, trucks
from fanwright.words import Message, text

ACTS = {"fitted": "part fitted", "removed": "part removed"}


@dataclass(frozen=True)
class InstrumentRow:
    """One instrument of the shop with its latest calibration.

    Args:
        number: Its own number, such as ``G-07``.
        label: What it is, or empty.
        calibrated: Day of the latest calibration, or empty.
        due: Day the next one is due, or empty.
        dimension: What the offset measures, or empty.
        offset_si: What it reads too much [SI], or None.
    """

    number: str
    label: str
    calibrated: str
    due: str
    dimension: str
    offset_si: float | None


@dataclass(frozen=True)
class Fitting:
    """One part fitted to or removed from a truck.

    Args:
        part: What it is: ``drive``, ``facing``, ``valve`` or another.
        event: ``fitted`` or ``removed``.
        serial: Its serial, or empty.
        part_number: Its part number, or empty.
        date: The day.
        odometer_m: Distance run then [m], or None.
        note: What else was said.
    """

    part: str
    event: str
    serial: str
    part_number: str
    date: str
    odometer_m: float | None
    note: str = ""


def list_instruments(store: Store) -> tuple[InstrumentRow, ...]:
    """List the instruments seen in readings or calibrated, by number."""
    with store.reading() as connection:
        known = connection.execute(select(instruments).order_by(instruments.c.number)).all()
        done = connection.execute(select(calibrations).order_by(calibrations.c.id)).all()
    latest = {row.instrument: row for row in done}
    return tuple(
        InstrumentRow(row.number, row.label, "", "", "", None)
        if (last := latest.get(row.id)) is None
        else InstrumentRow(row.number, row.label, last.date, last.due, last.dimension, last.offset_si)
        for row in known
    )


def calibrate(store: Store, done: InstrumentRow, author: Author) -> None:
    """Note a calibration; earlier ones stay.

    Args:
        store: The records.
        done: The instrument with what was found.
        author: Who says so.
    """
    with store.writing() as transaction, transaction.entry("calibrated", author, done.number) as entry:
        known = select(instruments.c.id).where(instruments.c.number == done.number)
        number = transaction.connection.execute(known).scalar()
        if number is None:
            number = transaction.add(entry, instruments, number=done.number, label=done.label)
        transaction.add(
            entry,
            calibrations,
            instrument=number,
            date=done.calibrated,
            due=done.due,
            dimension=done.dimension,
            offset_si=done.offset_si,
        )


def list_fittings(store: Store, unit: str) -> tuple[Fitting, ...]:
    """List what was fitted to and removed from a truck, oldest first."""
    of = fittings.c
    query = (
        select(of.part, of.event, of.serial, of.part_number, of.date, of.odometer_m, of.note)
        .join(trucks, trucks.c.id == of.truck)
        .where(trucks.c.unit == unit)
        .order_by(of.date, of.id)
    )
    with store.reading() as connection:
        return tuple(Fitting(*row) for row in connection.execute(query))


def fit(store: Store, unit: str, done: Fitting, author: Author) -> None:
    """Note a part that was fitted or removed.

    Args:
        store: The records.
        unit: The truck.
        done: The part and what happened to it.
        author: Who says so.

    Raises:
        InputError: A part is removed before it was fitted.
    """
    on = [one for one in list_fittings(store, unit) if (one.part, one.serial) == (done.part, done.serial)]
    if (
        done.event == "removed"
        and on
        and dt.date.fromisoformat(on[-1].date) > dt.date.fromisoformat(done.date)
    ):
        raise InputError(
            Message(
                "{part} {serial} was {event} on {date}, after the day given",
                {
                    "part": text(done.part),
                    "serial": text(done.serial),
                    "event": text(on[-1].event),
                    "date": text(on[-1].date),
                },
            )
        )
    with store.writing() as transaction, transaction.entry(ACTS[done.event], author, unit) as entry:
        transaction.add(entry, fittings, truck=truck_of(transaction, entry, unit), **vars(done))
