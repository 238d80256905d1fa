"""Raw samples of jumps, and the figures behind the squad day's list."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns and the table; what was there stays as it is."""
    op.add_column("jumps", sa.Column("raw_file", sa.String(length=200), nullable=True))
    op.add_column("jumps", sa.Column("raw_sha256", sa.String(length=64), nullable=True))
    op.create_table(
        "squad_rules",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("rules", sa.JSON(), nullable=False),
        sa.Column("staff", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_squad_rules")),
    )
