"""The check-in at one screen: who, consent, five answers, what else is said; one form at a time, none is left.

Knows no Qt and reads no clock: time comes with each touch. What is kept goes through a `CheckInBook`; earlier answers
are never read here, so that none can be shown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Protocol

from station.squad.athletes import Athlete
from station.squad.checkins import HIGHEST, ITEM_KEYS, LOWEST, CheckIn, CheckInKind, Pain
from station.store import checkins
from station.store.nearby import signature, take_over
from station.store.rack_things import badge_holders
from station.store.record import Record

TIME_OUT_S = 30.0
THANKS_S = 3.0
THANKS_WITH_CAUTION_S = 12.0


class CheckInBook(Protocol):
    """Where a screen writes check-ins, and the little it may know."""

    def people(self) -> Sequence[Athlete]:
        """Who can check in, by name."""

    def badges(self) -> Mapping[str, str]:
        """Whose badge each code is: code -> athlete."""

    def done(self, day: date) -> set[str]:
        """Who has been here today."""

    def consent(self, athlete_id: str) -> bool | None:
        """The athlete's word about answering; None when never asked."""

    def give_consent(self, athlete_id: str, *, given: bool) -> None:
        """Keep the athlete's word."""

    def add(self, one: CheckIn) -> None:
        """Keep a check-in."""


class RecordBook:
    """A `CheckInBook` on an open record."""

    def __init__(self, record: Record) -> None:
        self._record = record
        self._seen: tuple[object, ...] = ()
        self.refresh()

    def refresh(self) -> bool:
        """Take over from this machine's other records the roster, and who has checked in; whether anything is new."""
        seen = signature(self._record.database.folder)
        if seen == self._seen:
            return False
        taken = take_over(self._record)
        self._seen = signature(self._record.database.folder)
        return taken > 0

    def people(self) -> Sequence[Athlete]:
        """Who can check in, by name."""
        return self._record.athletes()

    def badges(self) -> Mapping[str, str]:
        """Whose badge each code is: code -> athlete."""
        return badge_holders(self._record)

    def done(self, day: date) -> set[str]:
        """Who has been here today."""
        with self._record.database.read() as connection:
            return checkins.done_today(connection, day)

    def consent(self, athlete_id: str) -> bool | None:
        """The athlete's word about answering; None when never asked."""
        with self._record.database.read() as connection:
            return checkins.consents_now(connection).get(athlete_id)

    def give_consent(self, athlete_id: str, *, given: bool) -> None:
        """Keep the athlete's word."""
        checkins.give_consent(self._record, athlete_id, given=given)

    def add(self, one: CheckIn) -> None:
        """Keep a check-in."""
        checkins.add_check_in(self._record, one)


class Step(StrEnum):
    """What the screen asks for."""

    WHO = "who"
    CONSENT = "consent"
    ITEMS = "items"
    THANKS = "thanks"


@dataclass(slots=True)
class Form:
    """What one athlete has said so far. Lives until it is kept or times out."""

    athlete: Athlete
    begun_s: float
    touches: int = 1
    answers: dict[str, int] = field(default_factory=dict)
    pains: list[Pain] = field(default_factory=list)
    ill: bool = False
    wants_talk: bool = False
    hours_slept: float | None = None
    note: str = ""

    @property
    def complete(self) -> bool:
        """All five items are answered."""
        return len(self.answers) == len(ITEM_KEYS)

    @property
    def needs_caution(self) -> bool:
        """Pain or illness was said."""
        return bool(self.pains) or self.ill


