"""A rack's things: weighed bars and plates, target velocities, badges, PINs of staff, the plates of a set."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def _row() -> list[sa.Column[object]]:
    return [
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
    ]


def upgrade() -> None:
    """Add the tables; what was there stays as it is."""
    op.create_table(
        "equipment",
        *_row(),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("label", sa.String(length=80), nullable=False),
        sa.Column("unit", sa.String(length=2), nullable=False),
        sa.Column("weighed_kg", sa.Float(), nullable=False),
        sa.Column("pairs", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_equipment")),
    )
    op.create_table(
        "staff_pins",
        *_row(),
        sa.Column("staff", sa.String(length=200), nullable=False),
        sa.Column("pin_hash", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_staff_pins")),
    )
    op.create_table(
        "badges",
        *_row(),
        sa.Column("code", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_badges")),
    )
    with op.batch_alter_table("badges", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_badges_code"), ["code"], unique=False)
    op.create_table(
        "lift_targets",
        *_row(),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("lift", sa.String(length=80), nullable=False),
        sa.Column("target_low_m_s", sa.Float(), nullable=True),
        sa.Column("target_high_m_s", sa.Float(), nullable=True),
        sa.Column("velocity_at_1rm_m_s", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_lift_targets_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lift_targets")),
    )
    with op.batch_alter_table("lift_targets", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_lift_targets_athlete_id"), ["athlete_id"], unique=False)
    with op.batch_alter_table("sets", schema=None) as batch_op:
        batch_op.add_column(sa.Column("plates", sa.JSON(), nullable=True))
