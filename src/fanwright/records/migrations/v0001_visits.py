"""The first tables: the chain, trucks, visits, what was read, said, done and signed.

Revision ID: 0001
Revises:
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

DONE = ("sign_offs", "states", "settings", "fittings", "parts", "work", "causes")
SAID = ("verdicts", "assessments")
FOUND = ("visit_files", "files", "not_done", "readings", "visits")
KNOWN = ("calibrations", "instruments", "truck_details", "trucks", "people", "shops")


def _whole() -> sa.types.TypeEngine[int]:
    return sa.BigInteger()


def _texts(names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Text, nullable=False, server_default="") for name in names.split()]


def _reals(names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Double, nullable=True) for name in names.split()]


def _flag(name: str) -> sa.Column[Any]:
    return sa.Column(name, _whole(), nullable=False, server_default="0")


def _link(name: str, target: str, *, optional: bool = False) -> sa.Column[Any]:
    return sa.Column(name, _whole(), sa.ForeignKey(target), nullable=optional)


def _unique(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Text, nullable=False, unique=True)


def _key(name: str) -> sa.Column[Any]:
    return sa.Column(
        name, sa.BigInteger().with_variant(sa.Integer(), "sqlite"), primary_key=True, autoincrement=False
    )


def _kept(name: str, *columns: sa.Column[Any], find_by: str = "") -> None:
    op.create_table(name, _key("id"), _link("entry", "entries.number"), *columns)
    for found in filter(None, find_by.split(",")):
        op.create_index(f"ix_{name}_{found.replace(' ', '_')}", name, found.split())


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "entries",
        _key("number"),
        *_texts("at_utc zone made_by act subject why program rows_sha256 row_marks previous_sha256 sha256"),
    )
    _people_and_trucks()
    _visits()
    _said()
    _done()


def _people_and_trucks() -> None:
    _kept("shops", *_texts("name zone"), find_by="name")
    _kept("people", *_texts("name role"), find_by="name")
    _kept("trucks", _unique("unit"))
    _kept(
        "truck_details",
        _link("truck", "trucks.id"),
        *_texts("vin make model_year serial tire_size owner in_service note preset grips_by valve"),
        *_reals("volts"),
        find_by="truck",
    )
    _kept("instruments", *_texts("number label"), find_by="number")
    _kept(
        "calibrations",
        _link("instrument", "instruments.id"),
        *_texts("date due dimension"),
        *_reals("offset_si"),
        *_texts("note"),
        find_by="instrument",
    )


def _visits() -> None:
    _kept(
        "visits",
        _link("truck", "trucks.id"),
        _unique("key"),
        _link("corrects", "visits.id", optional=True),
        *_texts("form written language kind date at_utc zone place technician"),
        *_reals("odometer_m engine_time_s"),
        find_by="truck date,date,technician date,place date,corrects",
    )
    _kept(
        "readings",
        _link("visit", "visits.id"),
        *_texts("test"),
        _flag("after"),
        *_texts("outcome"),
        *_reals("value_si half_width_si normal_sd_si"),
        *_texts("each_si origin instrument taken_by taken_at place conditions cannot_judge"),
        find_by="visit",
    )
    _kept("not_done", _link("visit", "visits.id"), *_texts("test why"), find_by="visit")
    _kept("files", _unique("sha256"), _flag("size"))
    _kept(
        "visit_files",
        _link("visit", "visits.id"),
        _link("file", "files.id"),
        *_texts("what name"),
        find_by="visit,file",
    )


def _said() -> None:
    _kept(
        "assessments",
        _link("visit", "visits.id"),
        *_texts("overall overall_why overall_after shop_sha256"),
        find_by="visit",
    )
    _kept(
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


def _done() -> None:
    _kept("causes", _link("visit", "visits.id"), *_texts("fault"), _flag("confirmed"), find_by="visit,fault")
    _kept("work", _link("visit", "visits.id"), *_reals("labour_s"), *_texts("note"), find_by="visit")
    _kept("parts", _link("visit", "visits.id"), *_texts("name old_serial new_serial"), find_by="visit")
    _kept(
        "fittings",
        _link("truck", "trucks.id"),
        _link("visit", "visits.id", optional=True),
        *_texts("part event part_number serial date"),
        *_reals("odometer_m"),
        *_texts("note"),
        find_by="truck",
    )
    _kept(
        "settings",
        _link("truck", "trucks.id"),
        _link("visit", "visits.id"),
        *_texts("name value"),
        _flag("after"),
        find_by="truck,visit",
    )
    _kept("states", _link("visit", "visits.id"), *_texts("state because"), find_by="visit,state")
    _kept("sign_offs", _link("visit", "visits.id"), *_texts("role person"), find_by="visit")


def downgrade() -> None:
    """Take everything out again, children before parents."""
    for names in (DONE, SAID, FOUND, KNOWN, ("entries",)):
        for name in names:
            op.drop_table(name)
