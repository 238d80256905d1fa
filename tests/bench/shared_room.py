"""Twenty racks on one PostgreSQL, forty reps a second in the room: how soon the others have a rep.

    python -m tests.bench.shared_room [--whole] [--racks N] [--seconds S] [--years Y]

Two rooms in one run, their peaks taken in turn: one whose server and racks begin with two athletes, and one that has
years of 120 athletes behind it (two; with --whole five, on the server and in every rack's own record). One fresh
rack of that room takes all of it in through the exchange; the others' records are copies of its files, which say
nothing of which rack they belong to.

All racks, their exchanges and the servers share this machine. Real PostgreSQL, with fsync; all reps are made up.
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import psycopg
from sqlalchemy import text

from station.capture.chores import ExchangeChore
from station.capture.threads import ChoreThread
from station.store.embedded import EmbeddedServer
from station.store.exchange import Exchange
from station.store.exchange_server import engine_for, new_passwords, prepare
from station.store.record import Record
from station.store.rows import NewRep, NewSet
from station.store.shared_setting import keep_urls
from station.store.sharing import Role
from tests.bench import five_years
from tests.store.squad_record import AINO, DAY, LIFT, add_squad

REPS_PER_S = 40
ROUNDS = 4
CURVE = np.linspace(0.0, 1.0, 200)
MB = 1e6
LAST_REPS_WAIT_S = 30.0


def now() -> datetime:
    """The machine's clock."""
    return datetime.now(UTC)


class Watch:
    """What one record has of the reps written since, and when each was there, on the monotonic clock."""

    def __init__(self, record: Record) -> None:
        self._record, self.seen_s = record, dict[str, float]()
        with record.database.read() as connection:
            self._last = connection.exec_driver_sql("SELECT coalesce(max(_rowid_), 0) FROM reps").scalar_one()

    def look(self) -> None:
        """Take down what came since the last look."""
        at = time.monotonic()
        with self._record.database.read() as connection:
            query = "SELECT _rowid_, id FROM reps WHERE _rowid_ > ? ORDER BY _rowid_"
            for rowid, rep_id in connection.exec_driver_sql(query, (self._last,)):
                self._last, self.seen_s[rep_id] = rowid, at

    def wait_for(self, rep_ids: set[str]) -> None:
        """Until all are here, though not for ever."""
        end = time.monotonic() + LAST_REPS_WAIT_S
        while not rep_ids <= set(self.seen_s) and time.monotonic() < end:
            self.look()
            time.sleep(0.02)


class Room:
    """One server, its racks' records, and what was lifted there before."""

    def __init__(self, root: Path, racks: int, years: int) -> None:
        self.root, self._racks, self._years = root, racks, years
        self.server = EmbeddedServer(root / "postgresql")
        self.records: list[Record] = []
        self.delays_s: list[float] = []
        self.worst_s: list[float] = []
        self.lost = 0

    def open(self) -> None:
        """Start the server, write the past, open the racks' records."""
        self.doors = prepare(self.server.start(), new_passwords())
        keep_urls(self.root, {Role.RACK: self.doors.rack, Role.STAFF: self.doors.staff})
        if self._years:
            self._past()
        self.records += [self._open(n) for n in range(self._racks)]
        add_squad(self.records[0])

    def _folder(self, n: int) -> Path:
        return self.root / f"rack-{n}"

    def _open(self, n: int) -> Record:
        return Record(self._folder(n), f"rack {n}", now)

    def _past(self) -> None:
        years, begun = self._years, time.monotonic()
        five_years.fill(self.doors.staff, years, now().date())
        wrote_s = time.monotonic() - begun
        print(f"{years} years of 120 athletes written to the server in {wrote_s:.0f} s: {self._there()}")
        self._open(0).close()
        begun = time.monotonic()
        self._catch_up()
        size = (self._folder(0) / "record.sqlite").stat().st_size / MB
        print(f"a fresh rack has them all after {time.monotonic() - begun:.0f} s; its record: {size:.0f} MB")
        begun = time.monotonic()
        for n in range(1, self._racks):
            shutil.copytree(self._folder(0), self._folder(n), ignore=shutil.ignore_patterns("*.lock"))
        self._settle()
        print(f"{self._racks - 1} copies of that record on the disk in {time.monotonic() - begun:.0f} s")

    def _settle(self) -> None:
        """What was written in a minute instead of in years is on the disk before anybody lifts."""
        with psycopg.connect(self.server.admin_url, autocommit=True) as connection:
            connection.execute("CHECKPOINT")
        if hasattr(os, "sync"):
            os.sync()

    def _there(self) -> str:
        engine = engine_for(self.doors.staff)
        with engine.begin() as connection:
            counts = [
                f"{connection.execute(text(f'SELECT count(*) FROM {name}')).scalar_one()} {name}"
                for name in ("sets", "reps", "arrivals")
            ]
            size = connection.execute(text("SELECT pg_database_size(current_database())")).scalar_one()
        engine.dispose()
        return f"{', '.join(counts)}; {size / MB:.0f} MB"

    def _catch_up(self) -> None:
        exchange = Exchange(self._folder(0), self.doors.rack, Role.RACK)
        while exchange.turn().more:
            pass
        exchange.close()

    @contextmanager
    def _exchanging(self) -> Iterator[None]:
        folders = [record.database.folder for record in self.records]
        chores = [ChoreThread(ExchangeChore(folder, Role.RACK, now)) for folder in folders]
        try:
            while any(AINO not in {a.athlete_id for a in record.athletes(DAY)} for record in self.records):
                time.sleep(0.1)
            yield
        finally:
            for chore in chores:
                chore.stop()

    def peak(self, seconds: float) -> None:
        """Lift for so long, and keep how soon the last rack, which only watches, had each rep."""
        with self._exchanging():
            watch = Watch(self.records[-1])
            wrote_s = _lift(self.records[:-1], seconds, watch)
            watch.wait_for(set(wrote_s))
        self.lost += len(wrote_s.keys() - watch.seen_s.keys())
        delays_s = [watch.seen_s[rep] - at for rep, at in wrote_s.items() if rep in watch.seen_s]
        self.delays_s += delays_s
        self.worst_s.append(max(delays_s))

    def histories_ms(self) -> list[float]:
        """How long each of the squad's histories of one lift takes at a rack, one after the other."""
        taken = []
        record = self.records[-1]
        for athlete in record.athletes(DAY):
            begun = time.perf_counter()
            record.observations(athlete.athlete_id, LIFT)
            taken.append((time.perf_counter() - begun) * 1e3)
        return taken

    def close(self) -> None:
        """Close and delete everything."""
        for record in self.records:
            record.close()
        self.server.stop("immediate")
        shutil.rmtree(self.root, ignore_errors=True)


