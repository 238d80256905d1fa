"""PINs of staff: hashed with Argon2 (RFC 9106), and each wrong one makes the next try wait longer."""

from __future__ import annotations

from collections.abc import Callable

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

LEAST_DIGITS = 4
FIRST_WAIT_S, LONGEST_WAIT_S = 2.0, 60.0
FREE_TRIES = 1


class PinGate:
    """Lets a person in with the right PIN.

    Args:
        clock: monotonic seconds.
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._hasher = PasswordHasher()
        self._wrong: dict[str, int] = {}
        self._again_at_s: dict[str, float] = {}

    def hashed(self, pin: str) -> str:
        """What is kept of a PIN.

        Raises:
            ValueError: not four digits or more.
        """
        if len(pin) < LEAST_DIGITS or not (pin.isascii() and pin.isdigit()):
            raise ValueError(f"A PIN has {LEAST_DIGITS} digits or more.")
        return self._hasher.hash(pin)

    def refused(self, staff: str, pin: str, pin_hash: str) -> str:
        """Why this person is not let in, as a sentence; "" for the right PIN.

        While the wait after a wrong one runs, no PIN is looked at.
        """
        wait_s = self._again_at_s.get(staff, 0.0) - self._clock()
        if wait_s > 0:
            return f"Wait {wait_s:.0f} s, then type the PIN again."
        try:
            self._hasher.verify(pin_hash, pin)
        except (VerificationError, InvalidHashError):
            return self._wrong_one(staff)
        self._wrong.pop(staff, None)
        return ""

    def _wrong_one(self, staff: str) -> str:
        self._wrong[staff] = self._wrong.get(staff, 0) + 1
        over = self._wrong[staff] - FREE_TRIES
        if over >= 0:
            wait_s = min(FIRST_WAIT_S * 2.0**over, LONGEST_WAIT_S)
            self._again_at_s[staff] = self._clock() + wait_s
            return f"That is not the PIN of {staff}. Wait {wait_s:.0f} s before the next try."
        return f"That is not the PIN of {staff}."
