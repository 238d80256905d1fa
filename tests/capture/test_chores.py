"""What a station does beside its work: it goes on by itself, fails without ending, and tells the worker what came."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from station.capture.chores import ASKS_EACH, ExchangeChore, KeepingChore
from station.capture.threads import ChoreThread
from station.store import exchange
from station.store.backup import last_backup
from station.store.erased_ledger import Erasure, write_ledger
from station.store.nightly import Nightly, keep_nightly
from station.store.record import Record
from station.store.shared_setting import keep_urls, leave
from station.store.sharing import Role
from tests.shared_postgres import Shared
from tests.store.squad_record import AINO, DAY, Clock, add_squad, lift, opened

WAIT_S = 30.0
NIGHT = datetime(2026, 10, 15, 2, 30, tzinfo=UTC)


class Told:
    """A worker that only listens."""

    def __init__(self) -> None:
        self.tables: set[str] = set()

    def news(self, tables: frozenset[str]) -> None:
        self.tables |= tables


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = opened(tmp_path / "data", "rack 1")
    add_squad(made)
    yield made
    made.close()


def turns(chore: ExchangeChore | KeepingChore, count: int = ASKS_EACH) -> Told:
    told = Told()
    for _ in range(count):
        found = chore.turn()
        if found is not None:
            found(told)
    return told


def test_a_chore_that_fails_is_done_again_and_its_thread_ends_when_it_is_stopped(
    caplog: pytest.LogCaptureFixture,
) -> None:
    class Fails:
        every_s = 0.001
        count = 0
        twice, closed = threading.Event(), threading.Event()

        def turn(self) -> Callable[[Any], None] | None:
            self.count += 1
            if self.count == 2:
                self.twice.set()
            raise ArithmeticError("one and one is three")

        def close(self) -> None:
            self.closed.set()

    chore = Fails()
    running = ChoreThread(chore)
    assert chore.twice.wait(WAIT_S)
    running.stop()
    assert chore.closed.is_set()
    assert "one and one is three" in caplog.text


def test_a_machine_that_joins_while_a_rack_runs_shares_from_then_on_and_may_leave(
    record: Record, shared: Shared, tmp_path: Path
) -> None:
    chore = ExchangeChore(record.database.folder, Role.RACK, Clock())
    turns(chore)
    assert chore.away_since is None  # it shares with nobody, and nothing is wrong
    keep_urls(tmp_path / "data", {Role.RACK: shared.doors.rack})
    turns(chore, 2 * ASKS_EACH)
    other = opened(tmp_path / "elsewhere", "rack 2")
    keep_urls(tmp_path / "elsewhere", {Role.RACK: shared.doors.rack})
    theirs = ExchangeChore(other.database.folder, Role.RACK, Clock())
    assert {"athletes", "plans"} <= turns(theirs).tables
    leave(tmp_path / "data")
    lift(record, AINO)
    turns(chore, 2 * ASKS_EACH)
    assert turns(theirs).tables == set()
    for one in (chore, theirs):
        one.close()
    other.close()


def test_a_rack_that_has_more_to_take_in_asks_again_at_its_next_turn(
    record: Record, shared: Shared, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for folder in ("data", "elsewhere"):
        keep_urls(tmp_path / folder, {Role.RACK: shared.doors.rack})
    mine = ExchangeChore(record.database.folder, Role.RACK, Clock())
    turns(mine)
    other = opened(tmp_path / "elsewhere", "rack 2")
    theirs = ExchangeChore(other.database.folder, Role.RACK, Clock())
    monkeypatch.setattr(exchange, "PAGE", 1)
    monkeypatch.setattr(exchange, "PAGES_A_TURN", 1)
    assert turns(theirs).tables == {"athletes"}
    assert turns(theirs, 3).tables == {"athletes", "plans"}
    for chore in (mine, theirs):
        chore.close()
    other.close()


def test_since_when_the_server_is_away_is_kept_and_forgotten_at_its_return(
    record: Record, tmp_path: Path, shared: Shared
) -> None:
    keep_urls(tmp_path / "data", {Role.RACK: shared.doors.rack})
    clock = Clock()
    chore = ExchangeChore(record.database.folder, Role.RACK, clock)
    shared.server.stop("immediate")
    turns(chore)
    since = chore.away_since
    assert since is not None
    turns(chore)
    assert chore.away_since == since
    shared.server.start()
    turns(chore)
    assert chore.away_since is None
    chore.close()


def test_the_nights_backup_is_made_while_the_record_is_open(record: Record, tmp_path: Path) -> None:
    keep_nightly(tmp_path / "data", Nightly(tmp_path / "second", NIGHT))
    turns(KeepingChore(record.database.folder, lambda: NIGHT), 2)
    assert last_backup(record.database.folder) == NIGHT
    assert len(list((tmp_path / "second" / "rack-1").glob("*/manifest.json"))) == 1


def test_a_backup_that_fails_is_tried_again_an_hour_later(
    record: Record, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / "second").write_text("in the way")
    keep_nightly(tmp_path / "data", Nightly(tmp_path / "second", NIGHT))
    clock = Clock(NIGHT)
    chore = KeepingChore(record.database.folder, clock)
    turns(chore, 3)
    assert caplog.text.count("no backup was made") == 1
    (tmp_path / "second").unlink()
    clock.now += timedelta(hours=1, minutes=1)
    turns(chore, 1)
    assert last_backup(record.database.folder) is not None


def test_an_erasure_written_down_by_another_program_is_passed_on_to_the_worker(
    record: Record, tmp_path: Path
) -> None:
    chore = KeepingChore(record.database.folder, lambda: NIGHT)
    assert turns(chore, 2).tables == set()
    write_ledger(tmp_path / "data", [Erasure("e", AINO, DAY)])
    assert turns(chore, 1).tables == {"erasures"}
    assert turns(chore, 1).tables == set()
