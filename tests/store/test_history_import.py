"""An older history in the record: marked, in its place in time, read twice without harm, taken out as a whole."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date
from pathlib import Path

import pytest

from station.squad.history_table import HistoryRep, HistorySet
from station.store.erasure import erase_athlete
from station.store.history_import import SENSOR, bring_back, import_sets, imports, take_out
from station.store.record import Record
from tests.store.squad_record import AINO, BELA, DAY, LIFT, add_squad, lift, opened


def older(
    athlete_id: str = AINO, day: date = date(2025, 9, 1), *speeds: float, load: float = 60.0
) -> HistorySet:
    reps = tuple(HistoryRep(n, v, v + 0.4, 0.6) for n, v in enumerate(speeds or (0.7, 0.68), 1))
    return HistorySet(athlete_id, "Aino Amsel", day, None, LIFT, load, reps, 2)


SETS = [older(), older(AINO, date(2025, 9, 8), 0.72), older(BELA, date(2025, 9, 1), 0.55)]


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = opened(tmp_path, "desk")
    add_squad(made)
    yield made
    made.close()


def test_imported_sets_stand_before_what_was_lifted_since_and_are_other_equipment(record: Record) -> None:
    lift(record, AINO)
    import_sets(record, SETS, "old device", "Coach Minke Straten", UTC)
    seen = record.observations(AINO, LIFT)
    assert [(o.day, o.mean_velocity_m_s) for o in seen] == [
        (date(2025, 9, 1), 0.7),
        (date(2025, 9, 8), 0.72),
        (DAY, 0.7),
    ]
    assert seen[0].equipment == seen[1].equipment != seen[2].equipment
    assert seen[0].equipment.startswith(f"{SENSOR}old device")


def test_the_same_file_read_twice_adds_nothing(record: Record) -> None:
    first = import_sets(record, SETS, "old device", "", UTC)
    again = import_sets(record, SETS, "the same once more", "", UTC)
    assert (first.new, first.known) == (3, 0)
    assert (again.key, again.new, again.known) == (None, 0, 3)
    more = import_sets(record, [*SETS, older(AINO, date(2025, 9, 15), 0.71)], "old device", "", UTC)
    assert (more.new, more.known) == (1, 3)


def test_two_sets_that_say_the_same_are_two(record: Record) -> None:
    assert import_sets(record, [older(), older()], "old device", "", UTC).new == 2
    assert len(record.observations(AINO, LIFT)) == 2


def test_an_import_is_taken_out_as_a_whole_and_brought_back(record: Record) -> None:
    lift(record, AINO)
    written = import_sets(record, SETS, "old device", "Coach Minke Straten", UTC)
    (one,) = imports(record)
    assert (one.key, one.label, one.sets) == (written.key, "old device", 3)
    assert (one.first, one.last, one.taken_out) == (date(2025, 9, 1), date(2025, 9, 8), False)
    assert take_out(record, one.key, "Coach Minke Straten") == 4
    assert [o.day for o in record.observations(AINO, LIFT)] == [DAY]
    assert imports(record)[0].taken_out
    assert take_out(record, one.key, "") == 0
    assert bring_back(record, one.key, "Coach Minke Straten") == 4
    assert len(record.observations(AINO, LIFT)) == 3


def test_taking_one_import_out_leaves_another(record: Record) -> None:
    import_sets(record, SETS[:1], "first", "", UTC)
    second = import_sets(record, SETS[1:], "second", "", UTC)
    assert second.key is not None
    take_out(record, second.key, "")
    assert [o.day for o in record.observations(AINO, LIFT)] == [date(2025, 9, 1)]
    assert {one.label: one.taken_out for one in imports(record)} == {"first": False, "second": True}


def test_of_an_erased_athlete_nothing_is_imported(record: Record) -> None:
    erase_athlete(record, AINO, DAY)
    written = import_sets(record, SETS, "old device", "", UTC)
    assert written.new == 1
    assert record.observations(AINO, LIFT) == []
