"""The tables of a record that is shared: erasures, who has checked in, and what waits to be handed on.

`erasures` holds a UUID and a date, and nothing else of whom it concerns. `outgoing` and `exchange_state` are this
record's own and are never shared: what the shared database has not confirmed yet, and how far was read from it.
`rack_states`, `raw_contents`, `raw_jump_contents` and `erasure_asks` are filled in the shared database alone, beside
the record: they have no column `id` and are not handed on row by row.
"""

from __future__ import annotations

from sqlalchemy import JSON, BigInteger, Column, Date, ForeignKey, Integer, LargeBinary, String, Table

from station.store.tables import Instant, born_columns, id_column, metadata, raw_files

erasures = Table(
    "erasures",
    metadata,
    id_column(),
    Column("athlete_id", String(36), nullable=False, unique=True),
    Column("day", Date, nullable=False),
)

# That somebody has checked in today, without a word of what was said: all that a rack or kiosk keeps.
check_in_marks = Table(
    "check_in_marks",
    metadata,
    id_column(),
    *born_columns(),
    Column("athlete_id", String(36), ForeignKey("athletes.id"), nullable=False, index=True),
    Column("day", Date, nullable=False, index=True),
)

outgoing = Table(
    "outgoing",
    metadata,
    Column("n", Integer, primary_key=True),
    Column("table_name", String(40), nullable=False),
    Column("row_id", String(36), nullable=False),
    sqlite_autoincrement=True,
)

exchange_state = Table(
    "exchange_state",
    metadata,
    # The shared database's own id, made when it was set up.
    Column("server", String(36), primary_key=True),
    Column("pulled", BigInteger, nullable=False),
)

OWN_TABLES = (outgoing.name, exchange_state.name)

# How each rack stands now: one row that is written over. By the server's clock, since racks' clocks differ.
rack_states = Table(
    "rack_states",
    metadata,
    Column("rack", String(80), primary_key=True),
    Column("heard_at", Instant, nullable=False),
    Column("athlete_id", String(36)),
    Column("report", JSON, nullable=False),
)

# Files of raw samples on their way to the desk, byte for byte as they lie at the rack.
raw_contents = Table(
    "raw_contents",
    metadata,
    Column("raw_id", String(36), ForeignKey(raw_files.c.id, ondelete="CASCADE"), primary_key=True),
    Column("set_id", String(36), nullable=False, index=True),
    Column("sha256", String(64), nullable=False),
    Column("content", LargeBinary, nullable=False),
)

# The same of jumps, whose record names its file itself.
raw_jump_contents = Table(
    "raw_jump_contents",
    metadata,
    Column("raw_id", String(36), ForeignKey("jumps.id", ondelete="CASCADE"), primary_key=True),
    Column("sha256", String(64), nullable=False),
    Column("content", LargeBinary, nullable=False),
)

# Erasures made at a rack's machine, which may delete nothing in the shared database: the desk carries them out.
erasure_asks = Table(
    "erasure_asks",
    metadata,
    Column("athlete_id", String(36), primary_key=True),
    Column("day", Date, nullable=False),
)

BESIDE_THE_RECORD = (rack_states.name, raw_contents.name, raw_jump_contents.name, erasure_asks.name)
