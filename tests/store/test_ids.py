"""Ids order corrections as they were made, whatever the clocks say, and every rack comes to the same view."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import insert, select

from station.squad.athletes import Athlete
from station.store import effective, tables
from station.store.ids import FAR_AHEAD_MS, IdClock
from station.store.record import Record
from station.store.rows import NewSet

DAY = date(2026, 10, 14)
NOON = datetime(2026, 10, 14, 12, tzinfo=UTC)
NOON_MS = int(NOON.timestamp() * 1000)


class Clock:
    """A machine's clock that somebody sets."""

    def __init__(self) -> None:
        self.now = NOON

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def record(tmp_path: Path, clock: Clock) -> Iterator[Record]:
    with closing(Record(tmp_path / "rack-1", "rack 1", clock)) as opened:
        opened.add_athletes([Athlete("a", "Aino Amsel", 7), Athlete("b", "Bela Birkholz", 8)])
        yield opened


def a_set(record: Record) -> str:
    return record.begin_set(NewSet("a", True, DAY, 1, "back squat", 60.0, "work", engine_version="test"))


def load_of(record: Record, set_id: str) -> float:
    with record.database.read() as connection:
        return next(s.load_kg for s in effective.sets_on(connection, DAY) if s.set_id == set_id)


def test_an_id_is_a_uuid_of_version_7_with_the_clocks_milliseconds() -> None:
    # RFC 9562 section 5.7: 48 bits of milliseconds since 1970, version 7, variant 10.
    made = UUID(IdClock(lambda: NOON_MS).new())
    assert (made.version, made.variant) == (7, "specified in RFC 4122")
    assert made.int >> 80 == NOON_MS


@given(st.lists(st.integers(NOON_MS - 10**7, NOON_MS + 10**7), min_size=2, max_size=60))
def test_ids_go_up_whatever_the_clock_does(readings: list[int]) -> None:
    left = iter(readings)
    clock = IdClock(lambda: next(left))
    made = [clock.new() for _ in readings]
    assert made == sorted(set(made))


def test_five_thousand_ids_within_one_millisecond_go_up() -> None:
    clock = IdClock(lambda: NOON_MS)
    made = [clock.new() for _ in range(5000)]
    assert made == sorted(set(made))


def test_whoever_has_seen_an_id_makes_a_greater_one_with_a_slow_clock() -> None:
    ahead, behind = IdClock(lambda: NOON_MS), IdClock(lambda: NOON_MS - 3_600_000)
    seen = ahead.new()
    behind.saw(seen)
    assert behind.new() > seen


@pytest.mark.parametrize("other", [None, "a", "athlete-007", "not-a-uuid-at-all", "f" * 36])
def test_what_is_no_such_id_moves_no_clock(other: str | None) -> None:
    clock = IdClock(lambda: NOON_MS)
    clock.saw(other)
    assert UUID(clock.new()).int >> 80 == NOON_MS


def test_a_broken_clock_elsewhere_does_not_use_up_the_time() -> None:
    clock = IdClock(lambda: NOON_MS)
    clock.saw(IdClock(lambda: NOON_MS + 2 * FAR_AHEAD_MS).new())
    assert UUID(clock.new()).int >> 80 == NOON_MS


def test_a_correction_made_after_the_clock_was_set_back_an_hour_holds(record: Record, clock: Clock) -> None:
    set_id = a_set(record)
    record.correct(set_id, "load_kg", 70.0, "Coach Minke Straten")
    clock.now -= timedelta(hours=1)
    record.correct(set_id, "load_kg", 65.0, "Coach Minke Straten")
    assert load_of(record, set_id) == 65.0


def test_it_holds_also_when_the_station_was_restarted_in_between(
    record: Record, clock: Clock, tmp_path: Path
) -> None:
    set_id = a_set(record)
    record.correct(set_id, "load_kg", 70.0, "Coach Minke Straten")
    record.close()
    clock.now -= timedelta(hours=1)
    with closing(Record(tmp_path / "rack-1", "rack 1", clock)) as again:
        again.correct(set_id, "load_kg", 65.0, "Coach Minke Straten")
        assert load_of(again, set_id) == 65.0


