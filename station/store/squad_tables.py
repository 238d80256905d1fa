"""The tables of the squad's day: check-ins, jumps, roster changes, status, match days, plans, the list and its rules.

As everywhere in the record rows are added and never edited; what holds from a date carries that date, and the newest
row holds. Check-in answers stand in a table of their own, so that who may read them can be granted by table;
`load_holds` says that no load is suggested today, without saying why, and is all that a rack learns.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, Boolean, Column, Date, Float, ForeignKey, Index, Integer, String, Table

from station.store.tables import born_columns, id_column, metadata


def _athlete(*, known: bool = True) -> Column[Any]:
    return Column("athlete_id", String(36), ForeignKey("athletes.id"), nullable=not known, index=True)


roster_changes = Table(
    "roster_changes",
    metadata,
    id_column(),
    *born_columns(),
    _athlete(),
    Column("field", String(20), nullable=False),
    Column("value", JSON),
    Column("from_day", Date, nullable=False),
    Column("staff", String(200), nullable=False, default=""),
)

training_statuses = Table(
    "training_statuses",
    metadata,
    id_column(),
    *born_columns(),
    _athlete(),
    Column("status", String(20), nullable=False),
    Column("lifts", JSON, nullable=False),
    Column("ceiling_kg", Float),
    Column("from_day", Date, nullable=False),
    Column("until", Date),
    Column("staff", String(200), nullable=False),
)

# One row an entry of the calendar; the newest row of a key holds. Keys come from the calendar file or are the day.
match_days = Table(
    "match_days",
    metadata,
    id_column(),
    *born_columns(),
    Column("key", String(300), nullable=False, index=True),
    Column("day", Date, nullable=False),
    Column("kind", String(20), nullable=False),
    Column("title", String(200), nullable=False, default=""),
    Column("staff", String(200), nullable=False, default=""),
)

appearances = Table(
    "appearances",
    metadata,
    id_column(),
    *born_columns(),
    _athlete(),
    Column("day", Date, nullable=False),
    Column("played", Boolean, nullable=False),
    Column("staff", String(200), nullable=False, default=""),
)

lift_plans = Table(
    "lift_plans",
    metadata,
    id_column(),
    *born_columns(),
    _athlete(known=False),
    Column("group_name", String(80), nullable=False, default=""),
    Column("lift", String(80), nullable=False),
    Column("warmup_load_kg", Float, nullable=False),
    Column("planned_load_kg", Float),
    Column("ceiling_kg", Float),
    Column("work_sets", Integer, nullable=False),
    Column("stop_loss", Float),
    Column("from_day", Date, nullable=False),
    Column("staff", String(200), nullable=False, default=""),
)

consents = Table(
    "consents",
    metadata,
    id_column(),
    *born_columns(),
    _athlete(),
    Column("given", Boolean, nullable=False),
    Column("text_version", String(20), nullable=False),
)

check_ins = Table(
    "check_ins",
    metadata,
    id_column(),
    *born_columns(),
    _athlete(),
    Column("day", Date, nullable=False),
    Column("kind", String(20), nullable=False),
    *(Column(item, Integer) for item in ("fatigue", "sleep", "soreness", "stress", "mood")),
    Column("hours_slept", Float),
    Column("pains", JSON, nullable=False),
    Column("ill", Boolean, nullable=False),
    Column("wants_talk", Boolean, nullable=False),
    Column("note", String(1000), nullable=False, default=""),
    Column("seconds", Float),
    Column("touches", Integer),
)
Index("ix_check_ins_day", check_ins.c.day)

load_holds = Table(
    "load_holds",
    metadata,
    id_column(),
    *born_columns(),
    _athlete(),
    Column("day", Date, nullable=False),
    Column("holds", Boolean, nullable=False),
)

jumps = Table(
    "jumps",
    metadata,
    id_column(),
    *born_columns(),
    _athlete(known=False),
    Column("name_confirmed", Boolean, nullable=False),
    Column("day", Date, nullable=False),
    Column("height_m", Float, nullable=False),
    Column("from_flight_m", Float, nullable=False),
    Column("from_impulse_m", Float, nullable=False),
    Column("uncertainty_m", Float),
    Column("depth_m", Float),
    Column("time_to_takeoff_s", Float),
    Column("flight_time_s", Float, nullable=False),
    Column("flags", JSON, nullable=False),
    Column("valid", Boolean, nullable=False),
    Column("why", String(200), nullable=False, default=""),
    Column("sensor", String(120), nullable=False, default=""),
    Column("calibration", JSON),
    Column("sensor_range_m_s2", Float),
    Column("engine_version", String(40), nullable=False),
    # Its raw samples: a Parquet file beside the record of the jump line; null where the disk refused it.
    Column("raw_file", String(200)),
    Column("raw_sha256", String(64)),
)
Index("ix_jumps_day", jumps.c.day)
# Everything that a day's means need: five seasons have 170 000 jumps.
Index("ix_jumps_sums", jumps.c.day, jumps.c.athlete_id, jumps.c.valid, jumps.c.height_m, jumps.c.id)

# What staff did about an athlete's entry on the list: taken, closed with one word, and what it then said.
entry_events = Table(
    "entry_events",
    metadata,
    id_column(),
    *born_columns(),
    _athlete(),
    Column("day", Date, nullable=False),
    Column("event", String(20), nullable=False),
    Column("staff", String(200), nullable=False),
    Column("outcome", String(80), nullable=False, default=""),
    Column("medical_note", String(1000), nullable=False, default=""),
    Column("seen", JSON, nullable=False),
)

# The figures behind the list, as one whole; the newest row holds.
squad_rules = Table(
    "squad_rules",
    metadata,
    id_column(),
    *born_columns(),
    Column("rules", JSON, nullable=False),
    Column("staff", String(200), nullable=False, default=""),
)
