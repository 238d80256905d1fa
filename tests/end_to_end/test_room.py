"""Racks and the room's desk: what a rack says is heard, what the desk decides stands at the rack."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from simulated_sensor.sessions import make_session_trace
from station.capture.chores import ASKS_EACH, ExchangeChore
from station.capture.link_news import LinkNews
from station.capture.rack_view import Decision, SensorLine
from station.capture.room_board import SAYS_EVERY_S, RoomBoard
from station.capture.room_chores import DecisionsNearby, RoomChore
from station.capture.room_desk import MISSED_AFTER_S, RoomDesk, RoomLine
from station.store.erasure import erase_athlete
from station.store.record import Record
from station.store.sensor_book import SensorBook
from station.store.shared_setting import keep_urls
from station.store.sharing import Role
from tests.capture.bench import DAY, LIFT, WARMUP, Bench, Now, blocks
from tests.shared_postgres import Shared


class Seconds:
    """A monotonic clock that tests set."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class RackHere(Bench):
    """A rack on a bench with what it does for the room, turned by hand."""

    def __init__(self, root: Path, name: str, shared: Shared | None, clock: Seconds) -> None:
        super().__init__(root / name.replace(" ", "-"), name)
        folder = self.record.database.folder
        self.clock, self.board = clock, RoomBoard(clock_s=clock)
        self.chores: list[RoomChore | DecisionsNearby | ExchangeChore] = [
            RoomChore(folder, self.board, Now()),
            DecisionsNearby(folder, name, Now()),
        ]
        if shared is not None:
            keep_urls(root, {Role.RACK: shared.doors.rack, Role.STAFF: shared.doors.staff})
            self.chores.append(ExchangeChore(folder, Role.RACK, Now(), self.board))

    def turn(self) -> None:
        """Enough turns for everything to be said and heard."""
        for _ in range(ASKS_EACH):
            self.clock.now_s += 0.25
            for chore in self.chores:
                found = chore.turn()
                if found is not None:
                    found(self.rack)

    def close(self) -> None:
        for chore in self.chores:
            chore.close()
        self.rack.close()
        self.record.close()


class DeskHere:
    """The room's desk, turned by hand."""

    def __init__(self, root: Path, shared: Shared | None, clock: Seconds) -> None:
        self.record = Record(root / "room", "room", Now())
        self.record.add_rows("staff", [{"name": "Coach Minke Straten", "role": ""}])
        self.board = RoomBoard(clock_s=clock)
        folder = self.record.database.folder
        self.chore = ExchangeChore(folder, Role.STAFF, Now(), self.board) if shared is not None else None
        self.desk = RoomDesk(self.record, lambda: datetime.now().astimezone(), self.board)
        self.desk.sign_in.sign_in("Coach Minke Straten")

    def turn(self) -> None:
        for _ in range(ASKS_EACH if self.chore is not None else 0):
            assert self.chore is not None
            if self.chore.turn() is not None:
                self.desk.forget_names()

    def line(self, rack: str) -> RoomLine:
        return next(line for line in self.desk.view().lines if line.report.rack == rack)

    def close(self) -> None:
        if self.chore is not None:
            self.chore.close()
        self.record.close()


Room = tuple[RackHere, RackHere, DeskHere]


def settle(room: Room) -> None:
    """To the desk, back to the racks, and what the racks then say."""
    for _ in range(3):
        for one in room:
            one.turn()


@pytest.fixture
def clock() -> Seconds:
    return Seconds()


@pytest.fixture
def far(tmp_path: Path, shared: Shared, clock: Seconds) -> Iterator[Room]:
    """Three machines, each with a folder of its own, on one PostgreSQL."""
    for name in ("one", "two", "three"):
        keep_urls(tmp_path / name, {Role.RACK: shared.doors.rack, Role.STAFF: shared.doors.staff})
    desk = DeskHere(tmp_path / "three", shared, clock)
    room = (
        RackHere(tmp_path / "one", "rack 1", shared, clock),
        RackHere(tmp_path / "two", "rack 2", shared, clock),
        desk,
    )
    settle(room)
    yield room
    for one in room:
        one.close()


