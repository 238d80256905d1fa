"""The desk: the squad's day kept up to date from all records of this machine, and what staff do with its entries."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from station.capture.desk_sign_in import LOCKS_AFTER as LOCKS_AFTER
from station.capture.desk_sign_in import DeskSignIn
from station.capture.squad_bars import SquadBars
from station.capture.squad_day import SquadDay, read_squad
from station.capture.squad_histories import SquadHistories
from station.capture.squad_read import SquadRead
from station.readiness.rules_adjusted import as_row, from_row
from station.readiness.squad_list import Entry
from station.readiness.squad_rules import SquadRules
from station.squad.entries import EntryDone
from station.squad.roster import StatusChange
from station.squad.status import Restriction
from station.store import checkins, roster, staff_list
from station.store.nearby import DESK_TABLES, signature, take_over
from station.store.record import Record

# One word of outcome, for all staff. What was found out is for medical staff's note alone.
OUTCOMES = ("talked", "as planned", "easier", "rest", "physio", "doctor")


class SquadDesk:
    """Reads and writes one desk's record.

    Args:
        record: the desk's own.
        now: local date and time.
    """

    def __init__(self, record: Record, now: Callable[[], datetime]) -> None:
        self.record, self._now = record, now
        self.rules = SquadRules()
        self._rules_before: list[SquadRules] = []
        self._seen: tuple[object, ...] = ()
        self._bars = SquadBars(record.database.folder)
        self._histories = SquadHistories()
        self._signed = DeskSignIn(record, lambda: self._now())

    def day(self) -> SquadDay:
        """The squad's day with check-in answers, as `read` has it."""
        return self.read().opened()

    def shown(self, read: SquadRead) -> SquadDay:
        """What the one who stands here may see of it: without a PIN no check-in answer."""
        return read.opened() if self.answers_open else read.shut()

    def read(self) -> SquadRead:
        """Take over what the other records of this machine have, and what they say of the squad's day."""
        take_over(self.record, DESK_TABLES)
        self._seen = self._signature()
        with self.record.database.read() as connection:
            self.rules = from_row(staff_list.newest_rules(connection) or {})
        return read_squad(self.record, self._now(), self.rules, self._bars, self._histories)

    def get_ready(self) -> None:
        """Once after the start, while the day is shown and nothing is new: so that what comes next is quick."""
        with self.record.database.read() as connection:
            self._bars.get_ready(connection, self._now().date(), roster.match_dates(connection))

    def changed(self) -> bool:
        """Whether anything was written since `day`, here or nearby, or a quarter of an hour has begun."""
        return self._signature() != self._seen

    def _signature(self) -> tuple[object, ...]:
        now = self._now()
        return (now.date(), now.hour, now.minute // 15, signature(self.record.database.folder))

    @property
    def now(self) -> datetime:
        """Local date and time."""
        return self._now()

    # -- who -----------------------------------------------------------------------------------------------------

    @property
    def staff(self) -> str | None:
        """Who is signed in."""
        return self._signed.staff

    def sign_in(self, staff: str | None, pin: str = "") -> str:
        """As `DeskSignIn.sign_in`."""
        return self._signed.sign_in(staff, pin)

    @property
    def answers_open(self) -> bool:
        """Whether somebody stands here who signed in with a PIN."""
        return self._signed.answers_open

    @property
    def shut_words(self) -> str:
        """As `DeskSignIn.shut_words`."""
        return self._signed.shut_words

    @property
    def pin_words(self) -> str:
        """As `DeskSignIn.pin_words`."""
        return self._signed.pin_words

    def touched(self) -> None:
        """Somebody is at the screen."""
        self._signed.touched()

    def lock_when_idle(self) -> bool:
        """Sign out whoever has left; whether somebody was."""
        return self._signed.lock_when_idle()

    def medical(self, day: SquadDay) -> bool:
        """Whether the one who is signed in, with a PIN, belongs to medical staff."""
        return (
            self.answers_open and self.staff is not None and day.roles.get(self.staff) == staff_list.MEDICAL
        )

    # -- entries ---------------------------------------------------------------------------------------------------

    def take(self, entry: Entry) -> None:
        """The one who is signed in looks after this entry."""
        self._write(entry, "taken")

    def close(self, entry: Entry, outcome: str, medical_note: str = "") -> None:
        """The entry is dealt with, in one word."""
        self._write(entry, "closed", outcome, medical_note)

    def reopen(self, entry: Entry) -> None:
        """It was not: what was closed stands there again."""
        self._write(entry, "reopened")

    def _write(self, entry: Entry, event: EntryDone, outcome: str = "", medical_note: str = "") -> None:
        staff_list.add_entry_event(
            self.record,
            entry.athlete.line.athlete.athlete_id,
            self._now().date(),
            event,
            self.staff or "nobody signed in",
            [reason.key for reason in entry.reasons],
            outcome,
            medical_note,
        )

    # -- rules -----------------------------------------------------------------------------------------------------

    def use_rules(self, rules: SquadRules) -> None:
        """The list goes by these figures from now on, at every desk; who changed them is kept."""
        if rules != self.rules:
            self._rules_before.append(self.rules)
            self._keep_rules(rules)

    def undo_rules(self) -> None:
        """Take the last change of this desk back."""
        if self._rules_before:
            self._keep_rules(self._rules_before.pop())

    def _keep_rules(self, rules: SquadRules) -> None:
        staff_list.keep_rules(self.record, as_row(rules), self.staff or "nobody signed in")
        self.rules = rules

    # -- medical staff ---------------------------------------------------------------------------------------------

    def set_status(self, athlete_id: str, restriction: Restriction) -> None:
        """Training status from today on; the screen lets medical staff alone do it."""
        change = StatusChange(athlete_id, restriction, self._now().date(), self.staff or "")
        self.record.add_rows("training_statuses", roster.status_rows([change]))

    def let_load_again(self, athlete_id: str) -> None:
        """Medical staff let loads be suggested again today, after pain or illness."""
        checkins.lift_hold(self.record, athlete_id, self._now().date())
