"""Take records out: readings as CSV, XLSX or JSON lines, and visits as the files they were."""

from __future__ import annotations

import json
import os
import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.catalogue import Catalogue
from fanwright.desk.keep import lies_outside
from fanwright.desk.records import open_records
from fanwright.desk.shop import open_shop
from fanwright.desk.spreadsheet import Cell, write_csv, write_xlsx
from fanwright.errors import FileError, InputError
from fanwright.quantities import dimension
from fanwright.report.writing import replace_file
from fanwright.words import Message, count, text

if TYPE_CHECKING:
    from fanwright.records.model import KeptVisit
    from fanwright.records.reading_rows import ReadingRow
    from fanwright.records.store import Store

FORMS = (".jsonl", ".csv", ".xlsx")
HEADER = (
    "unit", "date", "visit", "kind", "odometer [km]", "test", "after", "value", "sd", "in", "outcome",
    "verdict", "instrument", "by", "at", "origin",
)  # fmt: skip
MOST_XLSX_ROWS = 1_048_575
METRES_IN_KM = 1000.0


@dataclass(frozen=True)
class Exported:
    """What was written.

    Args:
        path: The file or folder.
        visits: How many visits and lines of history.
        rows: How many readings.
    """

    path: Path
    visits: int
    rows: int


def export_records(db: str | None, out: Path, *, unit: str = "", visit: int | None = None) -> Exported:
    """Write one truck or all.

    Args:
        db: The records.
        out: A ``.jsonl``, ``.csv`` or ``.xlsx`` file of readings, or a folder for visit files.
        unit: Only this truck; empty for all.
        visit: Only this visit, as a visit file; None for all.

    Returns:
        What was written.

    Raises:
        InputError: The truck or visit is not there, or the ending says no form we write.
        FileError: It cannot be written; what was there before stays.
    """
    from fanwright.records.searching import require_truck

    ending = out.suffix.lower()
    if visit is None and ending and not out.is_dir() and ending not in FORMS:
        raise InputError(
            Message(
                "{file}: readings are written as .jsonl, .csv or .xlsx, visits into a folder",
                {"file": text(out)},
            )
        )
    catalogue = open_shop(None).catalogue
    store = open_records(db)
    try:
        if unit:
            require_truck(store, unit)
        if visit is not None or not ending or out.is_dir():
            return _visits(store, out, unit, visit)
        return _readings(store, out, unit, catalogue)
    finally:
        store.close()


def _readings(store: Store, out: Path, unit: str, catalogue: Catalogue) -> Exported:
    from fanwright.records.reading_rows import reading_rows

    counted = _Counted(reading_rows(store, unit))
    beside: Path | None = None
    try:
        handle, name = tempfile.mkstemp(dir=out.parent, prefix=".", suffix=".part")
        beside = Path(name)
        if out.suffix.lower() == ".xlsx":
            with os.fdopen(handle, "wb") as binary:
                write_xlsx(binary, HEADER, _at_most(_cells(counted, catalogue), out))
        else:
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
                if out.suffix.lower() == ".csv":
                    write_csv(file, HEADER, _cells(counted, catalogue))
                else:
                    file.writelines(_json_lines(counted, catalogue))
        beside.chmod(0o644)
        beside.replace(out)
    except OSError as error:
        raise FileError(
            Message(
                "{file} cannot be written: {reason}",
                {"file": text(out), "reason": text(error.strerror or error)},
            )
        ) from error
    finally:
        if beside is not None:
            beside.unlink(missing_ok=True)
    return Exported(out, len(counted.visits), counted.rows)


class _Counted:
    """Rows on their way, counted."""

    def __init__(self, rows: Iterator[ReadingRow]) -> None:
        self._rows = rows
        self.visits: set[int] = set()
        self.rows = 0

    def __iter__(self) -> Iterator[ReadingRow]:
        for row in self._rows:
            self.visits.add(row.visit)
            self.rows += row.reading is not None
            yield row


def _at_most(rows: Iterator[tuple[Cell, ...]], out: Path) -> Iterator[tuple[Cell, ...]]:
    for number, row in enumerate(rows):
        if number >= MOST_XLSX_ROWS:
            raise InputError(
                Message(
                    "an XLSX sheet holds {most} rows, and there are more: write {file} as .csv, or one truck",
                    {"most": count(MOST_XLSX_ROWS), "file": text(out.name)},
                )
            )
        yield row


