"""Twenty racks on one PostgreSQL, forty reps a second in the room: how soon the others have a rep.

    python -m tests.bench.shared_room [RACKS] [SECONDS]

All racks, their exchanges and the server share this machine. Real PostgreSQL, with fsync; the reps are made up.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from station.capture.chores import ExchangeChore
from station.capture.threads import ChoreThread
from station.store.embedded import EmbeddedServer
from station.store.exchange_server import new_passwords, prepare
from station.store.record import Record
from station.store.rows import NewRep, NewSet
from station.store.shared_setting import keep_urls
from station.store.sharing import Role
from tests.store.squad_record import AINO, DAY, LIFT, add_squad

REPS_PER_S = 40
CURVE = np.linspace(0.0, 1.0, 200)


def now() -> datetime:
    """The machine's clock."""
    return datetime.now(UTC)


def main(racks: int, seconds: float) -> None:
    """Run and print."""
    root = Path(tempfile.mkdtemp(prefix="station-bench-"))
    server = EmbeddedServer(root / "postgresql")
    try:
        doors = prepare(server.start(), new_passwords())
        keep_urls(root, {Role.RACK: doors.rack, Role.STAFF: doors.staff})
        records = [Record(root / f"rack-{n}", f"rack {n}", now) for n in range(racks)]
        add_squad(records[0])
        chores = [ChoreThread(ExchangeChore(record.database.folder, Role.RACK, now)) for record in records]
        while any(len(record.athletes(DAY)) < 2 for record in records):
            time.sleep(0.1)
        wrote_s = _lift(records, seconds)
        seen_s = _watch(records[-1], wrote_s)
        for chore in chores:
            chore.stop()
        for record in records:
            record.close()
        delays = np.array([seen_s[rep] - at for rep, at in wrote_s.items() if rep in seen_s])
        print(
            f"{racks} racks, {len(wrote_s) / seconds:.0f} reps/s for {seconds:g} s: another rack has a rep after "
            f"{np.median(delays):.2f} s (median), {np.quantile(delays, 0.99):.2f} s (99 %), {delays.max():.2f} s at "
            f"most; {len(delays)} of {len(wrote_s)} reps arrived"
        )
    finally:
        server.stop("immediate")
        shutil.rmtree(root, ignore_errors=True)


_SEEN: dict[str, float] = {}


def _lift(records: list[Record], seconds: float) -> dict[str, float]:
    """Racks in turn write a rep each; when each was written, on the monotonic clock. The last rack only watches."""
    sets = [
        record.begin_set(NewSet(AINO, True, DAY, 1, LIFT, 60.0, "work", engine_version="bench"))
        for record in records[:-1]
    ]
    wrote: dict[str, float] = {}
    begun = time.monotonic()
    for n in range(int(REPS_PER_S * seconds)):
        rack = n % len(sets)
        rep = NewRep(n, "measured", 1, 2, 2.3, 0.7, 0.7, 1.2, 0.6, 0.01, (), "", CURVE, CURVE)
        wrote[records[rack].add_rep(sets[rack], rep)] = time.monotonic()
        _look(records[-1])
        time.sleep(max(0.0, begun + (n + 1) / REPS_PER_S - time.monotonic()))
    return wrote


def _look(record: Record) -> None:
    at = time.monotonic()
    with record.database.read() as connection:
        for row in connection.exec_driver_sql("SELECT id FROM reps WHERE _rowid_ > ?", (len(_SEEN),)):
            _SEEN.setdefault(row[0], at)


def _watch(record: Record, wrote: dict[str, float]) -> dict[str, float]:
    """Wait until the last rack has them all; when it had each."""
    end = time.monotonic() + 30.0
    while not set(wrote) <= set(_SEEN) and time.monotonic() < end:
        _look(record)
        time.sleep(0.02)
    return _SEEN


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20, float(sys.argv[2]) if len(sys.argv) > 2 else 10.0)
