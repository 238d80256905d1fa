"""The exchange with the shared database: hand on what was written here, take in what others wrote.

Runs in a thread of its own and never inside a transaction of this record while it waits for the server, so that a
rack never waits. Rows are inserted by id and never twice: a connection cut anywhere leaves nothing half done, and
what was not confirmed is handed on again. Erasures are applied before the rows that came with them.
"""

from __future__ import annotations

import logging
import sqlite3
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, select, text, update
from sqlalchemy import insert as plain_insert
from sqlalchemy.dialects.postgresql import insert as server_insert
from sqlalchemy.exc import DBAPIError, IntegrityError, ProgrammingError

from station.squad.room import RackReport
from station.store import outbox
from station.store.database import FILE_NAME, beside
from station.store.erased_ledger import write_ledger
from station.store.erasure import Erased, add_erasures, erase_rows, erased_ids, forget_raw, refuse_again
from station.store.errors import ServerAway, ServerRefused, WriteFailed
from station.store.exchange_erasures import asks_of, carry_out_asks, erasure_of
from station.store.exchange_rows import (
    is_erased,
    keep_only_that_it_is_done,
    rows_of,
    whose_parents_are_here,
)
from station.store.exchange_server import (
    PATIENCE,
    bring_up,
    engine_for,
    server_version,
    without_password,
)
from station.store.migrating import newest_version
from station.store.rack_states import Heard, hear_server, tell_server
from station.store.share_tables import erasures, exchange_state
from station.store.sharing import RIGHTS, SHARED, Role
from station.store.squad_tables import check_ins
from station.store.tables import metadata

log = logging.getLogger(__name__)

PAGE = 500
# Years are taken in, or handed on, in many turns: what is lifted meanwhile waits for one turn and not for all.
PAGES_A_TURN = 5
_LATER_REVISION = "it was set up by a newer station; update this one"
_EARLIER_REVISION = "it is of an earlier version; start the desk of today's version first"


@dataclass(frozen=True, slots=True)
class Exchanged:
    """What one turn moved: rows handed on, rows taken in by table, and whether the server has more that it left."""

    pushed: int
    pulled: dict[str, int]
    more: bool = False


