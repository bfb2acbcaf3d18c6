"""Trucks, people, shops, instruments and the parts that carry a serial: who and what the records speak of."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Table, select

from fanwright.records.store import Entry, Transaction
from fanwright.records.tables import fittings, instruments, people, shops, truck_details, trucks
from fanwright.visit import Visit

IDENTITY = ("vin", "make", "model_year", "serial", "tire_size", "owner", "in_service", "note")


def truck_of(transaction: Transaction, entry: Entry, unit: str) -> int:
    """Find a truck, or add it.

    Args:
        transaction: The write.
        entry: The entry it would belong to.
        unit: The fleet's own number.

    Returns:
        Its number in the records.
    """
    found = transaction.connection.execute(select(trucks.c.id).where(trucks.c.unit == unit)).scalar()
    return transaction.add(entry, trucks, unit=unit) if found is None else int(found)


def add_details(transaction: Transaction, entry: Entry, truck: int, visit: int, seen: Visit) -> None:
    """Note what a visit says of its truck and drive, where that is new.

    Args:
        transaction: The write.
        entry: The entry.
        truck: The truck's number.
        visit: The visit's number.
        seen: The visit.
    """
    said: dict[str, object] = {name: seen.identity.get(name, "") for name in IDENTITY}
    said |= {
        "preset": seen.truck.preset,
        "grips_by": seen.truck.grips_by,
        "valve": seen.truck.valve,
        "volts": float(seen.truck.volts),
    }
    columns = [truck_details.c[name] for name in said]
    last = transaction.connection.execute(
        select(*columns).where(truck_details.c.truck == truck).order_by(truck_details.c.id.desc()).limit(1)
    ).first()
    if last is None or tuple(last) != tuple(said.values()):
        transaction.add(entry, truck_details, truck=truck, **said)
    _drive(transaction, entry, truck, visit, seen)


def _drive(transaction: Transaction, entry: Entry, truck: int, visit: int, seen: Visit) -> None:
    """Note the drive by its serial; another serial than before means that one was exchanged."""
    number, serial = seen.identity.get("drive_part", ""), seen.identity.get("drive_serial", "")
    if not serial:
        return
    last = transaction.connection.execute(
        select(fittings.c.part_number, fittings.c.serial, fittings.c.event)
        .where(fittings.c.truck == truck, fittings.c.part == "drive")
        .order_by(fittings.c.id.desc())
        .limit(1)
    ).first()
    if last is not None and last.event == "fitted":
        if last.serial == serial:
            return
        add_fitting(
            transaction,
            entry,
            truck,
            visit,
            "drive",
            "removed",
            seen,
            serial=last.serial,
            number=last.part_number,
        )
    add_fitting(transaction, entry, truck, visit, "drive", "fitted", seen, serial=serial, number=number)


def add_fitting(
    transaction: Transaction,
    entry: Entry,
    truck: int,
    visit: int,
    part: str,
    event: str,
    seen: Visit,
    *,
    serial: str,
    number: str,
) -> None:
    """Note a part that was fitted or removed.

    Args:
        transaction: The write.
        entry: The entry.
        truck: The truck's number.
        visit: The visit's number.
        part: What it is.
        event: ``fitted`` or ``removed``.
        seen: The visit, whose day and odometer count unless it says when the part was fitted.
        serial: Serial of the part.
        number: Part number.
    """
    fitted = seen.identity.get("drive_fitted", "") if (part, event) == ("drive", "fitted") else ""
    transaction.add(
        entry,
        fittings,
        truck=truck,
        visit=visit,
        part=part,
        event=event,
        part_number=number,
        serial=serial,
        date=fitted or seen.date.isoformat(),
        odometer_m=None if fitted else seen.odometer_m,
        note=seen.identity.get("drive_fitted_odometer", "") if fitted else "",
    )


def add_person(transaction: Transaction, entry: Entry, name: str, role: str = "") -> None:
    """Note a person who was not known before."""
    _once(transaction, entry, people, "name", name, role=role)


def add_shop(transaction: Transaction, entry: Entry, name: str, zone: str) -> None:
    """Note a shop that was not known before."""
    _once(transaction, entry, shops, "name", name, zone=zone)


def add_instruments(transaction: Transaction, entry: Entry, numbers: Iterable[str]) -> None:
    """Note instruments of the shop that were not known before."""
    for number in numbers:
        _once(transaction, entry, instruments, "number", number)


def _once(
    transaction: Transaction, entry: Entry, table: Table, column: str, value: str, **others: object
) -> None:
    place = list(table.c.keys()).index(column)
    if any(row[place] == value for row in entry.rows.get(table.name, ())):
        return
    known = transaction.connection.execute(select(table.c.id).where(table.c[column] == value)).first()
    if known is None:
        transaction.add(entry, table, **{column: value}, **others)
