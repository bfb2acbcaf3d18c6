"""Forecasts of facings, kept before anyone knows the outcome.

Revision ID: 0004
Revises: 0003
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "forecasts",
        sa.Column(
            "id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), primary_key=True, autoincrement=False
        ),
        sa.Column("entry", sa.BigInteger, sa.ForeignKey("entries.number"), nullable=False),
        sa.Column("visit", sa.BigInteger, sa.ForeignKey("visits.id"), nullable=False),
        sa.Column("method", sa.Text, nullable=False, server_default=""),
        sa.Column("body", sa.Text, nullable=False, server_default=""),
        sa.Column("energy_j_per_m", sa.Double, nullable=True),
    )
    op.create_index("ix_forecasts_visit", "forecasts", ["visit"])


def downgrade() -> None:
    """Take the table out; entries that vouch for rows in it will then be found wanting."""
    op.drop_table("forecasts")
