"""The tables of the record. Every row has a UUIDv7 made where it was born; measurements are never edited.

Moving a set to another athlete, striking a rep, changing a load are rows in `corrections` that point at what they
correct; `effective` reads both together.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    TypeDecorator,
)

from station.store.ids import IdClock

_IDS = IdClock()


def new_id() -> str:
    """A UUIDv7 (RFC 9562): unique without a server, and sorted by the time it was made.

    For what no other record is compared with, such as a new athlete; rows get theirs from the record's own clock.
    """
    return _IDS.new()


class Instant(TypeDecorator[datetime]):
    """A UTC instant. SQLite keeps no zone, so it is taken off going in and put back coming out."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        """Into the database, as UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs a zone")
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Out of the database, as UTC."""
        if value is None:
            return None
        stamp: datetime = value
        return stamp.replace(tzinfo=UTC) if stamp.tzinfo is None else stamp.astimezone(UTC)


metadata = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def id_column() -> Column[str]:
    """The key of every table."""
    return Column("id", String(36), primary_key=True)


def born_columns() -> list[Column[Any]]:
    """Where and when a record was born: part of every table."""
    return [
        Column("born_at", Instant, nullable=False),
        Column("rack", String(80), nullable=False),
    ]


athletes = Table(
    "athletes",
    metadata,
    id_column(),
    *born_columns(),
    Column("name", String(200), nullable=False),
    Column("shirt_number", Integer),
    Column("group_name", String(80), nullable=False, default=""),
    Column("status", String(20), nullable=False, default="full"),
)

staff = Table(
    "staff",
    metadata,
    id_column(),
    *born_columns(),
    Column("name", String(200), nullable=False),
    # "medical" may set training status and read where it hurts; "" is any other member of staff.
    Column("role", String(20), nullable=False, default="", server_default=""),
)

matches = Table("matches", metadata, id_column(), *born_columns(), Column("day", Date, nullable=False))

plans = Table(
    "plans",
    metadata,
    id_column(),
    *born_columns(),
    Column("athlete_id", String(36), ForeignKey("athletes.id"), nullable=False, index=True),
    Column("lift", String(80), nullable=False),
    Column("warmup_load_kg", Float, nullable=False),
    Column("planned_load_kg", Float),
    Column("ceiling_kg", Float),
    Column("work_sets", Integer, nullable=False),
    Column("stop_loss", Float),
)

sets = Table(
    "sets",
    metadata,
    id_column(),
    *born_columns(),
    Column("athlete_id", String(36), ForeignKey("athletes.id")),
    Column("name_confirmed", Boolean, nullable=False),
    Column("day", Date, nullable=False),
    Column("session", Integer, nullable=False),
    Column("lift", String(80), nullable=False),
    Column("load_kg", Float, nullable=False),
    Column("kind", String(20), nullable=False),
    Column("staff", String(200)),
    # Equipment and what the engine was given, so that the set can be measured again.
    Column("sensor", String(120), nullable=False, default=""),
    Column("calibration", JSON),
    Column("sensor_range_m_s2", Float),
    Column("usual_range_of_motion_m", Float),
    Column("bar_kg", Float),
    Column("plates", JSON),
    Column("engine_version", String(40), nullable=False),
)
# One athlete's rows lie scattered over years of everybody's: a history finds its days here, without the rows.
Index("ix_sets_athlete_days", sets.c.athlete_id, sets.c.day, sets.c.lift, sets.c.id)
Index("ix_sets_history", sets.c.lift, sets.c.athlete_id, sets.c.day)
Index("ix_sets_day", sets.c.day)
Index("ix_sets_log", sets.c.day, sets.c.id)

set_ends = Table(
    "set_ends",
    metadata,
    id_column(),
    *born_columns(),
    Column("set_id", String(36), ForeignKey("sets.id"), nullable=False, index=True),
    Column("reason", String(40), nullable=False),
)

reps = Table(
    "reps",
    metadata,
    id_column(),
    *born_columns(),
    Column("set_id", String(36), ForeignKey("sets.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("status", String(20), nullable=False),
    Column("start_time_s", Float, nullable=False),
    Column("end_time_s", Float, nullable=False),
    Column("decided_time_s", Float, nullable=False),
    Column("mean_velocity_m_s", Float),
    Column("mean_propulsive_velocity_m_s", Float),
    Column("peak_velocity_m_s", Float),
    Column("displacement_m", Float),
    Column("uncertainty_m_s", Float),
    Column("flags", JSON, nullable=False),
    Column("why", String(200), nullable=False, default=""),
    # The velocity curve for review: float32 pairs (time s, velocity m/s), little-endian.
    Column("curve", LargeBinary),
    # None: measured at the rack by the set's engine. Else a later engine measured the kept samples again.
    Column("engine_version", String(40)),
)
# All that a history needs of a rep, without the row, which its curve makes long.
Index(
    "ix_reps_counted",
    *(reps.c.set_id, reps.c.status, reps.c.mean_velocity_m_s, reps.c.displacement_m, reps.c.id),
)
_again = reps.c.engine_version.is_not(None)
Index("ix_reps_again", reps.c.set_id, sqlite_where=_again, postgresql_where=_again)

corrections = Table(
    "corrections",
    metadata,
    id_column(),
    *born_columns(),
    Column("target_id", String(36), nullable=False, index=True),
    Column("field", String(40), nullable=False),
    Column("value", JSON),
    Column("staff", String(200)),
    Column("why", String(400), nullable=False, default=""),
)

decisions = Table(
    "decisions",
    metadata,
    id_column(),
    *born_columns(),
    Column("set_id", String(36), ForeignKey("sets.id"), nullable=False, index=True),
    Column("suggested_load_kg", Float),
    Column("planned_load_kg", Float),
    Column("sentence", String(400), nullable=False),
    Column("decision", String(20), nullable=False),
    Column("load_kg", Float),
    Column("staff", String(200)),
)

claims = Table(
    "claims",
    metadata,
    id_column(),
    *born_columns(),
    Column("sensor", String(120), nullable=False),
    Column("address", String(80), nullable=False),
)

raw_files = Table(
    "raw_files",
    metadata,
    id_column(),
    *born_columns(),
    Column("set_id", String(36), ForeignKey("sets.id"), nullable=False, index=True),
    Column("file", String(200), nullable=False),
    Column("samples", Integer, nullable=False),
    Column("sha256", String(64), nullable=False),
)