@pytest.fixture
def near(tmp_path: Path, clock: Seconds) -> Iterator[Room]:
    """One machine without a server."""
    room = (
        RackHere(tmp_path, "rack 1", None, clock),
        RackHere(tmp_path, "rack 2", None, clock),
        DeskHere(tmp_path, None, clock),
    )
    settle(room)
    yield room
    for one in room:
        one.close()


@pytest.fixture(params=["far", "near"])
def room(request: pytest.FixtureRequest) -> Room:
    made: Room = request.getfixturevalue(request.param)
    return made


def test_the_desk_sees_who_lifts_and_how_fast_at_every_rack(room: Room) -> None:
    rack_1, _, desk = room
    rack_1.lift(WARMUP)
    settle(room)
    line = desk.line("rack 1")
    assert (line.name, line.report.lift, line.report.load_kg) == ("Aino", LIFT, 60.0)
    assert line.report.set_kind == "warm-up"
    assert line.report.last_speed_m_s == pytest.approx(rack_1.view.set.reps[-1].mean_velocity_m_s)  # type: ignore[union-attr]
    assert desk.line("rack 2").report.set_kind == ""
    assert desk.desk.view().begun


def test_a_sensor_book_that_cannot_be_read_hides_no_rack_from_the_desk(near: Room, tmp_path: Path) -> None:
    rack_1, _, desk = near
    SensorBook(tmp_path).path.mkdir()
    rack_1.lift(WARMUP)
    settle(near)
    assert desk.line("rack 1").report.set_kind == "warm-up"


def warmed_up(room: Room) -> RoomLine:
    rack_1, _, desk = room
    rack_1.lift(WARMUP)
    rack_1.rack.end_set()
    settle(room)
    return desk.line("rack 1")


def test_what_the_desk_decides_stands_at_the_rack_with_the_name(room: Room) -> None:
    rack_1, _, desk = room
    line = warmed_up(room)
    (waits,) = line.report.waiting
    assert waits.load_kg == rack_1.view.suggestion.load_kg  # type: ignore[union-attr]
    assert rack_1.view.decision is None
    assert "takes it over" in desk.desk.decide(line, Decision.CHANGE, 92.5)
    settle(room)
    assert rack_1.view.decision is Decision.CHANGE
    assert (rack_1.view.decided_kg, rack_1.view.load_kg) == (92.5, 92.5)
    assert desk.line("rack 1").report.waiting == ()
    assert desk.line("rack 1").report.decision == "change"
    with rack_1.record.database.read() as connection:
        (row,) = connection.exec_driver_sql("SELECT staff, rack, load_kg FROM decisions").all()
    assert tuple(row) == ("Coach Minke Straten", "room", 92.5)


def test_a_decision_taken_back_at_the_desk_waits_again_at_the_rack(room: Room) -> None:
    rack_1, _, desk = room
    desk.desk.decide(warmed_up(room), Decision.USE)
    settle(room)
    assert rack_1.view.decision is Decision.USE
    assert "Taken back" in desk.desk.undo()
    settle(room)
    assert rack_1.view.decision is None
    assert len(desk.line("rack 1").report.waiting) == 1
    assert not desk.desk.can_undo


def test_a_decision_that_comes_in_the_middle_of_a_set_waits_for_its_end(room: Room) -> None:
    rack_1, _, desk = room
    line = warmed_up(room)
    rack_1.rack.switch_athlete("a")
    for block in blocks(make_session_trace([WARMUP], seed=8), 300.0):
        rack_1.rack.samples(block)
        if rack_1.view.set is not None and rack_1.view.set.is_open:
            break
    loaded = rack_1.view.load_kg
    desk.desk.decide(line, Decision.CHANGE, 92.5)
    settle(room)
    assert rack_1.view.load_kg == loaded
    rack_1.rack.end_set()
    rack_1.rack.tick(1000.0)
    assert rack_1.view.decided_kg == 92.5


