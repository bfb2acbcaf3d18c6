"""Instruments and fitted parts: what a warranty clerk and an inspector ask for beside the visits."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from fanwright.desk.records import author, open_records
from fanwright.desk.shop import open_shop
from fanwright.errors import InputError, QuantityError
from fanwright.quantities import dimensions, read
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.records.tools import Fitting, InstrumentRow


def list_instruments(db: str | None) -> tuple[InstrumentRow, ...]:
    """List the shop's instruments with their latest calibration.

    Args:
        db: The records.

    Returns:
        The instruments.

    Raises:
        FileError: The records cannot be read.
    """
    from fanwright.records import tools

    store = open_records(db)
    try:
        return tools.list_instruments(store)
    finally:
        store.close()


def calibrate(
    db: str | None,
    number: str,
    calibrated: dt.date,
    due: dt.date | None,
    offset: str | None,
    *,
    label: str = "",
    by: str | None = None,
) -> tuple[InstrumentRow, ...]:
    """Note a calibration.

    Args:
        db: The records.
        number: The instrument's own number.
        calibrated: The day.
        due: The day the next one is due, or None.
        offset: What it reads too much, such as ``-8 psi``, or None.
        label: What it is, or empty.
        by: Who says so, or None for the environment's.

    Returns:
        All instruments.

    Raises:
        InputError: The offset cannot be read, or the next day is not after this one.
    """
    from fanwright.records import tools

    if number in open_shop(None).catalogue.instruments:
        raise InputError(
            Message("{number} is a kind of instrument, not one of the shop's own", {"number": text(number)})
        )
    if due is not None and due <= calibrated:
        raise InputError(
            Message(
                "the next calibration, {due}, must be after {day}",
                {"due": text(due), "day": text(calibrated)},
            )
        )
    measured, offset_si = ("", None) if offset is None else _offset(offset)
    row = tools.InstrumentRow(
        number, label, calibrated.isoformat(), "" if due is None else due.isoformat(), measured, offset_si
    )
    store = open_records(db, create=True)
    try:
        tools.calibrate(store, row, author(by))
        return tools.list_instruments(store)
    finally:
        store.close()


def _offset(typed: str) -> tuple[str, float]:
    """Read an offset by its unit; a temperature counts as a difference."""
    wanted = [key for key in dimensions() if key not in ("temperature", "pressure_absolute")]
    for key in ("pressure", "length", "time", *wanted):
        try:
            return key, read(typed, key).si
        except QuantityError:
            continue
    raise InputError(
        Message(
            "{given} is no offset; write a number with a unit, such as -8 psi", {"given": text(f"«{typed}»")}
        )
    )


def list_fittings(db: str | None, unit: str) -> tuple[Fitting, ...]:
    """List what was fitted to and removed from a truck.

    Args:
        db: The records.
        unit: The truck.

    Returns:
        The parts, oldest first.

    Raises:
        InputError: The truck is not in the records.
    """
    from fanwright.records import tools
    from fanwright.records.searching import require_truck

    store = open_records(db)
    try:
        require_truck(store, unit)
        return tools.list_fittings(store, unit)
    finally:
        store.close()


def fit(
    db: str | None,
    unit: str,
    part: str,
    event: str,
    day: dt.date,
    *,
    serial: str = "",
    number: str = "",
    odometer: str | None = None,
    note: str = "",
    by: str | None = None,
) -> tuple[Fitting, ...]:
    """Note a part that was fitted or removed.

    Args:
        db: The records.
        unit: The truck.
        part: What it is.
        event: ``fitted`` or ``removed``.
        day: The day.
        serial: Its serial, or empty.
        number: Its part number, or empty.
        odometer: Distance run then, with its unit, or None.
        note: What else is to be said.
        by: Who says so, or None for the environment's.

    Returns:
        All parts of the truck.

    Raises:
        InputError: The odometer cannot be read, the truck is not there, or the part was fitted later.
    """
    from fanwright.records import tools
    from fanwright.records.searching import require_truck

    odometer_m = None if odometer is None else read(odometer, "distance").si
    store = open_records(db)
    try:
        require_truck(store, unit)
        done = tools.Fitting(part, event, serial, number, day.isoformat(), odometer_m, note)
        tools.fit(store, unit, done, author(by))
        return tools.list_fittings(store, unit)
    finally:
        store.close()
