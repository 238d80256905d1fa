"""Raw samples of jumps on their way to the desk."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; what was there stays as it is."""
    op.create_table(
        "raw_jump_contents",
        sa.Column("raw_id", sa.String(length=36), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["raw_id"], ["jumps.id"], name=op.f("fk_raw_jump_contents_raw_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("raw_id", name=op.f("pk_raw_jump_contents")),
    )
