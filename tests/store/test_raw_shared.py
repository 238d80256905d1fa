"""Raw samples through the shared database: last, slowly, whole or not at all, and no longer than they are kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import Engine, text

from station.capture.jump_raw import RawOfJumps
from station.capture.raw_chore import NOTHING_FOR_S, RawChore
from station.squad.jumps import JumpTrial
from station.store.erasure import erase_athlete
from station.store.exchange_server import engine_for
from station.store.jumps import JumpSource, add_jump
from station.store.kept_raw import kept_jumps
from station.store.raw_files import FOLDER, KEPT_FOR, read_raw
from station.store.raw_near import near_raw
from station.store.raw_shared import BYTES_PER_S, RawFetcher, RawSender, fetch_set
from station.store.shared_setting import keep_urls
from station.store.sharing import Role
from station.store.tables import raw_files
from tests.shared_postgres import Shared
from tests.store.squad_record import AINO, BELA, DAY, lift, samples
from tests.store.test_exchange import Place, desk, make, rack_1, rack_2, settle

__all__ = ["desk", "make", "rack_1", "rack_2"]
Engines = Callable[[str], Engine]


@pytest.fixture
def engines() -> Iterator[Engines]:
    made: list[Engine] = []

    def one(url: str) -> Engine:
        made.append(engine_for(url))
        return made[-1]

    yield one
    for engine in made:
        engine.dispose()


def folder(place: Place) -> Path:
    return place.record.database.folder


def raw_of(place: Place) -> list[str]:
    return sorted(file.name for file in (folder(place) / FOLDER).glob("*.parquet"))


@pytest.fixture
def sender(rack_1: Place, engines: Engines) -> Iterator[RawSender]:
    with closing(RawSender(folder(rack_1), engines(rack_1.url))) as made:
        yield made


@pytest.fixture
def fetcher(desk: Place, engines: Engines) -> Iterator[RawFetcher]:
    with closing(RawFetcher(folder(desk), engines(desk.url))) as made:
        yield made


def stored(shared: Shared) -> int:
    with shared.admin.begin() as connection:
        return int(connection.execute(text("SELECT count(*) FROM station.raw_contents")).scalar_one())


def test_raw_samples_reach_the_desk_as_they_were_written(
    desk: Place, rack_1: Place, sender: RawSender, fetcher: RawFetcher
) -> None:
    settle(desk, rack_1)
    lift(rack_1.record, AINO, raw=True)
    settle(rack_1, desk)
    assert sender.turn(DAY) > 0
    assert sender.turn(DAY) == 0
    assert fetcher.turn(DAY) > 0
    assert fetcher.turn(DAY) == 0
    assert raw_of(desk) == raw_of(rack_1) != []
    with desk.record.database.read() as connection:
        row = connection.execute(raw_files.select()).one()
    kept, sent = read_raw(folder(desk), row.file, row.sha256), samples(100)
    np.testing.assert_array_equal(kept.acc_m_s2, sent.acc_m_s2)
    np.testing.assert_array_equal(kept.seq, sent.seq)


def test_nothing_is_brought_while_anything_else_waits(
    desk: Place, rack_1: Place, sender: RawSender, shared: Shared
) -> None:
    settle(desk, rack_1)
    lift(rack_1.record, AINO, raw=True)
    assert sender.turn(DAY) == 0
    assert stored(shared) == 0
    settle(rack_1)
    assert sender.turn(DAY) > 0


def test_the_newest_set_comes_first_and_none_twice(
    desk: Place, rack_1: Place, sender: RawSender, fetcher: RawFetcher, engines: Engines
) -> None:
    settle(desk, rack_1)
    sets = [lift(rack_1.record, AINO, raw=True) for _ in range(3)]
    settle(rack_1, desk)
    sender.turn(DAY)
    fetcher.turn(DAY)
    assert raw_of(desk) == [f"{sets[2]}_1.parquet"]
    with closing(RawSender(folder(rack_1), engines(rack_1.url))) as restarted:
        assert [bool(restarted.turn(DAY)) for _ in range(3)] == [True, True, False]


def test_an_opened_set_is_fetched_at_once_and_told_to_the_review(
    desk: Place, rack_1: Place, sender: RawSender
) -> None:
    settle(desk, rack_1)
    set_id = lift(rack_1.record, AINO, raw=True)
    settle(rack_1, desk)
    keep_urls(folder(desk).parent, {Role.STAFF: desk.url})
    with desk.record.database.read() as connection:
        before = near_raw(connection, folder(desk), set_id, DAY)
        assert before.kept is None
        assert "lie at rack 1" in before.why_not
        sender.turn(DAY)
        found = near_raw(connection, folder(desk), set_id, DAY)
    assert found.kept is not None
    assert found.folder == folder(desk)
    assert len(read_raw(folder(desk), found.kept.file, found.kept.sha256)) == 100
    assert fetch_set(folder(desk), set_id) == 0  # it is here


def test_a_server_that_is_away_is_said_when_a_set_is_opened(
    desk: Place, rack_1: Place, sender: RawSender, shared: Shared
) -> None:
    settle(desk, rack_1)
    set_id = lift(rack_1.record, AINO, raw=True)
    settle(rack_1, desk)
    keep_urls(folder(desk).parent, {Role.STAFF: desk.url})
    shared.server.stop("immediate")
    with desk.record.database.read() as connection:
        found = near_raw(connection, folder(desk), set_id, DAY)
    shared.server.start()
    assert "are not here" in found.why_not


def test_a_damaged_file_is_neither_brought_nor_kept(
    desk: Place, rack_1: Place, sender: RawSender, fetcher: RawFetcher, shared: Shared
) -> None:
    settle(desk, rack_1)
    lift(rack_1.record, AINO, raw=True)
    whole = folder(rack_1) / FOLDER / raw_of(rack_1)[0]
    content = whole.read_bytes()
    settle(rack_1, desk)
    whole.write_bytes(content[:-1] + b"?")
    assert sender.turn(DAY) == 0
    assert stored(shared) == 0
    whole.write_bytes(content)
    lift(rack_1.record, AINO, raw=True)
    settle(rack_1, desk)
    sender.turn(DAY)
    with shared.admin.begin() as connection:
        connection.execute(text("UPDATE station.raw_contents SET content = '\\x00'"))
    assert fetcher.turn(DAY) == 0
    assert raw_of(desk) == []


def test_what_is_too_old_is_neither_brought_nor_fetched_and_is_cleared_away(
    desk: Place, rack_1: Place, sender: RawSender, fetcher: RawFetcher, shared: Shared
) -> None:
    settle(desk, rack_1)
    lift(rack_1.record, AINO, raw=True)
    settle(rack_1, desk)
    later = DAY + KEPT_FOR + timedelta(days=1)
    assert sender.turn(later) == 0
    assert sender.turn(DAY) > 0
    assert fetcher.turn(later) == 0
    assert fetcher.clear(DAY) == 0
    assert fetcher.clear(later) == 1
    assert stored(shared) == 0


def test_an_erasure_takes_the_raw_samples_along_and_late_ones_are_refused(
    desk: Place, rack_1: Place, sender: RawSender, fetcher: RawFetcher, shared: Shared
) -> None:
    settle(desk, rack_1)
    lift(rack_1.record, AINO, raw=True)
    lift(rack_1.record, BELA, raw=True)
    settle(rack_1, desk)
    for _ in range(2):
        sender.turn(DAY)
        fetcher.turn(DAY)
    assert (stored(shared), len(raw_of(desk))) == (2, 2)
    erase_athlete(desk.record, AINO, DAY)
    settle(desk)
    assert (stored(shared), len(raw_of(desk))) == (1, 1)


def test_a_file_of_a_set_that_was_erased_meanwhile_is_dropped(
    desk: Place, rack_1: Place, sender: RawSender, shared: Shared
) -> None:
    settle(desk, rack_1)
    lift(rack_1.record, AINO, raw=True)
    settle(rack_1, desk)
    erase_athlete(desk.record, AINO, DAY)
    settle(desk)  # the rack has not heard of it yet
    sender.turn(DAY)
    assert stored(shared) == 0
    assert sender.turn(DAY) == 0


class Seconds:
    now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


def test_a_file_is_paid_for_with_time_and_a_server_that_is_away_is_asked_again(
    desk: Place, rack_1: Place, shared: Shared
) -> None:
    clock, now = Seconds(), datetime(2026, 10, 14, 12, tzinfo=UTC)
    keep_urls(folder(rack_1).parent, {Role.RACK: rack_1.url})
    with closing(RawChore(folder(rack_1), Role.RACK, lambda: now, clock)) as chore:
        settle(desk, rack_1)
        for _ in range(2):
            lift(rack_1.record, AINO, raw=True)
        settle(rack_1)
        chore.turn()
        chore.turn()  # too early
        assert stored(shared) == 1
        size = max(file.stat().st_size for file in (folder(rack_1) / FOLDER).glob("*"))
        clock.now_s += size / BYTES_PER_S + 0.001
        shared.server.stop("immediate")
        chore.turn()
        shared.server.start()
        chore.turn()
        assert stored(shared) == 1
        clock.now_s += NOTHING_FOR_S
        chore.turn()
        assert stored(shared) == 2


def test_two_seasons_later_a_racks_own_files_go_also_without_a_backup(rack_1: Place) -> None:
    lift(rack_1.record, None, raw=True)
    now = datetime(2026, 10, 14, 12, tzinfo=UTC) + KEPT_FOR + timedelta(days=1)
    with closing(RawChore(folder(rack_1), Role.RACK, lambda: now, Seconds())) as chore:
        chore.turn()
    assert raw_of(rack_1) == []


def jump(place: Place, athlete_id: str) -> str:
    """A trial with raw samples, as a jump line keeps it."""
    trial = JumpTrial("", athlete_id, DAY, 0.31, 0.30, 0.31, 0.01, 0.3, 0.7, (), True, "")
    line = RawOfJumps(folder(place))
    source = JumpSource("Belt sensor 1", "test")
    kept = add_jump(
        place.record,
        trial,
        0.5,
        source,
        name_confirmed=True,
        keep_raw=lambda jump_id: line.keep(jump_id, samples(80)),
    )
    return kept.trial_id


def test_raw_samples_of_jumps_reach_the_desk_after_those_of_sets(
    desk: Place, rack_1: Place, sender: RawSender, fetcher: RawFetcher
) -> None:
    settle(desk, rack_1)
    set_id, jump_id = lift(rack_1.record, AINO, raw=True), jump(rack_1, AINO)
    settle(rack_1, desk)
    assert [bool(sender.turn(DAY)) for _ in range(3)] == [True, True, False]
    fetcher.turn(DAY)
    assert [file.split("_")[0] for file in raw_of(desk)] == [set_id]
    assert fetcher.turn(DAY) > 0
    assert fetcher.turn(DAY) == 0
    (kept,) = kept_jumps(desk.record.database.engine)
    assert kept.jump_id == jump_id
    assert len(read_raw(folder(desk), kept.file, kept.sha256)) == 80
    assert fetcher.clear(DAY + KEPT_FOR) == 0
    assert fetcher.clear(DAY + KEPT_FOR + timedelta(days=1)) == 2


def test_an_erased_athletes_jump_leaves_no_samples_and_brings_none(
    desk: Place, rack_1: Place, sender: RawSender, shared: Shared
) -> None:
    settle(desk, rack_1)
    jump(rack_1, AINO)
    settle(rack_1, desk)
    assert sender.turn(DAY) > 0
    jump(rack_1, AINO)
    settle(rack_1, desk)
    erase_athlete(desk.record, AINO, DAY)
    settle(desk)
    assert sender.turn(DAY) >= 0  # not told yet: what it brings is not taken
    with shared.admin.begin() as connection:
        query = text("SELECT count(*) FROM station.raw_jump_contents")
        assert connection.execute(query).scalar_one() == 0
