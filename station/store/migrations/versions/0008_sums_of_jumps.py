"""An index that holds everything the means of the jump days need."""

from __future__ import annotations

from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add it."""
    op.create_index("ix_jumps_sums", "jumps", ["day", "athlete_id", "valid", "height_m", "id"], unique=False)
