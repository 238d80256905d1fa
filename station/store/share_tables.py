"""The tables of a record that is shared: erasures, who has checked in, and what waits to be handed on.

`erasures` holds a UUID and a date, and nothing else of whom it concerns. `outgoing` and `exchange_state` are this
record's own and are never shared: what the shared database has not confirmed yet, and how far was read from it.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, Date, ForeignKey, Integer, String, Table

from station.store.tables import born_columns, id_column, metadata

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
