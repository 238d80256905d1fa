"""Indexes that hold what a history looks for, in the place of those of their first columns."""

from __future__ import annotations

from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

_COUNTED = ["set_id", "status", "mean_velocity_m_s", "displacement_m", "id"]


def upgrade() -> None:
    """Make the wider ones, drop the narrow."""
    op.create_index("ix_sets_athlete_days", "sets", ["athlete_id", "day", "lift", "id"], unique=False)
    op.drop_index("ix_sets_athlete_id", table_name="sets")
    op.create_index("ix_reps_counted", "reps", _COUNTED, unique=False)
    op.drop_index("ix_reps_set_id", table_name="reps")
