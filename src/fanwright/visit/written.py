"""From a visit as it was written down (parsed TOML or JSON) to a Visit, or to every mistake in it."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

from fanwright.catalogue import Catalogue
from fanwright.errors import FanwrightError, InputError
from fanwright.evidence.reading import Reading
from fanwright.evidence.typed import read_entry
from fanwright.quantities import read
from fanwright.truck.loader import truck_for
from fanwright.truck.model import Truck
from fanwright.visit.model import Past, Visit, Work
from fanwright.words import Message, Value, count, text

TABLES = (
    "truck", "drive", "visit", "proof", "readings", "readings_after", "not_done", "work", "history", "files"
)  # fmt: skip
TRUCK_KEYS = ("unit", "odometer", "engine_hours", "preset")
TRUCK_RECORD = ("vin", "make", "model_year", "serial", "tire_size", "owner", "in_service", "note")
DRIVE_KEYS = ("grips_by", "valve", "volts")
DRIVE_RECORD = ("part", "serial", "fitted", "fitted_odometer", "note")
VISIT_KEYS = ("date", "kind")
VISIT_RECORD = (
    "technician", "time", "zone", "place", "lock_out", "ambient", "complaint", "next_due", "second_person",
    "instruments", "note",
)  # fmt: skip
WORK_KEYS = ("cause", "parts", "labour", "note")
PROOF_KEYS = ("unplugged_drive_gauge", "unplugged_fan")
ASSUMED_VOLTS = 12
KINDS = ("planned", "complaint", "retest")


class _Reader:
    """Reads the tables of a visit one by one and gathers every mistake on the way."""

    def __init__(self, raw: Mapping[str, Any], catalogue: Catalogue, language: str) -> None:
        self.raw = raw
        self.catalogue = catalogue
        self.language = language
        self.mistakes: list[Message] = []
        self.kept: list[Message] = []

    def table(self, name: str) -> Mapping[str, Any]:
        found = self.raw.get(name, {})
        if isinstance(found, Mapping):
            return found
        self.say("[{where}] must be a table", where=text(name))
        return {}

    def say(self, template: str, **values: Value) -> None:
        self.mistakes.append(Message(template, values))

    def keep(self, error: FanwrightError) -> None:
        self.mistakes.extend(error.messages)

    def for_the_record(self, where: str, table: Mapping[str, Any], known: tuple[str, ...]) -> None:
        """Keep what nobody reads for the record and say so; a near miss of a known key is a mistake."""
        odd = [key for key in table if key not in known]
        close = [key for key in odd if difflib.get_close_matches(key, known, n=1, cutoff=0.75)]
        self.unknown(where, close, known)
        self.kept += [
            Message("{where}{key} is kept for the record only", {"where": text(where), "key": text(key)})
            for key in odd
            if key not in close
        ]

    def unknown(self, where: str, keys: Iterable[str], known: tuple[str, ...]) -> None:
        for key in keys:
            if key in known:
                continue
            close = difflib.get_close_matches(key, known, n=1)
            if close:
                self.say(
                    "{where}{key} is not known; did you mean {close}?",
                    where=text(where), key=text(key), close=text(close[0]),
                )  # fmt: skip
            else:
                self.say(
                    "{where}{key} is not known; allowed are {known}",
                    where=text(where), key=text(key), known=text(", ".join(known)),
                )  # fmt: skip

    def quantity(self, where: str, raw: object, dimension: str) -> float | None:
        if raw is None:
            return None
        try:
            return read(raw, dimension, self.language).si
        except InputError as error:
            for message in error.messages:
                self.mistakes.append(
                    Message("{_where}: " + message.template, {"_where": text(where), **message.values})
                )
            return None

    def date(self, where: str, raw: object) -> dt.date:
        if isinstance(raw, dt.datetime):
            return raw.date()
        if isinstance(raw, dt.date):
            return raw
        try:
            return dt.date.fromisoformat(str(raw))
        except ValueError:
            if raw is None:
                self.say("{where} is missing; write it like 2026-04-14", where=text(where))
            else:
                self.say(
                    "{where}: {given} is not a date; write it like 2026-04-14",
                    where=text(where), given=text(f"«{raw}»"),
                )  # fmt: skip
            return dt.date.min

    def readings(self, table: Mapping[str, Any], after: bool) -> tuple[Reading, ...]:
        found: list[Reading] = []
        for test_id, entry in table.items():
            try:
                found.extend(read_entry(test_id, entry, self.catalogue, after=after, language=self.language))
            except InputError as error:
                self.keep(error)
        return tuple(found)


def visit_from(
    raw: Mapping[str, Any],
    catalogue: Catalogue,
    presets: Mapping[str, Any] | None = None,
    language: str = "en",
) -> Visit:
    """Read a visit as it was written down.

    Args:
        raw: The parsed file.
        catalogue: What can be observed.
        presets: The shop's ``[presets]`` table, or None.
        language: Language of the numbers.

    Returns:
        The visit.

    Raises:
        InputError: Every mistake of the file, all together.
    """
    reader = _Reader(raw, catalogue, language)
    reader.unknown("", raw, TABLES)
    truck_table, visit_table = reader.table("truck"), reader.table("visit")
    reader.for_the_record("truck.", truck_table, TRUCK_KEYS + TRUCK_RECORD)
    reader.for_the_record("visit.", visit_table, VISIT_KEYS + VISIT_RECORD)
    unit = truck_table.get("unit")
    if isinstance(unit, bool) or not isinstance(unit, (str, int)) or not str(unit).strip():
        reader.say("truck.unit is missing: the fleet's own number of the truck, such as «214»")
    truck = _truck(reader, truck_table, presets)
    visit: dict[str, Any] = {
        "unit": str(unit),
        "kind": _kind(reader, visit_table),
        "date": reader.date("visit.date", visit_table.get("date")),
        "odometer_m": reader.quantity("truck.odometer", truck_table.get("odometer"), "distance"),
        "engine_time_s": reader.quantity(
            "truck.engine_hours", truck_table.get("engine_hours"), "engine_time"
        ),
        "identity": _record(truck_table, TRUCK_KEYS)
        | {f"drive_{key}": value for key, value in _record(reader.table("drive"), DRIVE_KEYS).items()},
        "circumstances": _record(visit_table, VISIT_KEYS),
        "readings": reader.readings(reader.table("readings"), False) + _proof(reader),
        "readings_after": reader.readings(reader.table("readings_after"), True),
        "not_done": _not_done(reader),
        "work": _work(reader),
        "history": _history(reader),
        "files": _files(reader),
        "assumed": (*_assumed(truck_table, reader.table("drive")), *reader.kept),
    }
    if reader.mistakes or truck is None:
        raise InputError(reader.mistakes)
    return Visit(truck=truck, **visit)


def _truck(reader: _Reader, table: Mapping[str, Any], presets: Mapping[str, Any] | None) -> Truck | None:
    drive = reader.table("drive")
    reader.for_the_record("drive.", drive, DRIVE_KEYS + DRIVE_RECORD)
    volts = ASSUMED_VOLTS if _assumed(table, drive) else drive.get("volts")
    if isinstance(volts, str):
        volts = reader.quantity("drive.volts", volts, "voltage")
        if volts is None:
            return None
    try:
        return truck_for(table.get("preset"), drive.get("grips_by"), drive.get("valve"), volts, presets)
    except InputError as error:
        reader.keep(error)
        return None


def _assumed(table: Mapping[str, Any], drive: Mapping[str, Any]) -> tuple[Message, ...]:
    """Voltage is the one thing of the drive that may be assumed, aloud: it moves only the coil's limits."""
    if "volts" in drive or "preset" in table:
        return ()
    return (
        Message(
            "drive.volts is not given: {volts} V is assumed; the limits of the coil depend on it",
            {"volts": count(ASSUMED_VOLTS)},
        ),
    )


