"""Bring past readings and visit files into the records: a spreadsheet row by row, all or nothing."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.catalogue import Catalogue
from fanwright.desk.records import author, open_records
from fanwright.desk.shop import open_shop
from fanwright.desk.spreadsheet import SHEETS, Sheet, read_sheet
from fanwright.errors import InputError
from fanwright.evidence.reading import Reading
from fanwright.evidence.typed import read_entry
from fanwright.quantities import read
from fanwright.visit import Past
from fanwright.words import Message, Value, count, listing, text

if TYPE_CHECKING:
    from fanwright.records.importing import Imported
    from fanwright.records.store import Store

VISITS = (".toml", ".json")
KNOWN = {
    "unit": ("unit", "truck", "truck_no", "truck_number", "unit_number"),
    "date": ("date", "day"),
    "odometer": ("odometer", "mileage", "miles", "distance"),
    "facing_thickness": ("facing", "facing_thickness", "lining", "lining_thickness"),
}
NEEDED = ("unit", "date")
ORDERS = {"ymd": "%Y-%m-%d", "mdy": "%m/%d/%Y", "dmy": "%d/%m/%Y"}
HEADING = re.compile(r"(.*?)\s*[\[(]\s*([^\])]*?)\s*[\])]\s*")
NUMBER = re.compile(r"[-+\d.,/ ]*\d[-+\d.,/ ]*")


@dataclass(frozen=True)
class Column:
    """How one column is read.

    Args:
        target: What it holds: ``unit``, ``date``, ``odometer`` or a test.
        place: Its place in the sheet.
        unit: The unit that goes with a bare number, or empty.
    """

    target: str
    place: int
    unit: str


@dataclass(frozen=True)
class Preview:
    """What a spreadsheet would bring.

    Args:
        columns: How its columns are read.
        unread: Headings that are not read.
        lines: Trucks and their days.
        mapping: The mapping as it will be remembered.
        header_sha256: Hash of the header.
        remembered: Whether the mapping comes from an earlier import.
    """

    columns: tuple[Column, ...]
    unread: tuple[str, ...]
    lines: tuple[tuple[str, Past], ...]
    mapping: Mapping[str, str]
    header_sha256: str
    remembered: bool


def preview_sheet(
    path: Path,
    catalogue: Catalogue,
    named: Mapping[str, str],
    *,
    order: str = "ymd",
    language: str = "en",
    remembered: Mapping[str, str] | None = None,
) -> Preview:
    """Read a spreadsheet of past readings without keeping anything.

    Args:
        path: A CSV or XLSX file with a line of headings.
        catalogue: What can be observed.
        named: Columns as ``target`` or ``target [unit]`` to heading; they go before what is found by name.
        order: How dates are written: ``ymd``, ``mdy`` or ``dmy``.
        language: Language of the numbers.
        remembered: The mapping of an earlier import with this header, or None.

    Returns:
        Every row as it would be kept.

    Raises:
        InputError: Every mistake, row by row, all together.
    """
    sheet = read_sheet(path)
    chosen = {**(remembered or {}), **named}
    columns = _columns(sheet, chosen, catalogue)
    mistakes: list[Message] = []
    lines = [
        line
        for number, row in sheet.rows
        if (line := _line(number, row, columns, catalogue, order, language, mistakes)) is not None
    ]
    if mistakes:
        raise InputError(mistakes)
    read_places = {column.place for column in columns}
    return Preview(
        columns,
        tuple(name for place, name in enumerate(sheet.header) if place not in read_places and name),
        tuple(lines),
        {_target(column): sheet.header[column.place] for column in columns},
        header_hash(sheet),
        bool(remembered) and not named,
    )


def header_hash(sheet: Sheet) -> str:
    """Give the hash under which the mapping of a header is remembered."""
    return hashlib.sha256(json.dumps(sheet.header).encode("ascii")).hexdigest()


def _target(column: Column) -> str:
    return f"{column.target} [{column.unit}]" if column.unit else column.target


def _split(heading: str) -> tuple[str, str]:
    """Give a heading's name and the unit it states, such as ``Odometer [mi]``."""
    found = HEADING.fullmatch(heading)
    return (found[1], found[2]) if found else (heading.strip(), "")


def _columns(sheet: Sheet, named: Mapping[str, str], catalogue: Catalogue) -> tuple[Column, ...]:
    mistakes: list[Message] = []
    found: dict[str, Column] = {}
    for wanted, heading in named.items():
        target, unit = _split(wanted)
        if target not in KNOWN and target not in catalogue.tests:
            mistakes.append(
                Message(
                    "{target} cannot be brought in; write unit, date, odometer or one of «fanwright tests»",
                    {"target": text(f"«{target}»")},
                )
            )
        elif heading not in sheet.header:
            values: dict[str, Value] = {
                "heading": text(f"«{heading}»"),
                "known": listing(tuple(text(one) for one in sheet.header)),
            }
            mistakes.append(Message("there is no column {heading}; there are {known}", values))
        else:
            place = sheet.header.index(heading)
            found[target] = Column(target, place, unit or _split(heading)[1])
    taken = {column.place for column in found.values()}
    for place, heading in enumerate(sheet.header):
        target = _by_name(heading, catalogue)
        if target and target not in found and place not in taken:
            found[target] = Column(target, place, _split(heading)[1])
    mistakes += [
        Message("no column holds the {target}: name it with --map {target}=HEADING", {"target": text(target)})
        for target in NEEDED
        if target not in found
    ]
    if not mistakes and not set(found) - {*NEEDED, "odometer"}:
        mistakes.append(
            Message("no column holds a reading: name one with --map TEST=HEADING, such as facing_thickness")
        )
    if mistakes:
        raise InputError(mistakes)
    return tuple(sorted(found.values(), key=lambda column: column.place))


