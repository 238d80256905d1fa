"""Two racks and a desk on one PostgreSQL that fails: no rep lost, none doubled, nobody waits, all agree soon after.

Checked by comparing every record's effective view with the union of what each rack had painted. The server is the
real one; ten minutes and a week pass on the racks' clocks alone.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import make_url

from station.capture.chores import ExchangeChore
from station.capture.threads import ChoreThread
from station.store import effective
from station.store.errors import ServerAway
from station.store.exchange import Exchange
from station.store.record import Record
from station.store.rows import NewRep, NewSet
from station.store.shared_setting import keep_urls
from station.store.sharing import Role
from tests.shared_postgres import Shared
from tests.store.squad_record import AINO, BELA, DAY, LIFT, Clock, add_squad, opened
from tests.torture.wire import Wire

GIVE_UP_S = 60.0


class Station:
    """A rack or the desk with its exchange running in its thread, and all it has painted."""

    def __init__(self, root: Path, name: str, url: str) -> None:
        self.role = Role.STAFF if name == "desk" else Role.RACK
        self.clock = Clock(datetime(2026, 10, 14, 10, tzinfo=UTC))
        self.record: Record = opened(root / name.replace(" ", "-"), name, self.clock)
        keep_urls(self.record.database.folder.parent, {self.role: url})
        self.painted: set[str] = set()
        self.took_s: list[float] = []
        self._running: ChoreThread | None = None
        self.chore: ExchangeChore | None = None

    def go_online(self) -> None:
        self.chore = ExchangeChore(self.record.database.folder, self.role, self.clock)
        self._running = ChoreThread(self.chore)

    def go_offline(self) -> None:
        if self._running is not None:
            self._running.stop()
            self._running = None

    def lift(self, athlete_id: str, reps: int = 4) -> str:
        set_id = self.record.begin_set(
            NewSet(athlete_id, True, DAY, 1, LIFT, 60.0, "work", engine_version="test")
        )
        for number in range(1, reps + 1):
            begun = time.perf_counter()
            rep_id = self.record.add_rep(
                set_id, NewRep(number, "measured", 1, 2, 2.3, 0.7, 0.7, 1.2, 0.6, 0.01)
            )
            self.took_s.append(time.perf_counter() - begun)
            self.painted.add(rep_id)
        self.record.end_set(set_id, "racked")
        return set_id

    def view(self) -> dict[str, tuple[str, float, bool]]:
        """Every rep as it stands now, by id; one that was doubled would fail the record's own key."""
        with self.record.database.read() as connection:
            rows = effective.sets_on(connection, DAY)
            return {
                rep.rep_id: (row.set_id, row.load_kg, rep.struck)
                for row in rows
                for rep in effective.reps_of(connection, row.set_id)
            }

    def close(self) -> None:
        self.go_offline()
        self.record.close()


Room = tuple[Station, Station, Station]


@pytest.fixture
def wire(shared: Shared) -> Iterator[Wire]:
    made = Wire(shared.server.port)
    yield made
    made.close()


@pytest.fixture
def room(tmp_path: Path, shared: Shared, wire: Wire) -> Iterator[Room]:
    """Desk, rack 1 through the wire, rack 2; the squad is known everywhere."""
    through = make_url(shared.doors.rack).set(port=wire.port).render_as_string(hide_password=False)
    urls = {"desk": shared.doors.staff, "rack 1": through, "rack 2": shared.doors.rack}
    desk, rack_1, rack_2 = (Station(tmp_path, name, url) for name, url in urls.items())
    add_squad(desk.record)
    for one in (desk, rack_1, rack_2):
        one.go_online()
    until(
        lambda: all(len(s.record.athletes(DAY)) == 2 for s in (desk, rack_1, rack_2)),
        "the squad is everywhere",
    )
    yield desk, rack_1, rack_2
    for one in (desk, rack_1, rack_2):
        one.close()


def until(so: Callable[[], bool], what: str) -> float:
    """Wait for it; how long it took, s."""
    begun = time.monotonic()
    while not so():
        assert time.monotonic() - begun < GIVE_UP_S, f"never came: {what}"
        time.sleep(0.02)
    return time.monotonic() - begun


def agree(room: Room) -> Callable[[], bool]:
    """Every view is the same, and holds all that anybody painted and nothing else."""

    def so() -> bool:
        views = [station.view() for station in room]
        painted = set().union(*(station.painted for station in room))
        return all(view == views[0] for view in views) and set(views[0]) == painted

    return so


