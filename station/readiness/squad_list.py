"""The staff's list of a day: whom to talk to first, whom to look at, who is as usual, who has not been seen.

Pure: what was measured, said and done comes in as data, the time of day as well. No score: measures are counted.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Literal

from station.readiness.squad_rules import Measure, SquadRules
from station.readiness.squad_together import moved_together
from station.readiness.squad_values import AthleteDay, Place, Reading, Reason
from station.squad.checkins import CheckInKind
from station.squad.entries import EntryEvent, closed_reasons, last_on

State = Literal["open", "taken", "closed"]


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the list.

    Attributes:
        below, counted: measures clearly below usual, of those that count today and have enough history.
        state: what staff did; `handled` says who and when.
    """

    athlete: AthleteDay
    place: Place
    reasons: tuple[Reason, ...]
    below: int
    counted: int
    state: State = "open"
    handled: EntryEvent | None = None

    @property
    def agree(self) -> str:
        """How many measures agree, in words."""
        if not self.counted:
            return "nothing to judge yet" if self.athlete.judged else "MD+1: not judged"
        return f"{self.below} of {self.counted} below" if self.below else f"{self.counted} as usual"

    @property
    def unwell(self) -> bool:
        """Pain or illness was said and nobody has closed it."""
        return self.athlete.open_unwell


@dataclass(frozen=True, slots=True)
class SquadList:
    """The list of a day.

    Attributes:
        together: sentences about groups that moved together, said before any name.
        by_chance: entries under talk first or look at to expect when nothing has changed for anybody.
        open_unwell: open pain or illness entries.
        skipped, declined: check-ins of today that were not answered: counted, not held against anybody.
    """

    day: date
    entries: tuple[Entry, ...]
    together: tuple[str, ...]
    by_chance: float
    measures: int
    open_unwell: int
    skipped: int
    declined: int
    rules: SquadRules


def squad_list(athletes: Sequence[AthleteDay], now: datetime, rules: SquadRules | None = None) -> SquadList:
    """The list of a day.

    Args:
        athletes: the squad, members only.
        now: local date and time.
    """
    rules = rules or SquadRules()
    entries = sorted((_entry(one, now, rules) for one in athletes), key=_order)
    expected = [_expected(one, now.date(), rules) for one in athletes]
    kinds = [one.check_in.kind for one in athletes if one.check_in is not None]
    return SquadList(
        now.date(),
        tuple(entries),
        moved_together(athletes, now.date(), rules),
        sum(1.0 - (1.0 - rules.below_chance) ** n for n in expected),
        max(expected, default=0),
        sum(entry.unwell for entry in entries),
        kinds.count(CheckInKind.SKIPPED),
        kinds.count(CheckInKind.DECLINED),
        rules,
    )


def without_health(athletes: Iterable[AthleteDay]) -> list[AthleteDay]:
    """The same athletes as if nobody had been asked how they feel: for the coaches' copy."""
    return [
        replace(
            one,
            readings=tuple(r for r in one.readings if r.measure is not Measure.CHECK_IN),
            check_in=None,
            unwell=(),
            due=one.due - {Measure.CHECK_IN},
            events=(),
        )
        for one in athletes
    ]


def _order(entry: Entry) -> tuple[bool, int, bool, int, float, str]:
    """Closed entries sink; then the place, who said something, how many are below, how far below the lowest is."""
    lowest = min((r.chance_below for r in entry.athlete.readings if r.chance_below is not None), default=1.0)
    first = entry.place in (Place.TALK_FIRST, Place.LOOK_AT)
    return (
        entry.state == "closed",
        entry.place,
        not any(reason.key.startswith(("pain", "ill")) for reason in entry.reasons),
        -entry.below,
        lowest if first else 0.0,
        entry.athlete.line.athlete.name,
    )


