"""Open pain and illness counted from a machine's records, as the squad day counts them, no answer kept."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from station.capture.squad_desk import SquadDesk
from station.readiness.squad_rules import SquadRules
from station.squad.athletes import Athlete
from station.squad.checkins import ITEM_KEYS, CheckIn, CheckInKind, Pain
from station.store import checkins
from station.store.nearby import take_over
from station.store.record import Record
from station.store.unwell_nearby import LOOK_EVERY, OpenUnwell

DAY = date(2026, 10, 14)
NOON = datetime(2026, 10, 14, 12, 40)  # noqa: DTZ001 - a local time of day
HURT = (Pain("hamstring", "left"),)


class Machine:
    """A desk, a check-in screen and another staff screen, each with a record of its own."""

    def __init__(self, root: Path) -> None:
        self.records = {
            name: Record(root / name, name, lambda: datetime(2026, 10, 14, 5, 45, tzinfo=UTC))
            for name in ("desk", "door", "room")
        }
        self.records["desk"].add_athletes([Athlete(key, key, n) for n, key in enumerate("abc", 1)])
        for name in ("door", "room"):
            take_over(self.records[name])
        self.desk = SquadDesk(self.records["desk"], lambda: NOON)
        self.there = OpenUnwell(self.records["room"])
        self.now = NOON

    def says(self, athlete_id: str, day: date = DAY, pains: tuple[Pain, ...] = (), ill: bool = False) -> None:
        one = CheckIn(athlete_id, day, CheckInKind.ANSWERED, dict.fromkeys(ITEM_KEYS, 3), pains, ill)
        checkins.add_check_in(self.records["door"], one)

    def counts(self) -> tuple[int, int]:
        """At the squad day, and at the other screen."""
        return self.desk.day().list.open_unwell, self.at_the_other_screen()

    def at_the_other_screen(self) -> int:
        self.now += LOOK_EVERY
        return self.there.count(self.now)

    def entry(self, athlete_id: str):  # type: ignore[no-untyped-def]
        return next(
            e for e in self.desk.day().list.entries if e.athlete.line.athlete.athlete_id == athlete_id
        )


@pytest.fixture
def machine(tmp_path: Path) -> Iterator[Machine]:
    made = Machine(tmp_path)
    yield made
    for record in made.records.values():
        record.close()


def test_both_count_the_same_from_the_answer_until_it_is_closed(machine: Machine) -> None:
    assert machine.counts() == (0, 0)
    machine.says("a", pains=HURT)
    machine.says("b", ill=True)
    machine.says("c")
    assert machine.counts() == (2, 2)
    machine.desk.take(machine.entry("a"))
    assert machine.counts() == (2, 2)
    machine.desk.close(machine.entry("a"), "physio")
    assert machine.counts() == (1, 1)
    machine.desk.reopen(machine.entry("a"))
    assert machine.counts() == (2, 2)


def test_it_stays_open_for_as_many_days_as_the_rules_say(machine: Machine) -> None:
    machine.says("a", DAY - timedelta(days=10), pains=HURT)
    assert machine.counts() == (1, 1)
    machine.desk.use_rules(SquadRules(open_days=7))
    assert machine.counts() == (0, 0)


def test_a_later_answer_of_the_same_day_holds(machine: Machine) -> None:
    machine.says("a", pains=HURT)
    machine.says("a")
    assert machine.counts() == (0, 0)


def test_nothing_of_the_answers_is_in_the_other_screens_record(machine: Machine) -> None:
    machine.says("a", pains=HURT)
    assert machine.at_the_other_screen() == 1
    with machine.records["room"].database.read() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM check_ins").scalar_one() == 0
