"""The list without check-in answers: whatever was answered, it is the same; only pain and illness are counted."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from station.capture.squad_read import SquadDay, SquadRead
from station.readiness.squad_list import Entry
from station.readiness.squad_rules import Measure, SquadRules
from station.readiness.squad_values import AthleteDay, Place
from station.squad.checkins import CheckIn, CheckInKind, Pain
from station.squad.entries import EntryDone, EntryEvent
from tests.readiness.test_squad_list import DAY, LOW, MORNING, NOON, USUAL, answered, athlete, reading

HURT = (Pain("hamstring", "left"),)


def read(*athletes: AthleteDay, now: datetime = NOON) -> SquadRead:
    return SquadRead(athletes, "MD+3", True, {}, now, SquadRules())


def done(event: EntryDone, *seen: str, outcome: str = "") -> EntryEvent:
    return EntryEvent("a", DAY, event, "Coach", datetime(2026, 10, 14, 9, tzinfo=UTC), outcome, "", seen)


def only(day: SquadDay) -> Entry:
    (entry,) = day.list.entries
    return entry


answers = st.builds(
    lambda kind, pains, ill, talk, note: answered(
        "a", kind=kind, pains=pains, ill=ill, wants_talk=talk, note=note
    ),
    st.sampled_from(CheckInKind),
    st.sampled_from([(), HURT]),
    st.booleans(),
    st.booleans(),
    st.sampled_from(["", "a note"]),
)
measured = st.lists(
    st.builds(reading, st.sampled_from([Measure.BAR, Measure.JUMP]), st.sampled_from([LOW, USUAL, None])),
    max_size=2,
    unique_by=lambda one: one.measure,
)
about_answers = st.sampled_from([f"pain {DAY}", f"ill {DAY}", f"talk {DAY}", f"check-in below {DAY}"])
handled = st.lists(
    st.builds(
        lambda event, key, more: done(event, key, *more, outcome="physio"),
        st.sampled_from(["taken", "closed", "reopened"]),
        about_answers,
        st.sampled_from([(), (f"jump below {DAY}",)]),
    ),
    max_size=3,
)


@given(
    measured,
    answers,
    st.booleans(),
    st.sampled_from([LOW, USUAL, None]),
    handled,
    st.sampled_from([MORNING, NOON]),
)
def test_whatever_was_answered_the_shut_list_is_the_same(
    bar_and_jump: list,  # type: ignore[type-arg]
    answer: CheckIn,
    asked: bool,
    chance: float | None,
    events: list[EntryEvent],
    now: datetime,
) -> None:
    plain = athlete("a", *bar_and_jump)
    full = replace(
        plain,
        readings=(*bar_and_jump, reading(Measure.CHECK_IN, chance)),
        check_in=answer,
        unwell=(answer,) if answer.unwell else (),
        due=plain.due if asked else plain.due - {Measure.CHECK_IN},
        events=tuple(events),
    )
    with_answers, without = read(full, now=now).shut(), read(plain, now=now).shut()
    assert replace(with_answers.list, open_unwell=0) == without.list
    assert with_answers.athletes == without.athletes


def test_open_pain_and_illness_stay_counted() -> None:
    ill, hurt = answered("b", ill=True), answered("a", pains=HURT)
    both = read(athlete("a", unwell=(hurt,)), athlete("b", unwell=(ill,)), athlete("c"))
    assert both.shut().list.open_unwell == both.opened().list.open_unwell == 2


def test_what_is_closed_while_answers_are_shut_closes_no_pain() -> None:
    hurt = answered("a", pains=HURT)
    one = athlete("a", reading(Measure.JUMP, LOW), check_in=hurt, unwell=(hurt,))
    seen = [reason.key for reason in only(read(one).shut()).reasons]
    assert seen == [f"jump below {DAY}"]
    after = read(replace(one, events=(done("closed", *seen),)))
    assert only(after.shut()).state == "closed"  # whoever closed it sees that it is
    entry = only(after.opened())
    assert (entry.state, entry.place, after.opened().list.open_unwell) == ("open", Place.TALK_FIRST, 1)
    assert after.shut().list.open_unwell == 1


def test_what_was_closed_with_its_answers_stays_closed_when_a_coach_closes_the_rest_too() -> None:
    hurt = answered("a", pains=HURT)
    events = (done("closed", f"pain {DAY}", f"jump below {DAY}"), done("closed", f"jump below {DAY}"))
    one = athlete("a", reading(Measure.JUMP, LOW), check_in=hurt, unwell=(hurt,), events=events)
    assert only(read(one).opened()).state == "closed"


def test_who_handled_an_answer_is_not_told_while_they_are_shut() -> None:
    hurt = answered("a", pains=HURT)
    events = (done("closed", f"pain {DAY}", outcome="doctor"),)
    one = athlete("a", reading(Measure.JUMP, USUAL), check_in=hurt, unwell=(hurt,), events=events)
    assert only(read(one).shut()).handled is None
    assert only(read(one).opened()).handled is not None
