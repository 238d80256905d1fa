"""The staff's list: few rules, no score, missing is unknown, and what staff did decides what still stands there."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from station.readiness.squad_filter import Filter
from station.readiness.squad_list import squad_list, without_health
from station.readiness.squad_rules import Measure, SquadRules
from station.readiness.squad_values import AthleteDay, Place, Reading
from station.squad.athletes import Athlete, TrainingStatus
from station.squad.calendar import AfterMatch
from station.squad.checkins import ITEM_KEYS, CheckIn, CheckInKind, Pain
from station.squad.entries import EntryDone, EntryEvent
from station.squad.roster import RosterLine

DAY = date(2026, 10, 14)
MORNING = datetime(2026, 10, 14, 7, 40)  # noqa: DTZ001 - a local time of day
NOON = datetime(2026, 10, 14, 12, 30)  # noqa: DTZ001
DUE = frozenset(Measure)


def reading(measure: Measure, chance: float | None = 0.5, z: float | None = None, age: int = 0) -> Reading:
    return Reading(
        measure, DAY - timedelta(days=age), 1.0, 0.9, 1.0, 1.1, chance, 0.0 if z is None else z, "words"
    )


def athlete(name: str, *readings: Reading, **more: object) -> AthleteDay:
    line = RosterLine(Athlete(name, name, 1, "rack 1"))
    return replace(AthleteDay(line, readings, due=DUE), **more)  # type: ignore[arg-type]


def answered(name: str, day: date = DAY, **more: object) -> CheckIn:
    one = CheckIn(name, day, CheckInKind.ANSWERED, dict.fromkeys(ITEM_KEYS, 4))
    return replace(one, **more)  # type: ignore[arg-type]


def place_of(*athletes: AthleteDay, now: datetime = MORNING) -> list[tuple[str, Place]]:
    entries = squad_list(athletes, now).entries
    return [(entry.athlete.line.athlete.name, entry.place) for entry in entries]


LOW, USUAL = 0.024, 0.026


def test_the_order_is_talk_first_look_at_as_usual_due_later() -> None:
    two = athlete("two", reading(Measure.JUMP, LOW), reading(Measure.CHECK_IN, LOW))
    one = athlete("one", reading(Measure.JUMP, LOW), reading(Measure.CHECK_IN, USUAL))
    none = athlete("none", reading(Measure.CHECK_IN, USUAL))
    later = athlete("later")
    assert place_of(later, none, one, two) == [
        ("two", Place.TALK_FIRST),
        ("one", Place.LOOK_AT),
        ("none", Place.AS_USUAL),
        ("later", Place.DUE_LATER),
    ]


def test_nothing_on_a_day_it_was_due_is_not_seen_but_only_once_it_was_due() -> None:
    assert place_of(athlete("a"), now=MORNING) == [("a", Place.DUE_LATER)]
    assert place_of(athlete("a"), now=NOON) == [("a", Place.NOT_SEEN)]
    assert place_of(athlete("a", due=frozenset()), now=NOON) == [("a", Place.DUE_LATER)]
    (entry,) = squad_list([athlete("a")], NOON).entries
    assert entry.reasons[0].words == "no jump, check-in today"


def test_a_measure_of_yesterday_is_shown_and_not_judged_again() -> None:
    old = athlete("old", reading(Measure.JUMP, LOW, age=1), reading(Measure.CHECK_IN, USUAL))
    assert place_of(old) == [("old", Place.AS_USUAL)]
    longer = squad_list([old], MORNING, SquadRules(counts_days=1))
    assert longer.entries[0].place is Place.LOOK_AT


def test_too_little_history_is_an_answer_and_no_call() -> None:
    (entry,) = squad_list([athlete("new", reading(Measure.JUMP, None))], MORNING).entries
    assert (entry.place, entry.counted) == (Place.AS_USUAL, 0)
    assert "too little history: jump" in entry.reasons[0].words


@pytest.mark.parametrize(
    "said",
    [{"pains": (Pain("hamstring", "left"),)}, {"ill": True}, {"wants_talk": True}],
    ids=["pain", "illness", "wants to talk"],
)
def test_what_an_athlete_says_comes_first_and_reaches_no_coachs_copy(said: dict[str, object]) -> None:
    check_in = replace(answered("a"), **said)  # type: ignore[arg-type]
    unwell = (check_in,) if check_in.unwell else ()
    one = athlete("a", reading(Measure.CHECK_IN, USUAL), check_in=check_in, unwell=unwell)
    full = squad_list([one], MORNING)
    assert full.entries[0].place is Place.TALK_FIRST
    assert full.open_unwell == len(unwell)
    assert "hamstring" not in full.entries[0].reasons[0].words  # for medical staff alone
    copy = squad_list(without_health([one]), MORNING)
    assert copy.entries[0].place is not Place.TALK_FIRST
    assert copy.open_unwell == copy.skipped == 0
    assert not any(reason.health for entry in copy.entries for reason in entry.reasons)
    assert all(r.measure is not Measure.CHECK_IN for e in copy.entries for r in e.athlete.readings)


def test_pain_stays_until_it_is_closed_and_says_how_old_it_is() -> None:
    before = answered("a", DAY - timedelta(days=2), pains=(Pain("hamstring", "left"),), note="since Sunday")
    one = athlete("a", reading(Measure.CHECK_IN, USUAL), check_in=answered("a"), unwell=(before,))
    (entry,) = squad_list([one], MORNING).entries
    assert entry.reasons[0].words == "said that something hurts 2 days ago: for medical staff"
    assert entry.reasons[0].medical == "left hamstring; note: since Sunday"
    closed = event("closed", ["pain 2026-10-12"], day=DAY - timedelta(days=1))
    assert place_of(replace(one, events=(closed,))) == [("a", Place.AS_USUAL)]


def event(what: EntryDone, seen: list[str], day: date = DAY) -> EntryEvent:
    at = datetime(2026, 10, 14, 7, 45, tzinfo=UTC)
    return EntryEvent("a", day, what, "Coach Minke Straten", at, "rest", seen=tuple(seen))


def test_a_closed_entry_sinks_until_something_new_arrives() -> None:
    low = athlete("a", reading(Measure.JUMP, LOW), events=(event("closed", [f"jump below {DAY}"]),))
    other = athlete("b", reading(Measure.CHECK_IN, USUAL))
    entries = squad_list([low, other], MORNING).entries
    assert [(e.athlete.line.athlete.name, e.state) for e in entries] == [("b", "open"), ("a", "closed")]
    more = replace(low, readings=(*low.readings, reading(Measure.CHECK_IN, LOW)))
    first = squad_list([more, other], MORNING).entries[0]
    assert (first.athlete.line.athlete.name, first.state) == ("a", "open")
    assert first.handled is not None
    assert first.handled.staff == "Coach Minke Straten"


def test_a_taken_entry_says_by_whom_and_keeps_its_place() -> None:
    low = athlete("a", reading(Measure.JUMP, LOW), events=(event("taken", [f"jump below {DAY}"]),))
    (entry,) = squad_list([low], MORNING).entries
    assert (entry.state, entry.place) == ("taken", Place.LOOK_AT)


def test_the_day_after_a_match_is_not_judged_but_pain_still_counts() -> None:
    one = athlete("a", reading(Measure.JUMP, LOW), reading(Measure.CHECK_IN, LOW), judged=False)
    assert place_of(one) == [("a", Place.AS_USUAL)]
    assert squad_list([one], MORNING).by_chance == 0.0
    hurts = answered("a", pains=(Pain("knee", "right"),))
    assert place_of(replace(one, check_in=hurts, unwell=(hurts,))) == [("a", Place.TALK_FIRST)]


def test_the_expected_number_of_false_calls_is_the_binomial_one() -> None:
    # 1 - (1 - 0.025)^3 = 0.0731 for each of 46 athletes
    squad = [athlete(f"a{n}", *(reading(m, 0.5) for m in Measure)) for n in range(46)]
    made = squad_list(squad, MORNING)
    assert made.by_chance == pytest.approx(46 * 0.073141, abs=0.01)
    assert made.measures == 3


def test_a_rack_that_moved_together_is_said_before_any_name() -> None:
    def rack(group: str, z: float) -> list[AthleteDay]:
        made = [athlete(f"{group} {n}", reading(Measure.BAR, 0.5, z + 0.1 * n)) for n in range(4)]
        return [
            replace(one, line=replace(one.line, athlete=replace(one.line.athlete, group=group)))
            for one in made
        ]

    made = squad_list([*rack("rack 3", 2.0), *rack("rack 4", -0.2), *rack("rack 5", -0.1)], MORNING)
    assert made.together == (
        "rack 3: bar speed of 4 athletes above usual together. Check sensor, plates, bar, travel.",
    )


def test_the_whole_squad_that_moved_together_is_said_once() -> None:
    squad = [athlete(f"a{n}", reading(Measure.JUMP, 0.1, -1.2)) for n in range(12)]
    (sentence,) = squad_list(squad, MORNING).together
    assert sentence.startswith("The whole squad: jump of 12 athletes below usual together.")


def test_skipped_and_declined_are_counted_and_not_held_against_anybody() -> None:
    skipped = athlete("a", check_in=CheckIn("a", DAY, CheckInKind.SKIPPED, {}), due=frozenset())
    declined = athlete("b", check_in=CheckIn("b", DAY, CheckInKind.DECLINED, {}), due=frozenset())
    made = squad_list([skipped, declined], MORNING)
    assert (made.skipped, made.declined) == (1, 1)
    assert {entry.place for entry in made.entries} == {Place.DUE_LATER}


def test_rules_are_said_and_follow_their_figures() -> None:
    words = " ".join(SquadRules(below_chance=0.01, talk_from=3).in_words())
    assert "3 measures clearly below" in words
    assert "under 1 %" in words


def test_filters_by_position_rack_status_and_day_after_the_match() -> None:
    one = athlete("a", after=AfterMatch(2, played=False))
    line = RosterLine(Athlete("b", "b", 2, "rack 2", TrainingStatus.MODIFIED), "backs")
    entries = squad_list([one, AthleteDay(line, after=AfterMatch(2))], MORNING).entries

    def shown(chosen: Filter) -> list[str]:
        return [e.athlete.line.athlete.name for e in entries if chosen.shows(e)]

    assert shown(Filter()) == ["a", "b"]
    assert shown(Filter(position="backs")) == shown(Filter(group="rack 2")) == ["b"]
    assert shown(Filter(status=TrainingStatus.MODIFIED)) == ["b"]
    assert shown(Filter(after="MD+2, did not play")) == ["a"]