def _cells(rows: _Counted, catalogue: Catalogue) -> Iterator[tuple[Cell, ...]]:
    for row in rows:
        kilometres = None if row.odometer_m is None else round(row.odometer_m / METRES_IN_KM, 3)
        start: tuple[Cell, ...] = (row.unit, row.date, row.visit, row.kind, kilometres)
        if row.reading is None:
            yield (*start, *[None] * (len(HEADER) - len(start)))
            continue
        read, value, sd, ending = row.reading, None, None, ""
        test = catalogue.tests.get(read.test)
        if read.measured is not None and test is not None and test.dimension:
            shape = dimension(test.dimension)
            value, sd = shape.to_json(read.measured.si), shape.spread_to_json(read.measured.sd_si)
            ending = shape.json_ending
        yield (
            *start,
            read.test,
            "after" if read.after else "",
            None if value is None else round(value, 6),
            None if sd is None else round(sd, 6),
            ending,
            read.outcome,
            row.verdict,
            read.instrument,
            read.by,
            read.at,
            read.origin,
        )


def _json_lines(rows: _Counted, catalogue: Catalogue) -> Iterator[str]:
    """One line a visit, its readings in it."""
    line: dict[str, Any] = {}
    for cells in _cells(rows, catalogue):
        named = dict(zip(HEADER, cells, strict=True))
        if line.get("visit") != named["visit"]:
            if line:
                yield json.dumps(line, ensure_ascii=False) + "\n"
            line = {key: named[key] for key in ("unit", "date", "visit", "kind")}
            if named["odometer [km]"] is not None:
                line["odometer_km"] = named["odometer [km]"]
            line["readings"] = []
        if named["test"] is not None:
            line["readings"].append(_json_reading(named))
    if line:
        yield json.dumps(line, ensure_ascii=False) + "\n"


def _json_reading(named: dict[str, Cell]) -> dict[str, Cell | bool]:
    found: dict[str, Cell | bool] = {"test": named["test"]}
    if named["value"] is not None:
        found |= {f"value_{named['in']}": named["value"], f"sd_{named['in']}": named["sd"]}
    kept = ("outcome", "verdict", "instrument", "by", "at", "origin")
    found |= {key: named[key] for key in kept if named[key]}
    return found | ({"after": True} if named["after"] else {})


def _visits(store: Store, out: Path, unit: str, number: int | None) -> Exported:
    from fanwright.records.searching import list_visits, show_visit

    if number is not None:
        numbers = [number]
    else:
        rows = list_visits(store, unit=unit, corrected=True, most=1_000_000)
        numbers = [row.number for row in rows if row.kind != "past"]
    written = 0
    for one in numbers:
        kept = show_visit(store, one)
        if not kept.written:
            raise InputError(
                Message(
                    "visit {visit} is a line of history, without a file of its own; export its truck as .csv",
                    {"visit": count(one)},
                )
            )
        _write_visit(store, out / _folder(kept), kept)
        written += 1
    return Exported(out, written, 0)


def _folder(kept: KeptVisit) -> str:
    unit = re.sub(r"[^\w.-]+", "_", kept.row.unit).lstrip(".") or "_"
    return f"{unit}-{kept.row.date}-{kept.row.number}"


def _write_visit(store: Store, folder: Path, kept: KeptVisit) -> None:
    """Write a visit's file byte by byte as it was kept, its files where it looks for them."""
    for file in kept.files:
        if lies_outside(file.name):  # keeping refuses such a name: these records were altered
            raise InputError(
                Message(
                    "visit {visit} names {file}, which leads out of its folder: these records were altered",
                    {"visit": count(kept.row.number), "file": text(file.name)},
                )
            )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        replace_file(folder / f"visit.{kept.form}", kept.written.encode("utf-8"))
        for file in kept.files:
            target = folder / file.name
            target.parent.mkdir(parents=True, exist_ok=True)
            replace_file(target, store.folder.path(file.sha256).read_bytes())
    except OSError as error:
        raise FileError(
            Message(
                "{folder} cannot be written: {reason}",
                {"folder": text(folder), "reason": text(error.strerror or error)},
            )
        ) from error
