"""Roster, calendar, plans, check-ins, jumps and the staff list in the record: from a date, and never edited."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from station.squad.athletes import Athlete, TrainingStatus
from station.squad.calendar import AfterMatch, after_match, judged, jump_line_due
from station.squad.checkins import ITEM_KEYS, CheckIn, CheckInKind, Pain
from station.squad.jumps import JumpTrial
from station.squad.roster import RosterChange, StatusChange
from station.squad.status import Restriction
from station.store import checkins, jumps, roster, staff_list
from station.store.record import Record

DAY = date(2026, 10, 14)
WEEK = timedelta(days=7)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    opened = Record(tmp_path / "data", "desk", lambda: datetime(2026, 10, 14, 8, 0, tzinfo=UTC))
    opened.add_athletes([Athlete("a", "Aino Amsel", 7, "rack 1"), Athlete("b", "Bela Birkholz", 8, "rack 1")])
    yield opened
    opened.close()


def changed(record: Record, *changes: RosterChange) -> None:
    record.add_rows("roster_changes", roster.change_rows(changes, "Coach"))


def test_a_change_holds_from_its_day_and_the_past_stays_as_it_was(record: Record) -> None:
    changed(
        record,
        RosterChange("a", "name", "Aino Birkholz", DAY),
        RosterChange("a", "shirt_number", 14, DAY + WEEK),
        RosterChange("b", "group", "rack 3", DAY),
    )
    before, today, later = (record.athletes(DAY + days) for days in (-WEEK, 0 * WEEK, WEEK))
    assert [(a.name, a.shirt_number, a.group) for a in before] == [
        ("Aino Amsel", 7, "rack 1"),
        ("Bela Birkholz", 8, "rack 1"),
    ]
    assert [(a.name, a.shirt_number) for a in today] == [("Aino Birkholz", 7), ("Bela Birkholz", 8)]
    assert (later[0].shirt_number, later[1].group) == (14, "rack 3")


def test_who_has_left_is_no_longer_in_the_squad_and_keeps_the_history(record: Record) -> None:
    changed(record, RosterChange("a", "member", False, DAY))
    assert [a.athlete_id for a in record.athletes(DAY)] == ["b"]
    assert [a.athlete_id for a in record.athletes(DAY - WEEK)] == ["a", "b"]
    with record.database.read() as connection:
        assert [line.member for line in roster.roster(connection, DAY)] == [False, True]
    changed(record, RosterChange("a", "member", True, DAY + WEEK))
    assert len(record.athletes(DAY + WEEK)) == 2


def test_of_two_changes_from_one_day_the_later_written_holds(record: Record) -> None:
    changed(record, RosterChange("a", "shirt_number", 9, DAY), RosterChange("a", "shirt_number", 10, DAY))
    assert record.athletes(DAY)[0].shirt_number == 10


def test_training_status_holds_from_its_day_until_its_last(record: Record) -> None:
    until = DAY + timedelta(days=3)
    out = StatusChange("a", Restriction(TrainingStatus.OUT, until=until), DAY, "Dr. Tomke Weidholz")
    record.add_rows("training_statuses", roster.status_rows([out]))
    status = [record.athletes(DAY + timedelta(days=n))[0].status for n in (-1, 0, 3, 4)]
    assert status == [TrainingStatus.FULL, TrainingStatus.OUT, TrainingStatus.OUT, TrainingStatus.FULL]


def test_a_moved_match_moves_and_a_cancelled_one_goes(record: Record) -> None:
    record.add_rows("matches", [{"day": DAY}])
    match = roster.CalendarDay("uid-1", DAY + WEEK, "match", "home")
    record.add_rows("match_days", roster.calendar_rows([match]))
    assert record.matches() == [DAY, DAY + WEEK]
    moved = roster.CalendarDay("uid-1", DAY + 2 * WEEK, "match", "home")
    record.add_rows("match_days", roster.calendar_rows([moved]))
    assert record.matches() == [DAY, DAY + 2 * WEEK]
    off = [roster.CalendarDay(key, DAY, "cancelled") for key in ("uid-1", f"day {DAY}")]
    record.add_rows("match_days", roster.calendar_rows(off))
    assert record.matches() == []


def test_a_groups_plan_is_every_members_unless_they_have_an_own_one(record: Record) -> None:
    record.add_rows(
        "lift_plans",
        roster.plan_rows(
            [
                roster.LiftPlan("back squat", 60.0, 90.0, 100.0, DAY, group="rack 1"),
                roster.LiftPlan("back squat", 70.0, 110.0, 120.0, DAY, athlete_id="b"),
                roster.LiftPlan("back squat", 80.0, 120.0, 130.0, DAY + WEEK, athlete_id="b"),
            ]
        ),
    )
    loads = {p["athlete_id"]: p["warmup_load_kg"] for p in record.plans(DAY)}
    assert loads == {"a": 60.0, "b": 70.0}
    assert {p["athlete_id"]: p["warmup_load_kg"] for p in record.plans(DAY + WEEK)}["b"] == 80.0
    assert record.plans(DAY - WEEK) == []


def answers(value: int = 4) -> dict[str, int]:
    return dict.fromkeys(ITEM_KEYS, value)


def test_a_check_in_comes_back_as_it_was_given(record: Record) -> None:
    pains = (Pain("hamstring", "left"), Pain("head"))
    given = CheckIn(
        "a",
        DAY,
        CheckInKind.ANSWERED,
        answers(),
        pains,
        ill=True,
        note="since Monday",
        seconds=8.5,
        touches=9,
    )
    checkins.add_check_in(record, given)
    with record.database.read() as connection:
        assert checkins.check_ins_since(connection, DAY) == [given]
        assert checkins.done_today(connection, DAY) == {"a"}


def test_pain_or_illness_holds_back_a_load_and_says_nothing_else(record: Record) -> None:
    checkins.add_check_in(
        record, CheckIn("a", DAY, CheckInKind.ANSWERED, answers(), (Pain("hamstring", "left"),))
    )
    checkins.add_check_in(record, CheckIn("b", DAY, CheckInKind.ANSWERED, answers(1)))
    with record.database.read() as connection:
        assert checkins.held_back(connection, DAY) == {"a"}
        columns = {r[1] for r in connection.exec_driver_sql("PRAGMA table_info(load_holds)")}
    assert columns == {"id", "born_at", "rack", "athlete_id", "day", "holds"}
    checkins.lift_hold(record, "a", DAY)
    with record.database.read() as connection:
        assert checkins.held_back(connection, DAY) == set()


def test_a_later_skip_does_not_hide_an_answer() -> None:
    given = CheckIn("a", DAY, CheckInKind.ANSWERED, answers(2))
    skipped = CheckIn("a", DAY, CheckInKind.SKIPPED, {})
    assert checkins.newest_a_day([given, skipped]) == {("a", DAY): given}
    assert checkins.newest_a_day([skipped, given]) == {("a", DAY): given}


def test_the_newest_word_about_consent_holds(record: Record) -> None:
    for given in (True, False):
        checkins.give_consent(record, "a", given=given)
    with record.database.read() as connection:
        assert checkins.consents_now(connection) == {"a": False}


def trial(height_m: float, *, valid: bool = True, athlete: str | None = "a") -> JumpTrial:
    return JumpTrial("", athlete, DAY, height_m, height_m, height_m, 0.01, 0.3, 0.7, (), valid)


def test_the_day_is_the_mean_of_valid_trials_also_after_one_is_struck_or_moved(record: Record) -> None:
    source = jumps.JumpSource("belt 1", "test", calibration={"bias": [0, 0, 0]})
    heights = (trial(0.30), trial(0.34), trial(0.50, valid=False))
    kept = [jumps.add_jump(record, t, 0.5, source, name_confirmed=True) for t in heights]

    def now() -> dict[str, tuple[float, float, int]]:
        with record.database.read() as connection:
            days = jumps.jump_days_since(connection, DAY, lambda _athlete, _day: AfterMatch(2))
        return {a: (round(d[0].mean_m, 3), d[0].best_m, d[0].trials) for a, d in days.items()}

    assert now() == {"a": (0.32, 0.34, 2)}
    record.correct(kept[0].trial_id, "struck", True, "Coach", "stepped")
    assert now() == {"a": (0.34, 0.34, 1)}
    record.correct(kept[1].trial_id, "athlete_id", "b", "Coach")
    assert now() == {"b": (0.34, 0.34, 1)}


def test_the_staff_list_keeps_who_took_what_and_how_it_ended(record: Record) -> None:
    staff_list.add_entry_event(record, "a", DAY, "taken", "Coach Minke Straten", ["jump below"])
    staff_list.add_entry_event(record, "a", DAY, "closed", "Coach Minke Straten", ["jump below"], "rest")
    with record.database.read() as connection:
        taken, closed = staff_list.entry_events_since(connection, DAY)["a"]
    assert (taken.event, closed.event, closed.outcome, closed.seen) == (
        "taken",
        "closed",
        "rest",
        ("jump below",),
    )


def test_days_are_named_by_the_last_match_and_by_who_played() -> None:
    matches = [DAY, DAY + WEEK]
    assert after_match(DAY + timedelta(days=2), matches).in_words() == "MD+2"
    sat_out = after_match(DAY + timedelta(days=3), matches, {DAY: False})
    assert sat_out.in_words() == "MD+3, did not play"
    assert not AfterMatch(3).like(sat_out)
    rested = after_match(DAY + 2 * WEEK + timedelta(days=1), matches)
    assert rested.in_words() == "no match in seven days"
    assert [rested.like(AfterMatch(n)) for n in (None, 3, 4, 7)] == [True, False, True, True]
    assert not AfterMatch(4).like(rested)


def test_the_jump_line_is_proposed_on_two_days_and_the_day_after_is_not_judged() -> None:
    days = [DAY + timedelta(days=n) for n in range(5)]
    assert [jump_line_due(d, [DAY]) for d in days] == [False, False, True, True, False]
    assert [judged(d, [DAY]) for d in days] == [True, False, True, True, True]