def test_a_server_away_for_ten_minutes_in_mid_session(
    room: Room, shared: Shared, capsys: pytest.CaptureFixture[str]
) -> None:
    desk, rack_1, rack_2 = room
    set_id = rack_1.lift(AINO)
    until(agree(room), "the first set everywhere")
    shared.server.stop("immediate")
    for minute in range(10):
        for one in room:
            one.clock.now += timedelta(minutes=1)
        rack_1.lift(BELA if minute % 2 else AINO)
        rack_2.lift(AINO if minute % 2 else BELA)
    rack_1.record.correct(set_id, "load_kg", 62.5, "Coach Minke Straten")
    desk.record.correct(set_id, "load_kg", 65.0, "Coach Tjark Ohlen")
    until(
        lambda: all(s.chore is not None and s.chore.away_since is not None for s in room),
        "it is said to be away",
    )
    shared.server.start()
    took_s = until(agree(room), "all agree again")
    with capsys.disabled():
        print(
            f"\nserver away for 10 simulated minutes, {len(desk.view())} reps at two racks: all agree {took_s:.1f} s "
            f"after its return; a rep was durable after {1000 * max(rack_1.took_s + rack_2.took_s):.0f} ms at most"
        )
    assert all(s.chore is not None and s.chore.away_since is None for s in room)
    assert {view[1] for rep, view in rack_2.view().items() if view[0] == set_id} <= {62.5, 65.0}


def test_a_rack_does_not_wait_for_a_server_that_has_gone_silent(room: Room, wire: Wire) -> None:
    _, rack_1, _ = room
    rack_1.go_offline()
    exchange = Exchange(rack_1.record.database.folder, url_of(rack_1), Role.RACK)
    exchange.turn()
    rack_1.lift(AINO)
    wire.silent.set()
    answered = threading.Event()

    def turn() -> None:
        try:
            exchange.turn()
        except ServerAway:
            answered.set()

    hanging = threading.Thread(target=turn)
    hanging.start()
    rack_1.lift(BELA, reps=20)
    assert not answered.is_set()  # twenty reps are on the disk while the exchange still waits for an answer
    wire.silent.clear()
    wire.close()
    hanging.join(GIVE_UP_S)
    assert answered.is_set()
    exchange.close()
    assert len(rack_1.view()) == 24


def url_of(one: Station) -> str:
    from station.store.shared_setting import url_for

    url = url_for(one.record.database.folder.parent, one.role)
    assert url is not None
    return url


def test_a_connection_cut_anywhere_in_a_transaction_loses_and_doubles_nothing(room: Room, wire: Wire) -> None:
    _, rack_1, _ = room
    rack_1.go_offline()
    exchange = Exchange(rack_1.record.database.folder, url_of(rack_1), Role.RACK)
    places, cut = random.Random(5), 0
    for n in range(16):
        rack_1.lift(AINO if n % 2 else BELA)
        wire.cut_after(places.randrange(1, 2500))
        for _ in range(2):
            try:
                exchange.turn()
            except ServerAway:
                cut += 1
    wire.cut_after(None)
    exchange.turn()
    exchange.close()
    assert cut >= 6
    until(agree(room), "all agree after the cuts")


def test_an_answer_that_was_lost_after_the_server_had_kept_the_rows_doubles_nothing(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, rack_1, _ = room
    rack_1.go_offline()
    exchange = Exchange(rack_1.record.database.folder, url_of(rack_1), Role.RACK)
    rack_1.lift(AINO)

    def power_cut(*_: object) -> None:
        raise OSError("the power goes")

    with monkeypatch.context() as patch:
        patch.setattr("station.store.outbox.confirm", power_cut)
        with pytest.raises(OSError, match="power"):
            exchange.turn()
    assert exchange.turn().pushed > 0
    exchange.close()
    until(agree(room), "all agree")


def test_two_coaches_correct_one_set_while_apart(room: Room) -> None:
    _desk, rack_1, rack_2 = room
    set_id = rack_1.lift(AINO)
    until(agree(room), "the set everywhere")
    for one in (rack_1, rack_2):
        one.go_offline()
    rack_2.clock.now -= timedelta(hours=1)  # and one of the clocks is an hour slow
    rack_1.record.correct(set_id, "load_kg", 62.5, "Coach Minke Straten")
    rack_2.record.correct(set_id, "load_kg", 65.0, "Coach Tjark Ohlen")
    for one in (rack_1, rack_2):
        one.go_online()
    until(lambda: all(count_corrections(s) == 2 for s in room), "both corrections everywhere")
    assert agree(room)()
    rack_2.record.correct(set_id, "load_kg", 61.0, "Coach Tjark Ohlen")
    until(lambda: all({v[1] for v in s.view().values()} == {61.0} for s in room), "the last word everywhere")


def count_corrections(one: Station) -> int:
    with one.record.database.read() as connection:
        return int(connection.exec_driver_sql("SELECT count(*) FROM corrections").scalar_one())


def test_a_rack_offline_for_a_week_brings_it_all_and_learns_it_all(
    room: Room, capsys: pytest.CaptureFixture[str]
) -> None:
    _, rack_1, rack_2 = room
    rack_1.go_offline()
    for _day in range(7):
        for one in room:
            one.clock.now += timedelta(days=1)
        for _ in range(6):
            rack_1.lift(AINO)
            rack_2.lift(BELA)
    rack_1.go_online()
    took_s = until(agree(room), "all agree after the week")
    with capsys.disabled():
        print(
            f"\na rack offline for a simulated week, {len(rack_1.painted)} reps: all agree {took_s:.1f} s after"
        )
