"""Who is signed in at a desk's screen: by name, with a PIN where the person has one; left alone it signs out."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime, timedelta

from station.capture.pins import PinGate
from station.store import staff_list
from station.store.rack_things import pin_hashes
from station.store.record import Record

LOCKS_AFTER = timedelta(minutes=5)


class DeskSignIn:
    """Signs staff in and out at one screen.

    Args:
        record: the desk's.
        now: local date and time.
    """

    def __init__(self, record: Record, now: Callable[[], datetime]) -> None:
        self._record, self._now = record, now
        self.staff: str | None = None
        self._pins = PinGate(time.monotonic)
        self._touched = now()

    def sign_in(self, staff: str | None, pin: str = "") -> str:
        """Everything from now on carries this name; medical staff, and whoever has a PIN, need it.

        Returns:
            Why the person is not signed in, as a sentence; "" if so.
        """
        self.touched()
        self.staff = None
        if staff is None:
            return ""
        pin_hash = pin_hashes(self._record).get(staff, "")
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
        with self._record.database.read() as connection:
            return staff_list.staff_roles(connection).get(staff) == staff_list.MEDICAL

    def _keep_pin(self, staff: str, pin: str) -> str:
        try:
            kept = self._pins.hashed(pin)
        except ValueError as error:
            return str(error)
        self._record.add_rows("staff_pins", [{"staff": staff, "pin_hash": kept}])
        return ""
