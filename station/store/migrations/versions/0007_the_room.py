"""What racks and desk share beside their records: how racks stand, raw samples on their way, erasures asked for."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables; what was there stays as it is."""
    op.create_table(
        "rack_states",
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("heard_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("athlete_id", sa.String(length=36), nullable=True),
        sa.Column("report", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("rack", name=op.f("pk_rack_states")),
    )
    op.create_table(
        "raw_contents",
        sa.Column("raw_id", sa.String(length=36), nullable=False),
        sa.Column("set_id", sa.String(length=36), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["raw_id"], ["raw_files.id"], name=op.f("fk_raw_contents_raw_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("raw_id", name=op.f("pk_raw_contents")),
    )
    with op.batch_alter_table("raw_contents", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_raw_contents_set_id"), ["set_id"], unique=False)
    op.create_table(
        "erasure_asks",
        sa.Column("athlete_id", sa.String(length=36), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.PrimaryKeyConstraint("athlete_id", name=op.f("pk_erasure_asks")),
    )
