"""The desk: the squad's day kept up to date from all records of this machine, and what staff do with its entries."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime, timedelta

from station.capture.pins import PinGate
from station.capture.squad_bars import SquadBars
from station.capture.squad_day import SquadDay, squad_day
from station.readiness.squad_list import Entry
from station.readiness.squad_rules import SquadRules
from station.squad.entries import EntryDone
from station.squad.roster import StatusChange
from station.squad.status import Restriction
from station.store import checkins, roster, staff_list
from station.store.nearby import DESK_TABLES, signature, take_over
from station.store.rack_things import pin_hashes
from station.store.record import Record

LOCKS_AFTER = timedelta(minutes=5)
# One word of outcome, for all staff. What was found out is for medical staff's note alone.
OUTCOMES = ("talked", "as planned", "easier", "rest", "physio", "doctor")


class SquadDesk:
    """Reads and writes one desk's record.

    Args:
        record: the desk's own.
        now: local date and time.
    """

    def __init__(self, record: Record, now: Callable[[], datetime], rules: SquadRules | None = None) -> None:
        self.record, self._now = record, now
        self.rules = rules or SquadRules()
        self.staff: str | None = None
        self._seen: tuple[object, ...] = ()
        self._bars = SquadBars(record.database.folder)
        self._pins = PinGate(time.monotonic)
        self._touched = now()

    def day(self) -> SquadDay:
        """Take over what the other records of this machine have, and the squad's day of that."""
        take_over(self.record, DESK_TABLES)
        self._seen = self._signature()
        return squad_day(self.record, self._now(), self.rules, self._bars)

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

    def sign_in(self, staff: str | None, pin: str = "") -> str:
        """Everything from now on carries this name; medical staff, and whoever has a PIN, need it.

        Returns:
            Why the person is not signed in, as a sentence; "" if so.
        """
        self.touched()
        self.staff = None
        if staff is None:
            return ""
        pin_hash = pin_hashes(self.record).get(staff, "")
        words = self._pins.refused(staff, pin, pin_hash) if pin and pin_hash else ""
        if not pin and (pin_hash or self._is_medical(staff)):
            words = "Type your PIN." if pin_hash else "Choose a PIN: medical detail opens with it."
        elif not pin_hash and pin:
            words = self._keep_pin(staff, pin)
        if not words:
            self.staff = staff
        return words

    def touched(self) -> None:
        """Somebody is at the screen."""
        self._touched = self._now()

    def lock_when_idle(self) -> bool:
        """Sign out whoever has left; whether somebody was."""
        left = self.staff is not None and self._now() - self._touched >= LOCKS_AFTER
        if left:
            self.staff = None
        return left

    def _is_medical(self, staff: str) -> bool:
        with self.record.database.read() as connection:
            return staff_list.staff_roles(connection).get(staff) == staff_list.MEDICAL

    def _keep_pin(self, staff: str, pin: str) -> str:
        try:
            kept = self._pins.hashed(pin)
        except ValueError as error:
            return str(error)
        self.record.add_rows("staff_pins", [{"staff": staff, "pin_hash": kept}])
        return ""

    def medical(self, day: SquadDay) -> bool:
        """Whether the one who is signed in belongs to medical staff."""
        return self.staff is not None and day.roles.get(self.staff) == staff_list.MEDICAL

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

    # -- medical staff ---------------------------------------------------------------------------------------------

    def set_status(self, athlete_id: str, restriction: Restriction) -> None:
        """Training status from today on; the screen lets medical staff alone do it."""
        change = StatusChange(athlete_id, restriction, self._now().date(), self.staff or "")
        self.record.add_rows("training_statuses", roster.status_rows([change]))

    def let_load_again(self, athlete_id: str) -> None:
        """Medical staff let loads be suggested again today, after pain or illness."""
        checkins.lift_hold(self.record, athlete_id, self._now().date())