def test_sets_stand_in_the_order_they_were_lifted_in(record: Record, clock: Clock) -> None:
    first = a_set(record)
    clock.now -= timedelta(hours=1)
    second = a_set(record)
    assert [s.set_id for s in record.sets_on(DAY)] == [first, second]


def test_a_column_that_only_a_later_row_has_is_kept(record: Record) -> None:
    plan = {"athlete_id": "a", "lift": "back squat", "warmup_load_kg": 60.0, "work_sets": 3}
    record.add_rows("plans", [plan, plan | {"lift": "deadlift", "ceiling_kg": 100.0}])
    assert {p["lift"]: p["ceiling_kg"] for p in record.plans(DAY)} == {"back squat": None, "deadlift": 100.0}


def test_a_default_holds_for_the_row_that_does_not_name_it(record: Record) -> None:
    record.add_rows(
        "staff", [{"name": "Coach Minke Straten"}, {"name": "Dr. Tomke Weidholz", "role": "medical"}]
    )
    with record.database.read() as connection:
        rows = connection.execute(select(tables.staff.c.name, tables.staff.c.role)).all()
    assert {tuple(row) for row in rows} == {("Coach Minke Straten", ""), ("Dr. Tomke Weidholz", "medical")}


# -- several racks ---------------------------------------------------------------------------------------------


class Place:
    """A rack as far as corrections go: what it knows, and its own clock, so many minutes wrong."""

    def __init__(self, minutes_off: int) -> None:
        self.ids = IdClock(lambda: NOON_MS + 60_000 * minutes_off)
        self.known: dict[str, float] = {}

    def correct(self, load_kg: float) -> None:
        self.known[self.ids.new()] = load_kg

    def hears(self, rows: dict[str, float]) -> None:
        for row_id in rows:
            self.ids.saw(row_id)
        self.known |= rows

    def view(self) -> float | None:
        return self.known[max(self.known)] if self.known else None


STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("correct"), st.integers(0, 2)),
        st.tuples(st.just("hears"), st.integers(0, 2), st.integers(0, 2)),
    ),
    max_size=30,
)


@settings(max_examples=200, deadline=None)
@given(offs=st.tuples(*[st.integers(-90, 90)] * 3), steps=STEPS, orders=st.permutations([0, 1, 2]))
def test_all_racks_agree_and_nobodys_correction_loses_to_one_they_had_before_them(
    offs: tuple[int, int, int], steps: list[tuple[str, int] | tuple[str, int, int]], orders: list[int]
) -> None:
    places = [Place(off) for off in offs]
    for load_kg, step in enumerate(steps):
        place = places[step[1]]
        if step[0] == "correct":
            place.correct(float(load_kg))
            assert place.view() == float(load_kg)  # the newest for whoever made it, clock wrong or not
        else:
            place.hears(places[step[-1]].known)
    everything = {row_id: kg for place in places for row_id, kg in place.known.items()}
    for n in orders:
        places[n].hears(dict(reversed(list(everything.items()))))
    assert len({place.view() for place in places}) == 1


@settings(max_examples=15, deadline=None)
@given(order=st.permutations(range(6)))
def test_the_effective_view_of_a_record_does_not_depend_on_the_order_of_arrival(
    tmp_path_factory: pytest.TempPathFactory, order: list[int]
) -> None:
    clocks = IdClock(lambda: NOON_MS), IdClock(lambda: NOON_MS - 3_600_000)
    rows = []
    for n in range(6):
        row_id = clocks[n % 2].new()
        clocks[(n + 1) % 2].saw(row_id)
        rows.append(
            {"id": row_id, "born_at": NOON, "rack": "rack 2", "target_id": "the set", "field": "load_kg"}
            | {"value": {"to": 60.0 + n}, "staff": None, "why": ""}
        )
    with closing(Record(tmp_path_factory.mktemp("data"), "rack 1", Clock())) as record:
        record.add_athletes([Athlete("a", "Aino Amsel", 7)])
        one = {"id": "the set", "athlete_id": "a", "name_confirmed": True, "day": DAY, "session": 1}
        record.add_rows(
            "sets", [one | {"lift": "back squat", "load_kg": 50.0, "kind": "work", "engine_version": ""}]
        )
        for n in order:
            with record.database.write("what arrived") as connection:
                connection.execute(insert(tables.corrections), rows[n])
        assert load_of(record, "the set") == 65.0