class Exchange:
    """Exchanges one record with one shared database.

    Args:
        folder: the record's; a station may hold it open at the same time.
        url: of the shared database, with user and password of the role.
        role: as whom this record takes part.

    Raises:
        ServerRefused: no such URL.
    """

    def __init__(self, folder: Path, url: str, role: Role) -> None:
        self.folder, self.role, self.rights = folder, role, RIGHTS[role]
        self.server = engine_for(url)
        self._url = without_password(url)
        self.local = beside(folder / FILE_NAME)
        self._known = False

    def close(self) -> None:
        """Close both connections."""
        self.server.dispose()
        self.local.dispose()

    def turn(self, *, take_in: bool = True) -> Exchanged:
        """Hand on and take in what there is now, at most `PAGES_A_TURN` pages each way.

        Args:
            take_in: False: only hand on what waits, which asks the server nothing where nothing does.

        Raises:
            ServerAway: it does not answer; nothing is lost, the next turn goes on.
            ServerRefused: it answers, and cannot be used as it is.
            WriteFailed: this record did not take what came; it comes again.
        """
        with self._said_clearly():
            if not self._known:
                self._meet()
            pushed = self._push()
            return Exchanged(pushed, *self._pull()) if take_in else Exchanged(pushed, {})

    def tell_room(self, report: RackReport) -> None:
        """How this rack stands now, for the room; after a turn that went well.

        Raises:
            ServerAway, ServerRefused: it was not told.
        """
        with self._said_clearly():
            tell_server(self.server, report)

    def hear_racks(self) -> list[Heard]:
        """How the racks stand, as they told last.

        Raises:
            ServerAway, ServerRefused: it cannot be asked.
        """
        with self._said_clearly():
            return hear_server(self.server)

    @contextmanager
    def _said_clearly(self) -> Iterator[None]:
        """What a database did not do, as a sentence; the next turn meets the server anew."""
        try:
            yield
        except ProgrammingError as error:
            self._known = False
            raise ServerRefused(self._url, str(error.orig).splitlines()[0]) from error
        except DBAPIError as error:
            self._known = False
            if isinstance(error.orig, sqlite3.Error):
                raise WriteFailed("what came from the shared database", str(error.orig)) from error
            self.server.dispose()
            raise ServerAway(self._url, str(error.orig).splitlines()[0]) from error

    # -- meeting ---------------------------------------------------------------------------------------------

    def _meet(self) -> None:
        """Which server is it, does it have today's tables, and how far was it read?"""
        with self.server.begin() as there:
            there.execute(text(PATIENCE))
            self._same_version(there)
            server = str(there.execute(text("SELECT id FROM club")).scalar_one())
            newest = int(there.execute(text("SELECT coalesce(max(seq), 0) FROM arrivals")).scalar_one())
        with self.local.begin() as here:
            state = here.execute(select(exchange_state)).first()
            # A server that was set back to an earlier state has lost rows and gives their numbers again.
            if state is None or state.server != server or state.pulled > newest:
                outbox.join_server(here, server, SHARED)
        self._known = True

    def _same_version(self, there: Connection) -> None:
        version, ours = server_version(there), newest_version()
        if version == ours:
            return
        if version is None:
            raise ServerRefused(self._url, "it was not set up; 'share prepare' does that")
        if version > ours:
            raise ServerRefused(self._url, _LATER_REVISION)
        if self.role is not Role.STAFF:
            raise ServerRefused(self._url, _EARLIER_REVISION)
        bring_up(there, str(there.execute(text("SELECT current_schema()")).scalar_one()))

    # -- handing on ------------------------------------------------------------------------------------------

    def _push(self) -> int:
        pushed = 0
        for _ in range(PAGES_A_TURN):
            with self.local.connect() as here:
                lines = outbox.waiting(here, PAGE)
                rows = rows_of(here, [one for one in lines if one.table in self.rights.adds])
                if self.role is Role.RACK:
                    rows |= asks_of(rows_of(here, [one for one in lines if one.table == erasures.name]))
            refused = self._hand_on(rows) if rows else set[str]()
            stay = [one for one in lines if one.row_id in refused]
            with self.local.begin() as here:
                outbox.confirm(here, [one for one in lines if one.row_id not in refused])
                outbox.to_the_end(here, stay)
                if self.role is Role.RACK:
                    keep_only_that_it_is_done(here, [r["id"] for r in rows.get(check_ins.name, ())])
            pushed += sum(map(len, rows.values())) - len(stay)
            if len(lines) < PAGE or len(stay) == len(lines):
                break
        return pushed

    def _hand_on(self, rows: dict[str, list[dict[str, Any]]]) -> set[str]:
        """Insert what is not there yet; the ids of rows that the server cannot take."""
        try:
            with self.server.begin() as there:
                for name, page in rows.items():
                    self._add(there, metadata.tables[name], page)
            return set()
        except IntegrityError:
            return self._hand_on_singly(rows)

    def _hand_on_singly(self, rows: dict[str, list[dict[str, Any]]]) -> set[str]:
        refused = set()
        with self.server.begin() as there:
            for name, page in rows.items():
                for row in page:
                    try:
                        with there.begin_nested():
                            self._add(there, metadata.tables[name], [row])
                    except IntegrityError as error:
                        log.warning("the shared database did not take a row of %s: %s", name, error.orig)
                        refused.add(str(row.get("id")))
        return refused

    def _add(self, there: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
        if table is erasures:
            for row in rows:
                self._erase_there(there, str(row["athlete_id"]))
        there.execute(server_insert(table).on_conflict_do_nothing(), rows)

    def _erase_there(self, there: Connection, athlete_id: str) -> None:
        there.execute(text("SELECT pg_advisory_xact_lock(hashtext('arrivals of ' || current_schema()))"))
        gone = erase_rows(there, athlete_id)
        there.execute(text("DELETE FROM arrivals WHERE row_id = :whose"), {"whose": athlete_id})
        if gone.set_ids:
            words = text("INSERT INTO refused VALUES (:id) ON CONFLICT DO NOTHING")
            there.execute(words, [{"id": set_id} for set_id in gone.set_ids])

    # -- taking in -------------------------------------------------------------------------------------------

    def _pull(self) -> tuple[dict[str, int], bool]:
        """Rows taken in by table, and whether there are more."""
        taken: dict[str, int] = defaultdict(int)
        if self.role is Role.STAFF:
            asked = carry_out_asks(self.server, self.local, self.folder)
            if asked:
                taken[erasures.name] += asked
        for _ in range(PAGES_A_TURN):
            with self.local.connect() as here:
                since = int(here.execute(select(exchange_state.c.pulled)).scalar_one())
            page = self._arrivals(since)
            if not page:
                return dict(taken), False
            rows = self._fetch(page)
            write_ledger(self.folder.parent, map(erasure_of, rows.get(erasures.name, ())))
            with self.local.begin() as here:
                gone = self._take_in(here, rows, taken)
                here.execute(update(exchange_state).values(pulled=page[-1][0]))
            forget_raw(self.folder, gone.set_ids)
            if len(page) < PAGE:
                return dict(taken), False
        return dict(taken), True

    def _arrivals(self, since: int) -> list[tuple[int, str, str]]:
        query = text("SELECT seq, table_name, row_id FROM arrivals WHERE seq > :n ORDER BY seq LIMIT :most")
        with self.server.begin() as there:
            found = there.execute(query, {"n": since, "most": PAGE}).all()
        return [(int(r.seq), str(r.table_name), str(r.row_id)) for r in found]

    def _fetch(self, page: list[tuple[int, str, str]]) -> dict[str, list[dict[str, Any]]]:
        """The rows of a page that are not here yet, parents first."""
        ids: dict[str, list[str]] = defaultdict(list)
        for _, name, row_id in page:
            ids[name].append(row_id)
        rows: dict[str, list[dict[str, Any]]] = {}
        for name in self.rights.reads:
            wanted = self._not_here(metadata.tables[name], ids[name]) if ids[name] else []
            if wanted:
                t = metadata.tables[name]
                with self.server.begin() as there:
                    found = (
                        there.execute(select(t).where(t.c.id.in_(wanted)).order_by(t.c.id)).mappings().all()
                    )
                rows[name] = [dict(row) for row in found]
        return rows

    def _not_here(self, table: Table, ids: list[str]) -> list[str]:
        with self.local.connect() as here:
            known = set(here.execute(select(table.c.id).where(table.c.id.in_(ids))).scalars())
        return [row_id for row_id in ids if row_id not in known]

    def _take_in(
        self, here: Connection, rows: dict[str, list[dict[str, Any]]], taken: dict[str, int]
    ) -> Erased:
        place = outbox.last_place(here)
        known = erased_ids(here)
        new = [erasure_of(r) for r in rows.pop(erasures.name, []) if r["athlete_id"] not in known]
        if new:
            here.execute(text("PRAGMA secure_delete = ON"))
            taken[erasures.name] += len(new)
        gone = add_erasures(here, new)
        known |= {one.athlete_id for one in new}
        for name, page in rows.items():
            table = metadata.tables[name]
            wanted = whose_parents_are_here(here, table, [r for r in page if not is_erased(table, r, known)])
            if wanted:
                here.execute(plain_insert(table).prefix_with("OR IGNORE"), wanted)
                taken[name] += len(wanted)
        outbox.forget_after(here, place)
        if "corrections" in rows and known:
            gone = Erased(gone.rows, gone.set_ids + refuse_again(here).set_ids)
        return gone
