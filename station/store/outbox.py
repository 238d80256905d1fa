"""What of this record is still to be handed to the shared database: kept by triggers, in the row's own transaction.

A row and its line in `outgoing` are on the disk together or not at all, and the line goes only when the server has
confirmed the row. A record that shares with nobody has no triggers and keeps no lines.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, delete, func, insert, select, text

from station.store.database import Database
from station.store.share_tables import exchange_state, outgoing
from station.store.tables import metadata


@dataclass(frozen=True, slots=True)
class Waiting:
    """One row that waits: its place in the line, its table, its id."""

    n: int
    table: str
    row_id: str


def watch(connection: Connection, names: Iterable[str]) -> None:
    """From now on every row added to these tables waits to be handed on."""
    for name in names:
        connection.execute(
            text(
                f"CREATE TRIGGER IF NOT EXISTS to_share_{name} AFTER INSERT ON {name} BEGIN "
                f"INSERT INTO outgoing (table_name, row_id) VALUES ('{name}', NEW.id); END"
            )
        )


def watch_again(database: Database, names: Iterable[str]) -> None:
    """When a record that is shared is opened: a newer version may have brought tables, or made one anew."""
    wanted = set(names)
    with database.read() as connection:
        if connection.execute(select(exchange_state.c.server)).first() is None:
            return
        query = text("SELECT tbl_name FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'to_share_%'")
        missing = wanted - set(connection.execute(query).scalars())
    if missing:
        with database.write("what is handed on") as connection:
            watch(connection, missing)


def join_server(connection: Connection, server: str, names: Iterable[str]) -> None:
    """This record is joined to that server, from nothing: everything here waits, and everything there is new."""
    tables = list(names)
    connection.execute(delete(exchange_state))
    connection.execute(delete(outgoing))
    connection.execute(insert(exchange_state), {"server": server, "pulled": 0})
    watch(connection, tables)
    for name in tables:
        t = metadata.tables[name]
        rows = select(text(f"'{name}'"), t.c.id).order_by(t.c.id)
        connection.execute(insert(outgoing).from_select(["table_name", "row_id"], rows))


def waiting(connection: Connection, most: int) -> list[Waiting]:
    """The rows that have waited longest, parents before what points at them."""
    query = select(outgoing).order_by(outgoing.c.n).limit(most)
    return [Waiting(r.n, r.table_name, r.row_id) for r in connection.execute(query)]


def last_place(connection: Connection) -> int:
    """The end of the line as it is now."""
    return int(connection.execute(select(func.max(outgoing.c.n))).scalar() or 0)


def forget_after(connection: Connection, place: int) -> None:
    """What stands behind this place came from the server itself and need not go back."""
    connection.execute(delete(outgoing).where(outgoing.c.n > place))


def confirm(connection: Connection, done: Iterable[Waiting]) -> None:
    """The server has these, or never will."""
    connection.execute(delete(outgoing).where(outgoing.c.n.in_([one.n for one in done])))


def to_the_end(connection: Connection, refused: Iterable[Waiting]) -> None:
    """The server did not take these: they wait on, and hold nobody up."""
    again = list(refused)
    confirm(connection, again)
    if again:
        rows = [{"table_name": one.table, "row_id": one.row_id} for one in again]
        connection.execute(insert(outgoing), rows)
