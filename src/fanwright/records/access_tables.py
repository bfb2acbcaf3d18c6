"""Who may come in: people with their passwords, their devices and sessions. Outside the chain.

These rows are changed and end; no backup and no export holds them. That somebody was added, given a role or
shut out is noted in the chain as well, without anything secret.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, ForeignKey, Index, Integer, MetaData, Table, Text

METADATA = MetaData()


def _key() -> Column[int]:
    return Column("id", BigInteger().with_variant(Integer(), "sqlite"), primary_key=True, autoincrement=True)


def _texts(names: str) -> list[Column[str]]:
    return [Column(name, Text, nullable=False, server_default="") for name in names.split()]


def _whole(name: str) -> Column[int]:
    return Column(name, BigInteger, nullable=False, server_default="0")


users = Table(
    "users",
    METADATA,
    _key(),
    Column("name", Text, nullable=False, unique=True),
    *_texts("role password_hash pin_hash created_utc"),
    _whole("pin_tries"),
    _whole("disabled"),
)
devices = Table(
    "devices",
    METADATA,
    _key(),
    Column("token_sha256", Text, nullable=False, unique=True),
    *_texts("name label enrolled_utc withdrawn_utc"),
    Column("enrolled_by", BigInteger, ForeignKey("users.id"), nullable=False),
)
sessions = Table(
    "sessions",
    METADATA,
    _key(),
    Column("token_sha256", Text, nullable=False, unique=True),
    Column("user", BigInteger, ForeignKey("users.id"), nullable=False),
    Column("device", BigInteger, ForeignKey("devices.id"), nullable=False),
    *_texts("how author_token_sha256 started_utc seen_utc ends_utc withdrawn_utc"),
    Index("ix_sessions_user", "user"),
)

NAMES: frozenset[str] = frozenset(METADATA.tables)
