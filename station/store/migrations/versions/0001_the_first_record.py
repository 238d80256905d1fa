"""The first record: squad, plans, sets, reps, corrections, decisions, claims, raw files."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "athletes",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("shirt_number", sa.Integer(), nullable=True),
        sa.Column("group_name", sa.String(length=80), nullable=False),
        sa.Column("status", sa.String(length=20), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_athletes")),
    )
    op.create_table(
        "claims",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("sensor", sa.String(length=120), nullable=False),
        sa.Column("address", sa.String(length=80), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_claims")),
    )
    op.create_table(
        "corrections",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("target_id", sa.String(length=36), nullable=False),
        sa.Column("field", sa.String(length=40), nullable=False),
        sa.Column("value", sa.JSON(), nullable=True),
        sa.Column("staff", sa.String(length=200), nullable=True),
        sa.Column("why", sa.String(length=400), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_corrections")),
    )
    with op.batch_alter_table("corrections", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_corrections_target_id"), ["target_id"], unique=False)

    op.create_table(
        "staff",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_staff")),
    )
    op.create_table(
        "matches",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_matches")),
    )
    op.create_table(
        "plans",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("lift", sa.String(length=80), nullable=False),
        sa.Column("warmup_load_kg", sa.Float(), nullable=False),
        sa.Column("planned_load_kg", sa.Float(), nullable=True),
        sa.Column("ceiling_kg", sa.Float(), nullable=True),
        sa.Column("work_sets", sa.Integer(), nullable=False),
        sa.Column("stop_loss", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_plans_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plans")),
    )
    with op.batch_alter_table("plans", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plans_athlete_id"), ["athlete_id"], unique=False)

    op.create_table(
        "sets",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=True),
        sa.Column("name_confirmed", sa.Boolean(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("session", sa.Integer(), nullable=False),
        sa.Column("lift", sa.String(length=80), nullable=False),
        sa.Column("load_kg", sa.Float(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("staff", sa.String(length=200), nullable=True),
        sa.Column("sensor", sa.String(length=120), nullable=False),
        sa.Column("calibration", sa.JSON(), nullable=True),
        sa.Column("sensor_range_m_s2", sa.Float(), nullable=True),
        sa.Column("usual_range_of_motion_m", sa.Float(), nullable=True),
        sa.Column("bar_kg", sa.Float(), nullable=True),
        sa.Column("engine_version", sa.String(length=40), nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_sets_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sets")),
    )
    with op.batch_alter_table("sets", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sets_athlete_id"), ["athlete_id"], unique=False)
        batch_op.create_index("ix_sets_history", ["lift", "athlete_id", "day"], unique=False)

    op.create_table(
        "decisions",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("set_id", sa.String(length=36), nullable=False),
        sa.Column("suggested_load_kg", sa.Float(), nullable=True),
        sa.Column("planned_load_kg", sa.Float(), nullable=True),
        sa.Column("sentence", sa.String(length=400), nullable=False),
        sa.Column("decision", sa.String(length=20), nullable=False),
        sa.Column("load_kg", sa.Float(), nullable=True),
        sa.Column("staff", sa.String(length=200), nullable=True),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_decisions_set_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_decisions")),
    )
    with op.batch_alter_table("decisions", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_decisions_set_id"), ["set_id"], unique=False)

    op.create_table(
        "raw_files",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("set_id", sa.String(length=36), nullable=False),
        sa.Column("file", sa.String(length=200), nullable=False),
        sa.Column("samples", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_raw_files_set_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_raw_files")),
    )
    with op.batch_alter_table("raw_files", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_raw_files_set_id"), ["set_id"], unique=False)

    op.create_table(
        "reps",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("set_id", sa.String(length=36), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("status", sa.String(length=20), nullable=False),
        sa.Column("start_time_s", sa.Float(), nullable=False),
        sa.Column("end_time_s", sa.Float(), nullable=False),
        sa.Column("decided_time_s", sa.Float(), nullable=False),
        sa.Column("mean_velocity_m_s", sa.Float(), nullable=True),
        sa.Column("mean_propulsive_velocity_m_s", sa.Float(), nullable=True),
        sa.Column("peak_velocity_m_s", sa.Float(), nullable=True),
        sa.Column("displacement_m", sa.Float(), nullable=True),
        sa.Column("uncertainty_m_s", sa.Float(), nullable=True),
        sa.Column("flags", sa.JSON(), nullable=False),
        sa.Column("why", sa.String(length=200), nullable=False),
        sa.Column("curve", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_reps_set_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reps")),
    )
    with op.batch_alter_table("reps", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reps_set_id"), ["set_id"], unique=False)

    op.create_table(
        "set_ends",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("set_id", sa.String(length=36), nullable=False),
        sa.Column("reason", sa.String(length=40), nullable=False),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_set_ends_set_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_set_ends")),
    )
    with op.batch_alter_table("set_ends", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_set_ends_set_id"), ["set_id"], unique=False)