def _kind(reader: _Reader, table: Mapping[str, Any]) -> str:
    kind = table.get("kind")
    if kind not in KINDS:
        reader.say(
            "visit.kind: {given} is not a kind of visit; write one of {allowed}",
            given=text("nothing" if kind is None else f"«{kind}»"),
            allowed=text(", ".join(KINDS)),
        )
    return str(kind)


def _record(table: Mapping[str, Any], read: tuple[str, ...]) -> dict[str, str]:
    """Give what is kept for the record: everything but the keys that are read."""
    return {
        key: value.isoformat() if isinstance(value, (dt.date, dt.time)) else _plain(value)
        for key, value in table.items()
        if key not in read
    }


def _plain(value: object) -> str:
    if isinstance(value, (list, tuple)):
        return ", ".join(str(item) for item in value)
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


def _proof(reader: _Reader) -> tuple[Reading, ...]:
    table = reader.table("proof")
    reader.unknown("proof.", table, PROOF_KEYS)
    return reader.readings({key: table[key] for key in PROOF_KEYS if key in table}, False)


def _not_done(reader: _Reader) -> Mapping[str, str]:
    table = reader.table("not_done")
    reader.unknown("not_done.", table, tuple(reader.catalogue.tests))
    return MappingProxyType({key: str(value) for key, value in table.items()})


def _work(reader: _Reader) -> Work:
    table = reader.table("work")
    reader.unknown("work.", table, WORK_KEYS)
    cause = str(table.get("cause", ""))
    if cause and cause not in reader.catalogue.faults:
        reader.unknown("work.cause: ", [cause], tuple(reader.catalogue.faults))
    parts = table.get("parts", [])
    return Work(
        cause,
        tuple(str(part) for part in parts) if isinstance(parts, (list, tuple)) else (str(parts),),
        reader.quantity("work.labour", table.get("labour"), "working_time"),
        str(table.get("note", "")),
    )


def _history(reader: _Reader) -> tuple[Past, ...]:
    entries = reader.raw.get("history", [])
    if not isinstance(entries, list) or not all(isinstance(entry, Mapping) for entry in entries):
        reader.say("[[history]] must be a list of tables, one a visit")
        return ()
    past = []
    for number, entry in enumerate(entries, 1):
        before = len(reader.mistakes)
        readings = {key: value for key, value in entry.items() if key not in ("date", "odometer", "note")}
        one = Past(
            reader.date("date", entry.get("date")),
            reader.quantity("odometer", entry.get("odometer"), "distance"),
            reader.readings(readings, False),
        )
        reader.mistakes[before:] = [
            Message("history {_number}: " + message.template, {"_number": count(number), **message.values})
            for message in reader.mistakes[before:]
        ]
        past.append(one)
    return tuple(sorted(past, key=lambda one: one.date))


def _files(reader: _Reader) -> Mapping[str, tuple[str, ...]]:
    found = {}
    for what, names in reader.table("files").items():
        listed = names if isinstance(names, list) else [names]
        if not all(isinstance(name, str) and name for name in listed):
            reader.say("files.{what} must be a file name or a list of them", what=text(what))
            continue
        found[what] = tuple(listed)
    return MappingProxyType(found)
