"""The tables of a rack's things: weighed bars and plates, target velocities, badges, PINs of staff.

As everywhere in the record rows are added and never edited; the newest row of a thing holds.
"""

from __future__ import annotations

from sqlalchemy import Column, Float, ForeignKey, Integer, String, Table

from station.store.tables import born_columns, id_column, metadata

# A plate weighs what the scale says, not what is cast on it; `pairs` 0: it is gone.
equipment = Table(
    "equipment",
    metadata,
    id_column(),
    *born_columns(),
    Column("kind", String(20), nullable=False),
    Column("label", String(80), nullable=False),
    Column("unit", String(2), nullable=False),
    Column("weighed_kg", Float, nullable=False),
    Column("pairs", Integer, nullable=False),
)

lift_targets = Table(
    "lift_targets",
    metadata,
    id_column(),
    *born_columns(),
    Column("athlete_id", String(36), ForeignKey("athletes.id"), nullable=False, index=True),
    Column("lift", String(80), nullable=False),
    Column("target_low_m_s", Float),
    Column("target_high_m_s", Float),
    Column("velocity_at_1rm_m_s", Float),
)

# What a badge reader types; "" for the athlete: the badge is nobody's any more.
badges = Table(
    "badges",
    metadata,
    id_column(),
    *born_columns(),
    Column("code", String(80), nullable=False, index=True),
    Column("athlete_id", String(36), nullable=False),
)

staff_pins = Table(
    "staff_pins",
    metadata,
    id_column(),
    *born_columns(),
    Column("staff", String(200), nullable=False),
    # An Argon2 hash (RFC 9106) with its salt and parameters; "": no PIN any more.
    Column("pin_hash", String(200), nullable=False),
)