class CheckInDesk:
    """One check-in screen.

    Args:
        book: where check-ins go.
        day: the local day, asked for each time.
    """

    def __init__(self, book: CheckInBook, day: date) -> None:
        self.book, self.day = book, day
        self.step = Step.WHO
        self.form: Form | None = None
        self.caution = False
        self._since_s = 0.0

    # -- who ---------------------------------------------------------------------------------------------------

    def people(self) -> list[Athlete]:
        """Who has not been here today, by name."""
        done = self.book.done(self.day)
        return [a for a in self.book.people() if a.athlete_id not in done]

    def nobody_left(self) -> str:
        """Why no name is offered, as a sentence; "" where there are names."""
        if self.people():
            return ""
        return (
            "Everybody has been here today." if self.book.people() else "No squad yet: enter it at the desk."
        )

    def wearing(self, number: int) -> list[Athlete]:
        """Who wears a shirt number; two may wear one."""
        return [a for a in self.book.people() if a.shirt_number == number]

    def holder(self, code: str) -> Athlete | None:
        """Whose badge this is; None: nobody's."""
        athlete_id = self.book.badges().get(code)
        return next((a for a in self.book.people() if a.athlete_id == athlete_id), None)

    def begin(self, athlete: Athlete, now_s: float) -> None:
        """This athlete stands here."""
        self.form = Form(athlete, now_s)
        self._since_s = now_s
        agreed = self.book.consent(athlete.athlete_id)
        self.step = Step.ITEMS if agreed else Step.CONSENT

    # -- consent -----------------------------------------------------------------------------------------------

    def agree(self, now_s: float) -> None:
        """The athlete agrees to answer."""
        form = self._touched(now_s)
        self.book.give_consent(form.athlete.athlete_id, given=True)
        self.step = Step.ITEMS

    def decline(self, now_s: float) -> None:
        """The athlete says no to being asked; nothing else is kept."""
        form = self._touched(now_s)
        self.book.give_consent(form.athlete.athlete_id, given=False)
        self._keep(CheckInKind.DECLINED, form, now_s)

    # -- answers -----------------------------------------------------------------------------------------------

    def answer(self, item: str, value: int, now_s: float) -> None:
        """One item; a second touch changes it."""
        if item not in ITEM_KEYS or not LOWEST <= value <= HIGHEST:
            raise ValueError(f"{item!r} cannot be answered with {value}")
        self._touched(now_s).answers[item] = value

    def hurts(self, pain: Pain, now_s: float) -> None:
        """Here it hurts; the same place again takes it back."""
        pains = self._touched(now_s).pains
        if pain in pains:
            pains.remove(pain)
        else:
            pains.append(pain)

    def feels_ill(self, now_s: float) -> None:
        """I feel ill; again takes it back."""
        form = self._touched(now_s)
        form.ill = not form.ill

    def wants_to_talk(self, now_s: float) -> None:
        """I want to talk to somebody; again takes it back."""
        form = self._touched(now_s)
        form.wants_talk = not form.wants_talk

    def slept(self, hours: float | None, now_s: float) -> None:
        """Hours slept."""
        self._touched(now_s).hours_slept = hours

    def write(self, note: str, now_s: float) -> None:
        """A note for staff."""
        self._touched(now_s, counts=False).note = note[:1000]

    def finish(self, now_s: float) -> bool:
        """Done: keep it. False while an item is open: then nothing happens."""
        form = self._touched(now_s)
        if not form.complete:
            return False
        self._keep(CheckInKind.ANSWERED, form, now_s)
        return True

    def skip(self, now_s: float) -> None:
        """Not today. What was said of pain, illness and wanting to talk is kept all the same, the items are not."""
        form = self._touched(now_s)
        form.answers.clear()
        self._keep(CheckInKind.SKIPPED, form, now_s)

    # -- time --------------------------------------------------------------------------------------------------

    def tick(self, now_s: float, day: date) -> bool:
        """Time passes; whether the screen went back to the beginning. A form left alone is forgotten, not kept."""
        self.day = day
        waits = THANKS_WITH_CAUTION_S if self.caution else THANKS_S
        limit = waits if self.step is Step.THANKS else TIME_OUT_S
        if self.step is Step.WHO or now_s - self._since_s < limit:
            return False
        self.leave()
        return True

    def leave(self) -> None:
        """Back to the empty screen; nothing of the form is left."""
        self.step, self.form, self.caution = Step.WHO, None, False

    def touched(self, now_s: float) -> None:
        """Somebody is still here."""
        if self.form is not None:
            self._touched(now_s)

    def _touched(self, now_s: float, *, counts: bool = True) -> Form:
        assert self.form is not None, "nobody stands here"
        self._since_s = now_s
        self.form.touches += counts
        return self.form

    def _keep(self, kind: CheckInKind, form: Form, now_s: float) -> None:
        declined = kind is CheckInKind.DECLINED
        self.book.add(
            CheckIn(
                form.athlete.athlete_id,
                self.day,
                kind,
                dict(form.answers),
                () if declined else tuple(form.pains),
                not declined and form.ill,
                not declined and form.wants_talk,
                None if declined else form.hours_slept,
                "" if declined else form.note,
                round(now_s - form.begun_s, 2),
                form.touches,
            )
        )
        self.caution = form.needs_caution and not declined
        self.step, self.form = Step.THANKS, None