def test_a_decision_without_a_name_or_a_load_is_none(room: Room) -> None:
    desk, line = room[2], warmed_up(room)
    assert "Type the load" in desk.desk.decide(line, Decision.CHANGE)
    desk.desk.sign_in.sign_in(None)
    assert "Sign in first" in desk.desk.decide(line, Decision.USE)
    settle(room)
    assert len(desk.line("rack 1").report.waiting) == 1


def test_a_rack_that_is_silent_is_missed_after_ten_seconds_and_a_closed_one_is_not(
    far: Room, clock: Seconds
) -> None:
    rack_1, rack_2, desk = far
    assert desk.line("rack 1").here
    clock.now_s += MISSED_AFTER_S
    rack_2.turn()
    desk.turn()
    clock.now_s += 0.5
    heard = desk.line("rack 1")
    assert not heard.missed  # the server's own clock says when it was heard: just now
    clock.now_s += MISSED_AFTER_S + 1
    assert desk.line("rack 1").missed
    rack_1.chores[0].close()
    rack_1.chores[2].close()
    desk.turn()
    line = desk.line("rack 1")
    assert line.report.closed
    assert not line.missed


def test_a_rack_whose_worker_hangs_says_nothing_anew(tmp_path: Path, clock: Seconds) -> None:
    told: list[object] = []
    rack = RackHere(tmp_path, "rack 1", None, clock)
    chore = rack.chores[0]
    assert isinstance(chore, RoomChore)
    rack.turn()
    chore._teller._tell = told.append
    chore.turn()
    told.clear()
    clock.now_s += SAYS_EVERY_S + 1
    chore.turn()
    assert told == []  # the worker has not answered since
    rack.turn()
    assert len(told) == 1
    rack.close()


def test_the_check_round_knows_sensor_battery_calibration_and_the_charger(near: Room, tmp_path: Path) -> None:
    rack_1, _, desk = near
    made = datetime(2026, 10, 1, tzinfo=UTC)
    book = SensorBook(tmp_path, lambda: made)
    book.claim("AA:01", "Bar sensor 1", "rack 1")
    book.calibrated("AA:01", "Bar sensor 1", {})
    book.battery("AA:09", 98)
    before = desk.line("rack 1").report.sensor
    assert (before.streaming, before.still_check) == (False, None)
    rack_1.rack.link(LinkNews(SensorLine("Bar sensor 1", "streaming", True, 50), address="AA:01"))
    rack_1.lift()
    settle(near)
    sensor = desk.line("rack 1").report.sensor
    assert (sensor.name, sensor.streaming, sensor.battery_percent) == ("Bar sensor 1", True, 50)
    assert sensor.battery_hours == pytest.approx(50 / 12, abs=0.1)
    assert not sensor.drain_seen
    assert sensor.calibrated_day == made.astimezone().date().isoformat()
    assert [spare.battery_percent for spare in desk.desk.view().spares] == [98]


def test_of_an_erased_athlete_the_room_keeps_no_name_and_the_server_no_state(
    far: Room, shared: Shared
) -> None:
    rack_1, _, desk = far
    rack_1.lift(WARMUP)
    settle(far)
    assert desk.line("rack 1").name == "Aino"
    erase_athlete(desk.record, "a", DAY)
    desk.turn()
    desk.desk.forget_names()
    with shared.admin.begin() as connection:
        rows = connection.exec_driver_sql("SELECT athlete_id FROM station.rack_states").scalars().all()
    assert "a" not in rows
    settle(far)
    assert desk.line("rack 1").name == ""


def test_a_battery_lasts_as_long_as_it_was_seen_to_use() -> None:
    from station.capture.battery import BatteryWatch

    watch, at = BatteryWatch(), datetime(2026, 10, 14, 8, tzinfo=UTC)
    watch.read("AA", 80, at)
    watch.read("AA", 79, at + timedelta(minutes=30))
    assert watch.hours_left(79) == (6.6, False)  # one step says little
    watch.read("AA", 70, at + timedelta(minutes=30))
    assert watch.hours_left(70) == (3.5, True)
    watch.read("BB", 70, at + timedelta(minutes=31))
    assert watch.hours_left(70) == (5.8, False)
    assert watch.hours_left(None) == (None, False)