def _lift(records: list[Record], seconds: float, watch: Watch) -> dict[str, float]:
    """Racks in turn write a rep each; when each was written, on the monotonic clock."""
    sets = [
        record.begin_set(NewSet(AINO, True, DAY, 1, LIFT, 60.0, "work", engine_version="bench"))
        for record in records
    ]
    wrote: dict[str, float] = {}
    begun = time.monotonic()
    for n in range(int(REPS_PER_S * seconds)):
        rack = n % len(sets)
        rep = NewRep(n, "measured", 1, 2, 2.3, 0.7, 0.7, 1.2, 0.6, 0.01, (), "", CURVE, CURVE)
        wrote[records[rack].add_rep(sets[rack], rep)] = time.monotonic()
        watch.look()
        time.sleep(max(0.0, begun + (n + 1) / REPS_PER_S - time.monotonic()))
    return wrote


def _figures(delays_s: list[float]) -> np.ndarray:
    """Median, 99 % and worst, s."""
    return np.quantile(delays_s, (0.5, 0.99, 1.0))


def _say(name: str, room: Room) -> None:
    median, most, worst = _figures(room.delays_s)
    print(
        f"{name}: another rack has a rep after {median:.2f} s (median), {most:.2f} s (99 %), {worst:.2f} s at most; "
        f"({', '.join(f'{one:.2f}' for one in room.worst_s)} by peak); "
        f"{len(room.delays_s)} of {len(room.delays_s) + room.lost} reps arrived"
    )


def main(racks: int, seconds: float, years: int) -> None:
    """Run and print."""
    rooms = [Room(Path(tempfile.mkdtemp(prefix="station-bench-")), racks, past) for past in (0, years)]
    try:
        for room in rooms:
            room.open()
        for _ in range(ROUNDS):
            for room in rooms:
                room.peak(seconds / ROUNDS)
        print(
            f"{racks} racks, {REPS_PER_S} reps/s for {seconds:g} s; load of the machine {os.getloadavg()[0]:.1f}"
        )
        _say("without a past", rooms[0])
        _say(f"with {years} years", rooms[1])
        ratios = _figures(rooms[1].delays_s) / _figures(rooms[0].delays_s)
        print("with : without = {:.2f} (median), {:.2f} (99 %), {:.2f} (worst)".format(*ratios))
        taken = rooms[1].histories_ms()
        print(
            f"history of one athlete and lift at a rack with {years} years: {np.median(taken):.1f} ms (median of "
            f"{len(taken)} athletes), {max(taken):.1f} ms at most"
        )
    finally:
        for room in rooms:
            with suppress(Exception):
                room.close()


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--whole", action="store_true", help="five years")
    words.add_argument("--racks", type=int, default=20)
    words.add_argument("--seconds", type=float, default=40.0)
    words.add_argument("--years", type=int, default=2)
    asked = words.parse_args()
    main(asked.racks, asked.seconds, 5 if asked.whole else asked.years)