def _by_name(heading: str, catalogue: Catalogue) -> str:
    name = re.sub(r"\W+", "_", _split(heading)[0].strip().lower()).strip("_")
    if name in catalogue.tests:
        return name
    return next((target for target, names in KNOWN.items() if name in names), "")


def _line(
    number: int,
    row: tuple[str, ...],
    columns: tuple[Column, ...],
    catalogue: Catalogue,
    order: str,
    language: str,
    mistakes: list[Message],
) -> tuple[str, Past] | None:
    cells = {column.target: _with_unit(row[column.place].strip(), column.unit) for column in columns}
    before = len(mistakes)
    unit = cells.pop("unit")
    if not unit:
        mistakes.append(Message("row {row}: the unit is missing", {"row": count(number)}))
    day = _day(number, cells.pop("date"), order, mistakes)
    odometer_m, readings = None, list[Reading]()
    for target, cell in cells.items():
        if not cell:
            continue
        try:
            if target == "odometer":
                odometer_m = read(cell, "distance", language).si
            else:
                readings += read_entry(target, cell, catalogue, language=language)
        except InputError as error:
            mistakes += [
                Message(
                    "row {_row}, {_target}: " + one.template,
                    {"_row": count(number), "_target": text(target), **one.values},
                )
                for one in error.messages
            ]
    if len(mistakes) > before or day is None:
        return None
    return unit, Past(day, odometer_m, tuple(readings))


def _with_unit(cell: str, unit: str) -> str:
    """A bare number takes the unit of its heading; a cell with a unit of its own keeps it."""
    return f"{cell} {unit}" if unit and NUMBER.fullmatch(cell) else cell


def _day(number: int, cell: str, order: str, mistakes: list[Message]) -> dt.date | None:
    written = cell.partition(" ")[0].partition("T")[0]
    for form in dict.fromkeys((ORDERS["ymd"], ORDERS[order])):
        try:
            return dt.date(*time.strptime(written, form)[:3])
        except ValueError:
            continue
    mistakes.append(
        Message(
            "row {row}: {given} is not a date; write it like 2026-04-14, or say with --dates mdy or"
            " --dates dmy how days are written",
            {"row": count(number), "given": text(f"«{cell}»")},
        )
    )
    return None


@dataclass(frozen=True)
class Brought:
    """What one import did.

    Args:
        preview: What the spreadsheet holds.
        imported: What was kept, or None for a mere preview.
    """

    preview: Preview
    imported: Imported | None


def import_sheet(
    path: Path,
    db: str | None,
    named: Mapping[str, str],
    *,
    keep: bool = True,
    order: str = "ymd",
    language: str = "en",
    shop_file: Path | None = None,
    by: str | None = None,
    why: str | None = None,
) -> Brought:
    """Bring a spreadsheet of past readings into the records, all or nothing.

    Args:
        path: The CSV or XLSX file.
        db: The records; started where there are none.
        named: Columns by what they hold; empty for those used last time, or found by name.
        keep: False only shows what would be kept.
        order: How dates are written.
        language: Language of the numbers.
        shop_file: The shop's own data, or None.
        by: Who brings them, or None for the environment's.
        why: The reason, or None.

    Returns:
        What the sheet holds and what was kept of it.

    Raises:
        InputError: Every mistake, row by row; nothing was kept.
    """
    if path.suffix.lower() not in SHEETS:
        raise InputError(
            Message("{file} is not a spreadsheet; CSV and XLSX are read", {"file": text(path.name)})
        )
    catalogue = open_shop(shop_file, path).catalogue
    sheet = read_sheet(path)
    store = _opened(db, keep=keep)
    try:
        remembered = None if store is None else _remembered(store, sheet)
        preview = preview_sheet(path, catalogue, named, order=order, language=language, remembered=remembered)
        if not keep or store is None:
            return Brought(preview, None)
        return Brought(preview, _keep(store, path, preview, by, why))
    finally:
        if store is not None:
            store.close()


def _opened(db: str | None, *, keep: bool) -> Store | None:
    if keep:
        return open_records(db, create=True)
    try:
        return open_records(db)
    except InputError:  # a preview does not need records: nothing is remembered yet
        return None


def _remembered(store: Store, sheet: Sheet) -> Mapping[str, str] | None:
    from fanwright.records.importing import remembered_columns

    return remembered_columns(store, header_hash(sheet))


def _keep(store: Store, path: Path, preview: Preview, by: str | None, why: str | None) -> Imported:
    from fanwright.records.importing import import_past

    return import_past(
        store,
        preview.lines,
        author(by, why),
        source=path,
        header_sha256=preview.header_sha256,
        columns=None if preview.remembered else preview.mapping,
    )
