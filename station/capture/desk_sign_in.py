"""Who is signed in at a desk's screen: by name, with a PIN where the person has one; left alone it signs out.

Check-in answers open with a PIN alone: whoever signed in without one works with everything else.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta

from station.capture.pin_choice import LAPSES_AFTER_S, PinChoice
from station.capture.pins import PinGate
from station.capture.wrong_pins import FILE_NAME, WrongPins
from station.store import staff_list
from station.store.rack_things import pin_hashes
from station.store.record import Record

LOCKS_AFTER = timedelta(seconds=LAPSES_AFTER_S)
SHUT = "Check-in answers are shut: sign in with your PIN."
CHOOSE = "Choose a PIN: check-in answers open with it."


class DeskSignIn:
    """Signs staff in and out at one screen.

    Args:
        record: the desk's.
        now: local date and time.

    Attributes:
        staff: who is signed in; None: nobody.
        pin_words: to whoever has no PIN yet, how to come by one.
    """

    def __init__(self, record: Record, now: Callable[[], datetime]) -> None:
        self._record = record
        self.staff: str | None = None
        self._pins = PinGate(time.monotonic, WrongPins(record.database.folder.parent / FILE_NAME))
        self._standing = PinChoice(lambda: now().timestamp())
        self.pin_words = ""

    def sign_in(self, staff: str | None, pin: str = "") -> str:
        """Everything from now on carries this name; medical staff, and whoever has a PIN, need it.

        Returns:
            Why the person is not signed in, as a sentence; "" if so.
        """
        self._standing.pick(staff)
        self.staff, self.pin_words = None, ""
        if staff is None:
            return ""
        hashes = pin_hashes(self._record)
        words = self._typed(staff, pin, hashes) if pin else self._untyped(staff, hashes)
        if not words:
            self.staff = staff
        return words

    @property
    def answers_open(self) -> bool:
        """Whether somebody stands here who signed in with a PIN."""
        return self.staff is not None and self._standing.open

    @property
    def shut_words(self) -> str:
        """That check-in answers are shut, and what opens them; "" while they are open."""
        return "" if self.answers_open else SHUT

    def touched(self) -> None:
        """Somebody is at the screen."""
        self._standing.touched()

    def lock_when_idle(self) -> bool:
        """Sign out whoever has left; whether somebody was."""
        left = self._standing.name is not None and self._standing.lapsed
        if left:
            self.sign_in(None)
        return left

    def _typed(self, staff: str, pin: str, hashes: Mapping[str, str]) -> str:
        words = (
            self._pins.refused(staff, pin, hashes[staff])
            if staff in hashes
            else self._standing.refused(staff, hashes) or self._keep_pin(staff, pin)
        )
        if not words:
            self._standing.opened()
        return words

    def _untyped(self, staff: str, hashes: Mapping[str, str]) -> str:
        if staff in hashes:
            return "Type your PIN."
        self.pin_words = self._standing.refused(staff, hashes) or CHOOSE
        if not self._is_medical(staff):
            return ""
        return self.pin_words if self.pin_words != CHOOSE else "Choose a PIN: medical detail opens with it."

    def _is_medical(self, staff: str) -> bool:
        with self._record.database.read() as connection:
            return staff_list.staff_roles(connection).get(staff) == staff_list.MEDICAL

    def _keep_pin(self, staff: str, pin: str) -> str:
        try:
            kept = self._pins.hashed(pin)
        except ValueError as error:
            return str(error)
        self._record.add_rows("staff_pins", [{"staff": staff, "pin_hash": kept}])
        return ""