def _entry(one: AthleteDay, now: datetime, rules: SquadRules) -> Entry:
    day = now.date()
    counted = [r for r in one.readings if _counts(r, day, rules) and r.chance_below is not None]
    judged = counted if one.judged else []
    below = [r for r in judged if _below(r, rules)]
    # What was closed today sinks and stays in sight; what was closed before is gone.
    done = closed_reasons([event for event in one.events if event.day < day])
    said = [reason for reason in _said(one, day) if reason.key not in done]
    low = [
        Reason(f"{r.measure} below {r.day}", f"{r.measure} {r.words}", r.measure is Measure.CHECK_IN)
        for r in below
    ]
    if said or len(below) >= rules.talk_from:
        place = Place.TALK_FIRST
    elif below:
        place = Place.LOOK_AT
    else:
        place = _quiet_place(one, now, rules)
    reasons = (*said, *low) or (_quiet_reason(one, place, now, rules),)
    state, handled = _state(one, reasons, day)
    return Entry(one, place, reasons, len(below), len(judged), state, handled)


def _counts(reading: Reading, day: date, rules: SquadRules) -> bool:
    return 0 <= (day - reading.day).days <= rules.counts_days


def _below(reading: Reading, rules: SquadRules) -> bool:
    return reading.chance_below is not None and reading.chance_below < rules.below_chance


def _said(one: AthleteDay, day: date) -> list[Reason]:
    """What the athlete said: pain and illness until closed, the wish to talk today."""
    reasons = []
    for check_in in one.unwell:
        ago = (day - check_in.day).days
        when = "" if not ago else " yesterday" if ago == 1 else f" {ago} days ago"
        note = f"; note: {check_in.note}" if check_in.note else ""
        if check_in.pains:
            where = ", ".join(pain.in_words() for pain in check_in.pains)
            words = f"said that something hurts{when}: for medical staff"
            reasons.append(Reason(f"pain {check_in.day}", words, True, f"{where}{note}"))
        if check_in.ill:
            reasons.append(
                Reason(f"ill {check_in.day}", f"feels ill{when}: for medical staff", True, note[2:])
            )
    if one.check_in is not None and one.check_in.wants_talk:
        note = "" if one.check_in.unwell else one.check_in.note
        reasons.append(Reason(f"talk {day}", "wants to talk to somebody", True, note))
    return reasons


def _quiet_place(one: AthleteDay, now: datetime, rules: SquadRules) -> Place:
    if any(r.day == now.date() for r in one.readings):
        return Place.AS_USUAL
    overdue = [m for m in one.due if now.time() >= rules.due_by[m]]
    if overdue:
        return Place.NOT_SEEN
    return Place.DUE_LATER


def _quiet_reason(one: AthleteDay, place: Place, now: datetime, rules: SquadRules) -> Reason:
    """Why nothing is said of this athlete, or what is missing."""
    missing = [
        m
        for m in Measure
        if m in one.due and not any(r.measure is m and r.day == now.date() for r in one.readings)
    ]
    late = [m for m in missing if now.time() >= rules.due_by[m]]
    kind = one.check_in.kind if one.check_in is not None else None
    parts = []
    if kind is CheckInKind.SKIPPED:
        parts.append("skipped the check-in")
    elif kind is CheckInKind.DECLINED:
        parts.append("does not want to be asked")
    if place is Place.NOT_SEEN:
        parts.append(f"no {_listed(late)} today")
    elif place is Place.DUE_LATER:
        parts.append(f"{_listed(missing)} still to come" if missing else "nothing due today")
    elif late:
        parts.append(f"{_listed(late)} missing")
    unknown = [r.measure for r in one.readings if r.day == now.date() and r.chance_below is None]
    if unknown:
        parts.append(f"too little history: {_listed(unknown)}")
    return Reason(f"quiet {now.date()}", "; ".join(parts), kind is not None)


def _listed(measures: Sequence[Measure]) -> str:
    return ", ".join(measures)


def _state(one: AthleteDay, reasons: Sequence[Reason], day: date) -> tuple[State, EntryEvent | None]:
    """Open again as soon as a reason stands there that nobody had seen, last or when it was closed."""
    last = last_on(one.events, day)
    if last is None or last.event == "reopened":
        return "open", None
    if {reason.key for reason in reasons} - set(last.seen) - closed_reasons(one.events):
        return "open", last
    return ("closed" if last.event == "closed" else "taken"), last


def _expected(one: AthleteDay, day: date, rules: SquadRules) -> int:
    """How many measures can call falsely today: those judged, and those still to come with enough history."""
    if not one.judged:
        return 0
    known = {r.measure for r in one.readings if r.chance_below is not None}
    counted = {r.measure for r in one.readings if _counts(r, day, rules)}
    return len(known & (counted | one.due))
