"""Records that are shared: erasures, who has checked in, and what waits to be handed on."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables; what was there stays as it is."""
    op.create_table(
        "erasures",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_erasures")),
        sa.UniqueConstraint("athlete_id"),
    )
    op.create_table(
        "check_in_marks",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_check_in_marks_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_check_in_marks")),
    )
    with op.batch_alter_table("check_in_marks", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_check_in_marks_athlete_id"), ["athlete_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_check_in_marks_day"), ["day"], unique=False)
    op.create_table(
        "outgoing",
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("table_name", sa.String(length=40), nullable=False),
        sa.Column("row_id", sa.String(length=36), nullable=False),
        sa.PrimaryKeyConstraint("n", name=op.f("pk_outgoing")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "exchange_state",
        sa.Column("server", sa.String(length=36), nullable=False),
        sa.Column("pulled", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("server", name=op.f("pk_exchange_state")),
    )
    # What a check-in of an earlier version says of who was there.
    op.execute(
        "INSERT INTO check_in_marks (id, born_at, rack, athlete_id, day) "
        "SELECT id, born_at, rack, athlete_id, day FROM check_ins"
    )
