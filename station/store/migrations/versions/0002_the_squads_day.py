"""The squad's day: check-ins, jumps, roster changes, training status, match days, plans, the staff list."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables; what was there stays as it is."""
    op.create_table(
        "match_days",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("key", sa.String(length=300), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("staff", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_match_days")),
    )
    with op.batch_alter_table("match_days", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_match_days_key"), ["key"], unique=False)

    op.create_table(
        "appearances",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("played", sa.Boolean(), nullable=False),
        sa.Column("staff", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_appearances_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_appearances")),
    )
    with op.batch_alter_table("appearances", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_appearances_athlete_id"), ["athlete_id"], unique=False)

    op.create_table(
        "check_ins",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("fatigue", sa.Integer(), nullable=True),
        sa.Column("sleep", sa.Integer(), nullable=True),
        sa.Column("soreness", sa.Integer(), nullable=True),
        sa.Column("stress", sa.Integer(), nullable=True),
        sa.Column("mood", sa.Integer(), nullable=True),
        sa.Column("hours_slept", sa.Float(), nullable=True),
        sa.Column("pains", sa.JSON(), nullable=False),
        sa.Column("ill", sa.Boolean(), nullable=False),
        sa.Column("wants_talk", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(length=1000), nullable=False),
        sa.Column("seconds", sa.Float(), nullable=True),
        sa.Column("touches", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_check_ins_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_check_ins")),
    )
    with op.batch_alter_table("check_ins", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_check_ins_athlete_id"), ["athlete_id"], unique=False)
        batch_op.create_index("ix_check_ins_day", ["day"], unique=False)

    op.create_table(
        "consents",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("given", sa.Boolean(), nullable=False),
        sa.Column("text_version", sa.String(length=20), nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_consents_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consents")),
    )
    with op.batch_alter_table("consents", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_consents_athlete_id"), ["athlete_id"], unique=False)

    op.create_table(
        "entry_events",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("event", sa.String(length=20), nullable=False),
        sa.Column("staff", sa.String(length=200), nullable=False),
        sa.Column("outcome", sa.String(length=80), nullable=False),
        sa.Column("medical_note", sa.String(length=1000), nullable=False),
        sa.Column("seen", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_entry_events_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_entry_events")),
    )
    with op.batch_alter_table("entry_events", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_entry_events_athlete_id"), ["athlete_id"], unique=False)

    op.create_table(
        "jumps",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=True),
        sa.Column("name_confirmed", sa.Boolean(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("height_m", sa.Float(), nullable=False),
        sa.Column("from_flight_m", sa.Float(), nullable=False),
        sa.Column("from_impulse_m", sa.Float(), nullable=False),
        sa.Column("uncertainty_m", sa.Float(), nullable=True),
        sa.Column("depth_m", sa.Float(), nullable=True),
        sa.Column("time_to_takeoff_s", sa.Float(), nullable=True),
        sa.Column("flight_time_s", sa.Float(), nullable=False),
        sa.Column("flags", sa.JSON(), nullable=False),
        sa.Column("valid", sa.Boolean(), nullable=False),
        sa.Column("why", sa.String(length=200), nullable=False),
        sa.Column("sensor", sa.String(length=120), nullable=False),
        sa.Column("calibration", sa.JSON(), nullable=True),
        sa.Column("sensor_range_m_s2", sa.Float(), nullable=True),
        sa.Column("engine_version", sa.String(length=40), nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_jumps_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jumps")),
    )
    with op.batch_alter_table("jumps", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_jumps_athlete_id"), ["athlete_id"], unique=False)
        batch_op.create_index("ix_jumps_day", ["day"], unique=False)

    op.create_table(
        "lift_plans",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=True),
        sa.Column("group_name", sa.String(length=80), nullable=False),
        sa.Column("lift", sa.String(length=80), nullable=False),
        sa.Column("warmup_load_kg", sa.Float(), nullable=False),
        sa.Column("planned_load_kg", sa.Float(), nullable=True),
        sa.Column("ceiling_kg", sa.Float(), nullable=True),
        sa.Column("work_sets", sa.Integer(), nullable=False),
        sa.Column("stop_loss", sa.Float(), nullable=True),
        sa.Column("from_day", sa.Date(), nullable=False),
        sa.Column("staff", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_lift_plans_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lift_plans")),
    )
    with op.batch_alter_table("lift_plans", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_lift_plans_athlete_id"), ["athlete_id"], unique=False)

    op.create_table(
        "load_holds",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("holds", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_load_holds_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_load_holds")),
    )
    with op.batch_alter_table("load_holds", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_load_holds_athlete_id"), ["athlete_id"], unique=False)

    op.create_table(
        "roster_changes",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("field", sa.String(length=20), nullable=False),
        sa.Column("value", sa.JSON(), nullable=True),
        sa.Column("from_day", sa.Date(), nullable=False),
        sa.Column("staff", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athletes.id"], name=op.f("fk_roster_changes_athlete_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_roster_changes")),
    )
    with op.batch_alter_table("roster_changes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_roster_changes_athlete_id"), ["athlete_id"], unique=False)

    op.create_table(
        "training_statuses",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("status", sa.String(length=20), nullable=False),
        sa.Column("lifts", sa.JSON(), nullable=False),
        sa.Column("ceiling_kg", sa.Float(), nullable=True),
        sa.Column("from_day", sa.Date(), nullable=False),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("staff", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(
            ["athlete_id"], ["athletes.id"], name=op.f("fk_training_statuses_athlete_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_training_statuses")),
    )
    with op.batch_alter_table("training_statuses", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_training_statuses_athlete_id"), ["athlete_id"], unique=False)

    with op.batch_alter_table("sets", schema=None) as batch_op:
        batch_op.create_index("ix_sets_day", ["day"], unique=False)

    with op.batch_alter_table("staff", schema=None) as batch_op:
        batch_op.add_column(sa.Column("role", sa.String(length=20), server_default="", nullable=False))
