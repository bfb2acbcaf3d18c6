"""The bay page: its visits with their entries, and who may come in.

Revision ID: 0003
Revises: 0002
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

TABLES = ("sessions", "devices", "users", "bay_ends", "bay_files", "bay_entries", "bay_visits")


def _key(*, counted: bool = False) -> sa.Column[int]:
    whole = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
    return sa.Column("id", whole, primary_key=True, autoincrement=counted)


def _texts(names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Text, nullable=False, server_default="") for name in names.split()]


def _flag(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.BigInteger, nullable=False, server_default="0")


def _link(name: str, target: str, *, optional: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sa.BigInteger, sa.ForeignKey(target), nullable=optional)


def _unique(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Text, nullable=False, unique=True)


def _kept(name: str, *columns: sa.Column[Any], find_by: str) -> None:
    op.create_table(name, _key(), _link("entry", "entries.number"), *columns)
    for found in find_by.split(","):
        op.create_index(f"ix_{name}_{found}", name, [found])


def upgrade() -> None:
    """Add the tables of the bay and of access."""
    _kept(
        "bay_visits",
        _unique("key"),
        *_texts("unit base language"),
        _link("base_visit", "visits.id", optional=True),
        find_by="base_visit",
    )
    bay = ("bay", "bay_visits.id")
    _kept(
        "bay_entries",
        _link(*bay),
        _unique("key"),
        *_texts("body author sent_by"),
        _flag("proved"),
        find_by="bay",
    )
    _kept(
        "bay_files",
        _link(*bay),
        _unique("key"),
        *_texts("what name"),
        _link("file", "files.id", optional=True),
        *_texts("found refused"),
        find_by="bay",
    )
    _kept(
        "bay_ends",
        _link(*bay),
        *_texts("act"),
        _link("visit", "visits.id"),
        _flag("item_count"),
        find_by="bay,visit",
    )
    _access()


def _access() -> None:
    op.create_table(
        "users",
        _key(counted=True),
        _unique("name"),
        *_texts("role password_hash pin_hash created_utc"),
        _flag("pin_tries"),
        _flag("disabled"),
    )
    op.create_table(
        "devices",
        _key(counted=True),
        _unique("token_sha256"),
        *_texts("name label enrolled_utc withdrawn_utc"),
        _link("enrolled_by", "users.id"),
    )
    op.create_table(
        "sessions",
        _key(counted=True),
        _unique("token_sha256"),
        _link("user", "users.id"),
        _link("device", "devices.id"),
        *_texts("how author_token_sha256 started_utc seen_utc ends_utc withdrawn_utc"),
    )
    op.create_index("ix_sessions_user", "sessions", ["user"])


def downgrade() -> None:
    """Take the tables out; entries that vouch for rows in them will then be found wanting."""
    for name in TABLES:
        op.drop_table(name)
