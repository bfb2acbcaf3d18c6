"""What a shop teaches the program: the columns of its spreadsheets, and which visits count as lessons.

Revision ID: 0002
Revises: 0001
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the two tables."""
    op.create_table(
        "mappings",
        _key(),
        sa.Column("entry", sa.BigInteger, sa.ForeignKey("entries.number"), nullable=False),
        sa.Column("header_sha256", sa.Text, nullable=False, server_default=""),
        sa.Column("columns", sa.Text, nullable=False, server_default=""),
    )
    op.create_index("ix_mappings_header_sha256", "mappings", ["header_sha256"])
    op.create_table(
        "learning_marks",
        _key(),
        sa.Column("entry", sa.BigInteger, sa.ForeignKey("entries.number"), nullable=False),
        sa.Column("visit", sa.BigInteger, sa.ForeignKey("visits.id"), nullable=True),
        sa.Column("act", sa.Text, nullable=False, server_default=""),
    )
    op.create_index("ix_learning_marks_visit", "learning_marks", ["visit"])


def _key() -> sa.Column[int]:
    return sa.Column(
        "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), primary_key=True, autoincrement=False
    )


def downgrade() -> None:
    """Take the two tables out; entries that vouch for rows in them will then be found wanting."""
    op.drop_table("learning_marks")
    op.drop_table("mappings")
