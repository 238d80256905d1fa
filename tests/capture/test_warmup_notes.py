"""What the warm-up load of a plan can show, as the plan screen says it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime

import pytest

from station.capture.roster_desk import RosterDesk
from station.readiness.squad_day import DayPlan, assess_day
from station.squad.table_text import Row
from station.store.record import Record
from station.store.squad_reading import all_observations
from tests.season import LIFT, WARMUP_KG, fill_season

DAY = date(2026, 10, 14)
TOMORROW = date(2026, 10, 15)
FIRST = "athlete-000"


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    folder = tmp_path_factory.mktemp("plans") / "desk"
    made = Record(folder, "desk", lambda: datetime(2026, 10, 14, 5, 45, tzinfo=UTC))
    fill_season(made, DAY, athletes=10, weeks=8)
    yield made
    made.close()


def desk(record: Record) -> RosterDesk:
    return RosterDesk(record, lambda: TOMORROW)


def plan(who: str, load_kg: float, lift: str = LIFT) -> Row:
    return Row(1, {"who": who, "lift": lift, "warmup_load_kg": f"{load_kg:g}"})


def name_of(record: Record, athlete_id: str = FIRST) -> str:
    return next(a.name for a in record.athletes(DAY) if a.athlete_id == athlete_id)


def test_it_says_what_the_assessment_of_the_day_says(record: Record) -> None:
    # The command `assess` goes by the same rules from a table of sets; today is the last day here.
    with record.database.read() as connection:
        sets = all_observations(connection, date(2026, 1, 1))
    plans = {(s.athlete_id, LIFT): DayPlan(90.0, None, WARMUP_KG) for s in sets}
    on_the_day = RosterDesk(record, lambda: DAY)
    lines = assess_day(sets, DAY, plans)
    expected = [(line.shows.in_words(WARMUP_KG),) for line in lines if line.shows is not None]
    ours = [on_the_day.warmup_words(plan(name_of(record, line.athlete_id), WARMUP_KG)) for line in lines]
    assert "only from" in expected[0][0]
    assert ours == expected


def test_the_load_as_it_is_typed_counts(record: Record) -> None:
    who = name_of(record)
    (light,) = desk(record).warmup_words(plan(who, WARMUP_KG))
    (heavy,) = desk(record).warmup_words(plan(who, 90.0))
    assert light.startswith("60 kg shows a loss of strength")
    assert heavy != light


def test_without_a_warm_up_set_at_the_load_it_is_not_known(record: Record) -> None:
    (words,) = desk(record).warmup_words(plan(name_of(record), 42.5))
    assert words == "What 42.5 kg shows is not known yet: no earlier warm-up set at it."


def test_for_a_group_each_athlete_of_whom_it_shows_too_little_is_named(record: Record) -> None:
    group = next(a.group for a in record.athletes(DAY) if a.athlete_id == FIRST)
    members = [a.name for a in record.athletes(DAY) if a.group == group]
    head, *named = desk(record).warmup_words(plan(group, WARMUP_KG))
    alone = {name: desk(record).warmup_words(plan(name, WARMUP_KG))[0] for name in members}
    weak = [f"{name}: {words}" for name, words in alone.items() if "only from" in words]
    assert head == f"60 kg shows too little of {len(weak)} of {len(members)} athletes."
    assert named == weak


def test_a_line_that_is_no_plan_yet_says_nothing(record: Record) -> None:
    assert desk(record).warmup_words(plan("Nobody Known", WARMUP_KG)) == ()
    assert desk(record).warmup_words(Row(1, {"who": name_of(record)})) == ()
