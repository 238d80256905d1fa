"""The review: comments beside a set, the engine that measured a rep, the order of the session log."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table, the column and the indexes; what was there stays as it is."""
    op.create_table(
        "comments",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("born_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rack", sa.String(length=80), nullable=False),
        sa.Column("set_id", sa.String(length=36), nullable=False),
        sa.Column("words", sa.String(length=1000), nullable=False),
        sa.Column("staff", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_comments_set_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_comments")),
    )
    op.create_index(op.f("ix_comments_set_id"), "comments", ["set_id"], unique=False)
    op.add_column("reps", sa.Column("engine_version", sa.String(length=40), nullable=True))
    op.create_index("ix_sets_log", "sets", ["day", "id"], unique=False)
    op.create_index(
        "ix_reps_again",
        "reps",
        ["set_id"],
        unique=False,
        sqlite_where=sa.text("engine_version IS NOT NULL"),
        postgresql_where=sa.text("engine_version IS NOT NULL"),
    )
