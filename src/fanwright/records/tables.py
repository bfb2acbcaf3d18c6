"""The tables as they are now. How they came to be is in ``migrations``; a test holds the two together.

Every row belongs to an entry of the chain and is never changed or taken out: a correction is a new row. Times
and dates are texts in ISO 8601 and flags are 0 or 1, so that a row reads, sorts and hashes alike in both
databases. A column that comes later stands last and may be empty: old entries keep vouching for old rows.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import BigInteger, Column, Double, ForeignKey, Index, Integer, MetaData, Table, Text

METADATA = MetaData()
HEAD = "0004"


def _texts(names: str) -> list[Column[Any]]:
    return [Column(name, Text, nullable=False, server_default="") for name in names.split()]


def _reals(names: str) -> list[Column[Any]]:
    return [Column(name, Double, nullable=True) for name in names.split()]


def _flag(name: str) -> Column[Any]:
    return Column(name, BigInteger, nullable=False, server_default="0")


def _link(name: str, target: str, *, optional: bool = False) -> Column[Any]:
    return Column(name, BigInteger, ForeignKey(target), nullable=optional)


def _unique(name: str) -> Column[Any]:
    return Column(name, Text, nullable=False, unique=True)


def _key(name: str) -> Column[Any]:
    """An INTEGER PRIMARY KEY of SQLite is the row's own number; BIGINT would cost a second index."""
    return Column(name, BigInteger().with_variant(Integer(), "sqlite"), primary_key=True, autoincrement=False)


def _kept(name: str, *columns: Column[Any], find_by: str = "") -> Table:
    """A table of the record: a row's number, its entry, then what it holds; found by some columns."""
    indexes = [
        Index(f"ix_{name}_{found.replace(' ', '_')}", *found.split())
        for found in filter(None, find_by.split(","))
    ]
    return Table(name, METADATA, _key("id"), _link("entry", "entries.number"), *columns, *indexes)


entries = Table(
    "entries",
    METADATA,
    _key("number"),
    *_texts("at_utc zone made_by act subject why program rows_sha256 row_marks previous_sha256 sha256"),
)

shops = _kept("shops", *_texts("name zone"), find_by="name")
people = _kept("people", *_texts("name role"), find_by="name")
trucks = _kept("trucks", _unique("unit"))
truck_details = _kept(
    "truck_details",
    _link("truck", "trucks.id"),
    *_texts("vin make model_year serial tire_size owner in_service note preset grips_by valve"),
    *_reals("volts"),
    find_by="truck",
)
instruments = _kept("instruments", *_texts("number label"), find_by="number")
calibrations = _kept(
    "calibrations",
    _link("instrument", "instruments.id"),
    *_texts("date due dimension"),
    *_reals("offset_si"),
    *_texts("note"),
    find_by="instrument",
)

visits = _kept(
    "visits",
    _link("truck", "trucks.id"),
    _unique("key"),
    _link("corrects", "visits.id", optional=True),
    *_texts("form written language kind date at_utc zone place technician"),
    *_reals("odometer_m engine_time_s"),
    find_by="truck date,date,technician date,place date,corrects",
)
readings = _kept(
    "readings",
    _link("visit", "visits.id"),
    *_texts("test"),
    _flag("after"),
    *_texts("outcome"),
    *_reals("value_si half_width_si normal_sd_si"),
    *_texts("each_si origin instrument taken_by taken_at place conditions cannot_judge"),
    find_by="visit",
)
not_done = _kept("not_done", _link("visit", "visits.id"), *_texts("test why"), find_by="visit")
files = _kept("files", _unique("sha256"), _flag("size"))
visit_files = _kept(
    "visit_files",
    _link("visit", "visits.id"),
    _link("file", "files.id"),
    *_texts("what name"),
    find_by="visit,file",
)

assessments = _kept(
    "assessments",
    _link("visit", "visits.id"),
    *_texts("overall overall_why overall_after shop_sha256"),
    find_by="visit",
)
verdicts = _kept(
    "verdicts",
    _link("visit", "visits.id"),
    *_texts("test"),
    _flag("after"),
    *_texts("verdict outcome dimension"),
    *_reals("value_si sd_si limit_si watch_limit_si chance_beyond_limit chance_beyond_watch"),
    _flag("repeat"),
    *_texts("why limit_source"),
    find_by="visit",
)

causes = _kept(
    "causes", _link("visit", "visits.id"), *_texts("fault"), _flag("confirmed"), find_by="visit,fault"
)
work = _kept("work", _link("visit", "visits.id"), *_reals("labour_s"), *_texts("note"), find_by="visit")
parts = _kept("parts", _link("visit", "visits.id"), *_texts("name old_serial new_serial"), find_by="visit")
fittings = _kept(
    "fittings",
    _link("truck", "trucks.id"),
    _link("visit", "visits.id", optional=True),
    *_texts("part event part_number serial date"),
    *_reals("odometer_m"),
    *_texts("note"),
    find_by="truck",
)
settings = _kept(
    "settings",
    _link("truck", "trucks.id"),
    _link("visit", "visits.id"),
    *_texts("name value"),
    _flag("after"),
    find_by="truck,visit",
)
states = _kept("states", _link("visit", "visits.id"), *_texts("state because"), find_by="visit,state")
sign_offs = _kept("sign_offs", _link("visit", "visits.id"), *_texts("role person"), find_by="visit")

mappings = _kept("mappings", *_texts("header_sha256 columns"), find_by="header_sha256")
learning_marks = _kept(
    "learning_marks", _link("visit", "visits.id", optional=True), *_texts("act"), find_by="visit"
)

bay_visits = _kept(
    "bay_visits",
    _unique("key"),
    *_texts("unit base language"),
    _link("base_visit", "visits.id", optional=True),
    find_by="base_visit",
)
bay_entries = _kept(
    "bay_entries",
    _link("bay", "bay_visits.id"),
    _unique("key"),
    *_texts("body author sent_by"),
    _flag("proved"),
    find_by="bay",
)
bay_files = _kept(
    "bay_files",
    _link("bay", "bay_visits.id"),
    _unique("key"),
    *_texts("what name"),
    _link("file", "files.id", optional=True),
    *_texts("found refused"),
    find_by="bay",
)
bay_ends = _kept(
    "bay_ends",
    _link("bay", "bay_visits.id"),
    *_texts("act"),
    _link("visit", "visits.id"),
    _flag("item_count"),
    find_by="bay,visit",
)

forecasts = _kept(
    "forecasts",
    _link("visit", "visits.id"),
    *_texts("method body"),
    *_reals("energy_j_per_m"),
    find_by="visit",
)

KEPT: tuple[Table, ...] = tuple(table for table in METADATA.sorted_tables if table is not entries)
