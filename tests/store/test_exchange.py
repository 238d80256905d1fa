"""Racks and a desk on one PostgreSQL: everybody has everything they may know, once, and nobody waits."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import datetime
from pathlib import Path

import pytest
from sqlalchemy import insert, inspect, text
from sqlalchemy.exc import ProgrammingError

from station.store import checkins, effective, exchange
from station.store.erasure import erase_athlete
from station.store.errors import ServerAway, ServerRefused
from station.store.exchange import Exchange
from station.store.exchange_server import engine_for
from station.store.record import Record
from station.store.sharing import SHARED, Role
from station.store.tables import matches, metadata
from tests.shared_postgres import Shared
from tests.store.squad_record import AINO, BELA, DAY, LIFT, add_squad, everything_about, lift, opened


class Place:
    """A rack or the desk: its record and its exchange."""

    def __init__(
        self, root: Path, name: str, shared: Shared, now: Callable[[], datetime] | None = None
    ) -> None:
        self.role = Role.STAFF if name == "desk" else Role.RACK
        self.record: Record = opened(root / name.replace(" ", "-"), name, now)
        self.url = shared.doors.staff if self.role is Role.STAFF else shared.doors.rack
        self.exchange = Exchange(self.record.database.folder, self.url, self.role)

    def close(self) -> None:
        self.exchange.close()
        self.record.close()

    def view(self) -> list[tuple[object, ...]]:
        """The effective view: every set as it stands now, with its reps."""
        with self.record.database.read() as connection:
            rows = effective.sets_on(connection, DAY)
            reps = {row.set_id: effective.reps_of(connection, row.set_id) for row in rows}
        return [
            (
                row.set_id,
                row.athlete_id,
                row.lift,
                row.load_kg,
                tuple((r.rep_id, r.struck) for r in reps[row.set_id]),
            )
            for row in rows
        ]

    def names(self) -> list[str]:
        return [a.name for a in self.record.athletes(DAY)]

    def count(self, table: str) -> int:
        with self.record.database.read() as connection:
            return int(connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one())


def settle(*places: Place) -> None:
    """Two turns each: what one hands on the others take in."""
    for _ in range(2):
        for place in places:
            place.exchange.turn()


@pytest.fixture
def make(tmp_path: Path, shared: Shared) -> Iterator[Callable[..., Place]]:
    made: list[Place] = []

    def one(name: str, now: Callable[[], datetime] | None = None) -> Place:
        made.append(Place(tmp_path, name, shared, now))
        return made[-1]

    yield one
    for place in made:
        place.close()


@pytest.fixture
def desk(make: Callable[..., Place]) -> Place:
    place: Place = make("desk")
    add_squad(place.record)
    return place


@pytest.fixture
def rack_1(make: Callable[..., Place]) -> Place:
    place: Place = make("rack 1")
    return place


@pytest.fixture
def rack_2(make: Callable[..., Place]) -> Place:
    place: Place = make("rack 2")
    return place


def test_a_rack_learns_the_squad_and_another_rack_its_sets(desk: Place, rack_1: Place, rack_2: Place) -> None:
    settle(desk, rack_1)
    assert rack_1.names() == ["Aino Amsel", "Bela Birkholz"]
    lift(rack_1.record, AINO)
    settle(rack_1, rack_2, desk)
    assert rack_2.view() == rack_1.view() == desk.view()
    assert [o.mean_velocity_m_s for o in rack_2.record.observations(AINO, LIFT)] == [0.7]


def test_a_rack_that_was_never_online_has_all_that_was_lifted_there_to_hand_on(
    desk: Place, rack_1: Place
) -> None:
    lift(rack_1.record, None, (0.5, 0.6, 0.7))
    assert rack_1.count("outgoing") == 0
    settle(rack_1, desk)
    assert desk.view() == rack_1.view()
    assert len(desk.view()) == 1


def test_nothing_is_handed_on_or_taken_in_twice(desk: Place, rack_1: Place) -> None:
    settle(desk, rack_1)
    lift(rack_1.record, AINO)
    settle(rack_1, desk)
    for place in (desk, rack_1):
        assert place.exchange.turn().pushed == 0
        assert place.exchange.turn().pulled == {}
        assert place.count("outgoing") == 0


def test_a_rack_with_years_to_take_in_hands_on_meanwhile_what_is_lifted_there(
    desk: Place, rack_1: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(10):
        lift(desk.record, AINO)
    desk.exchange.turn()
    monkeypatch.setattr(exchange, "PAGE", 2)
    first = rack_1.exchange.turn()
    assert first.more
    assert sum(first.pulled.values()) <= 2 * exchange.PAGES_A_TURN
    lift(rack_1.record, None, (0.5, 0.6))
    second = rack_1.exchange.turn()
    assert second.more
    assert second.pushed == 4
    assert rack_1.count("outgoing") == 0
    while rack_1.exchange.turn().more:
        pass
    desk.exchange.turn()
    assert rack_1.view() == desk.view()
    assert len(rack_1.view()) == 11


def test_a_record_with_years_to_hand_on_takes_in_meanwhile_what_others_lift(
    desk: Place, rack_1: Place, rack_2: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    settle(desk, rack_1, rack_2)
    for _ in range(10):
        lift(rack_1.record, AINO)
    lift(rack_2.record, BELA)
    settle(rack_2)
    monkeypatch.setattr(exchange, "PAGE", 5)
    turned = rack_1.exchange.turn()
    assert 0 < turned.pushed <= 5 * exchange.PAGES_A_TURN < turned.pushed + rack_1.count("outgoing")
    assert len(rack_1.record.observations(BELA, LIFT)) == 1
    while rack_1.exchange.turn().pushed:
        pass
    settle(desk)
    assert desk.view() == rack_1.view()


def test_a_row_and_its_place_in_the_line_are_written_together(desk: Place, rack_1: Place) -> None:
    settle(desk, rack_1)
    row = rack_1.record.born() | {"day": DAY}

    def cut_off() -> None:
        with rack_1.record.database.write("half") as connection:
            connection.execute(insert(matches), row)
            raise RuntimeError("the power goes")

    with pytest.raises(RuntimeError):
        cut_off()
    assert rack_1.count("outgoing") == 0


def test_a_table_whose_watch_was_lost_with_a_newer_version_is_watched_again(
    desk: Place, rack_1: Place, tmp_path: Path
) -> None:
    settle(desk, rack_1)
    with rack_1.record.database.write("a migration") as connection:
        connection.execute(text("DROP TRIGGER to_share_reps"))
    rack_1.record.close()
    rack_1.record = opened(tmp_path / "rack-1", "rack 1")
    lift(rack_1.record, AINO)
    assert rack_1.count("outgoing") == 4  # the set, two reps, its end


def test_two_coaches_correct_one_set_and_all_agree(desk: Place, rack_1: Place, rack_2: Place) -> None:
    settle(desk, rack_1)
    set_id = lift(rack_1.record, AINO)
    settle(rack_1, rack_2, desk)
    rack_1.record.correct(set_id, "load_kg", 62.5, "Coach Minke Straten")
    rack_2.record.correct(set_id, "load_kg", 65.0, "Coach Tjark Ohlen")
    settle(rack_2, rack_1, desk)
    views = [place.view() for place in (rack_1, rack_2, desk)]
    assert views[0] == views[1] == views[2]
    assert views[0][0][3] in (62.5, 65.0)
    assert desk.count("corrections") == 2  # both are kept, with who and when
    rack_1.record.correct(set_id, "load_kg", 61.0, "Coach Minke Straten")
    settle(rack_1, rack_2, desk)
    assert {place.view()[0][3] for place in (rack_1, rack_2, desk)} == {
        61.0
    }  # whoever saw both has the last word


def test_a_server_that_is_away_is_said_and_nothing_is_lost(
    desk: Place, rack_1: Place, shared: Shared
) -> None:
    settle(desk, rack_1)
    shared.server.stop("immediate")
    lift(rack_1.record, AINO)
    with pytest.raises(ServerAway, match="handed on later"):
        rack_1.exchange.turn()
    shared.server.start()
    settle(rack_1, desk)
    assert desk.view() == rack_1.view()


def test_a_server_set_back_to_an_earlier_state_gets_everything_again(
    desk: Place, rack_1: Place, shared: Shared
) -> None:
    settle(desk, rack_1)
    lift(rack_1.record, AINO)
    settle(rack_1, desk)
    with shared.admin.begin() as connection:
        connection.execute(text("SET LOCAL search_path TO station"))
        connection.execute(text("TRUNCATE arrivals, reps, set_ends, sets RESTART IDENTITY CASCADE"))
    for place in (desk, rack_1):  # as after a restart of the server
        place.exchange._known = False
    settle(rack_1, desk)
    with shared.admin.begin() as connection:
        connection.execute(text("SET LOCAL search_path TO station"))
        assert connection.execute(text("SELECT count(*) FROM reps")).scalar_one() == 2


# -- who may read what ---------------------------------------------------------------------------------------------


def test_a_check_in_reaches_staff_and_nothing_of_it_stays_at_the_screen(desk: Place, rack_1: Place) -> None:
    settle(desk, rack_1)
    everything_about(rack_1.record, AINO)
    assert rack_1.count("check_ins") == 1
    settle(rack_1, desk)
    assert rack_1.count("check_ins") == 0
    with rack_1.record.database.read() as connection:
        assert checkins.done_today(connection, DAY) == {AINO}
    with desk.record.database.read() as connection:
        (answer,) = checkins.check_ins_since(connection, DAY)
    assert answer.note == "slept in a tent"
    rack_1.record.database.empty_log()
    assert b"slept in a tent" not in rack_1.record.database.path.read_bytes()


def test_answers_stay_until_the_server_has_confirmed_them(desk: Place, rack_1: Place, shared: Shared) -> None:
    settle(desk, rack_1)
    everything_about(rack_1.record, AINO)
    shared.server.stop("immediate")
    with pytest.raises(ServerAway):
        rack_1.exchange.turn()
    assert rack_1.count("check_ins") == 1
    shared.server.start()


def test_another_kiosk_knows_who_was_here_and_not_what_was_said(
    desk: Place, rack_1: Place, rack_2: Place
) -> None:
    settle(desk, rack_1)
    everything_about(rack_1.record, AINO)
    settle(rack_1, rack_2)
    with rack_2.record.database.read() as connection:
        assert checkins.done_today(connection, DAY) == {AINO}
        assert checkins.held_back(connection, DAY) == {AINO}
    assert rack_2.count("check_ins") == 0


@pytest.mark.parametrize("table", ["check_ins", "entry_events", "staff_pins"])
def test_the_database_itself_lets_no_rack_read_answers_notes_or_pins(shared: Shared, table: str) -> None:
    engine = engine_for(shared.doors.rack)
    with pytest.raises(ProgrammingError, match="permission denied"), engine.begin() as connection:
        connection.execute(text(f"SELECT * FROM {table}"))
    engine.dispose()


@pytest.mark.parametrize(
    "words",
    [
        "DELETE FROM reps",
        "UPDATE sets SET load_kg = 1",
        "INSERT INTO erasures VALUES ('e', 'a', '2026-10-14')",
        "INSERT INTO staff_pins VALUES ('p', now(), 'rack', 'Dr. Weidholz', 'x')",
        "INSERT INTO refused VALUES ('x')",
        "UPDATE arrivals SET row_id = 'x'",
        "ALTER TABLE reps ADD COLUMN x int",
    ],
)
def test_a_rack_can_add_and_nothing_else(shared: Shared, words: str) -> None:
    engine = engine_for(shared.doors.rack)
    with (
        pytest.raises(ProgrammingError, match=r"permission denied|must be owner"),
        engine.begin() as connection,
    ):
        connection.execute(text(words))
    engine.dispose()


# -- erasure -------------------------------------------------------------------------------------------------------


def everywhere_in_the_server(shared: Shared, words: str) -> list[str]:
    found = []
    with shared.admin.begin() as connection:
        names = "SELECT table_name FROM information_schema.tables WHERE table_schema = 'station'"
        for name in connection.execute(text(names)).scalars():
            query = text(f"SELECT count(*) FROM station.{name} t WHERE t::text LIKE :words")
            if connection.execute(query, {"words": f"%{words}%"}).scalar_one():
                found.append(str(name))
    return found


def test_an_erasure_at_the_desk_is_applied_by_the_server_and_every_rack(
    desk: Place, rack_1: Place, rack_2: Place, shared: Shared
) -> None:
    settle(desk, rack_1)
    everything_about(rack_1.record, AINO)
    lift(rack_1.record, BELA, (0.55,))
    settle(rack_1, rack_2, desk)
    erase_athlete(desk.record, AINO, DAY)
    settle(desk, rack_1, rack_2)
    assert everywhere_in_the_server(shared, AINO) == ["erasures"]
    assert everywhere_in_the_server(shared, "Amsel") == []
    for place in (desk, rack_1, rack_2):
        assert place.names() == ["Bela Birkholz"]
        assert [row[1] for row in place.view()] == [BELA]
    assert len(list((rack_1.record.database.folder / "raw").glob("*"))) == 0


def test_a_rack_that_was_away_brings_nothing_of_an_erased_athlete_back(
    desk: Place, rack_1: Place, rack_2: Place, shared: Shared
) -> None:
    settle(desk, rack_1, rack_2)
    everything_about(rack_1.record, AINO)
    unnamed = lift(rack_1.record, None, (0.66,))
    lift(rack_1.record, BELA, (0.55,))
    erase_athlete(desk.record, AINO, DAY)
    settle(desk, rack_2)
    settle(rack_1, rack_2, desk)
    assert everywhere_in_the_server(shared, AINO) == ["erasures"]
    for place in (desk, rack_1, rack_2):
        assert sorted(str(row[1]) for row in place.view()) == [BELA, "None"]
    assert rack_1.count("outgoing") == 0
    assert any(row[0] == unnamed for row in desk.view())


# -- versions ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("version", "words"), [("9999", "update this one"), ("0001", "start the desk")])
def test_a_server_of_another_version_is_not_touched_by_a_rack(
    rack_1: Place, shared: Shared, version: str, words: str
) -> None:
    def set_version(to: str) -> str:
        with shared.admin.begin() as connection:
            connection.execute(text("SET LOCAL search_path TO station"))
            before = str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one())
            connection.execute(text("UPDATE alembic_version SET version_num = :to"), {"to": to})
        return before

    before = set_version(version)
    try:
        with pytest.raises(ServerRefused, match=words):
            rack_1.exchange.turn()
    finally:
        set_version(before)


@pytest.mark.parametrize("url", ["not a url", "sqlite:///x", "mysql://u:p@h/d"])
def test_what_is_no_postgresql_is_refused_with_a_sentence(tmp_path: Path, url: str) -> None:
    with closing(opened(tmp_path, "rack 9")) as record, pytest.raises(ServerRefused):
        Exchange(record.database.folder, url, Role.RACK)


def test_passwords_are_not_in_what_is_said(rack_1: Place, shared: Shared) -> None:
    shared.server.stop("immediate")
    with pytest.raises(ServerAway) as said:
        rack_1.exchange.turn()
    shared.server.start()
    secret = rack_1.url.split(":")[2].split("@")[0]
    assert secret not in str(said.value)


def test_the_servers_tables_are_those_of_the_record(shared: Shared) -> None:
    engine = engine_for(shared.doors.staff)
    there = inspect(engine)
    for name in SHARED:
        columns = {column["name"] for column in there.get_columns(name)}
        assert columns == set(metadata.tables[name].columns.keys()), name
    engine.dispose()
