"""PINs of staff: hashed with Argon2 (RFC 9106), and each wrong one makes the next try wait longer.

Two clocks measure a wait: of the time that either says has passed, the longer counts. The wall clock goes on while
the station is shut; set back, it locks nobody out for longer, since the other one goes on meanwhile.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from math import ceil

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from station.capture.wrong_pins import Tries, WrongPins, tries_key

LEAST_DIGITS = 4
FIRST_WAIT_S, LONGEST_WAIT_S = 2.0, 60.0
_MOST_DOUBLINGS = 10


class PinGate:
    """Lets a person in with the right PIN.

    Args:
        clock: monotonic seconds.
        wrong: counts for the machine; None: for this gate alone.
        wall: seconds since 1970.
    """

    def __init__(
        self,
        clock: Callable[[], float],
        wrong: WrongPins | None = None,
        wall: Callable[[], float] = time.time,
    ) -> None:
        self._clock, self._wall = clock, wall
        self._hasher = PasswordHasher()
        self._wrong = wrong or WrongPins()
        self._seen: dict[str, tuple[Tries, float]] = {}
        for key, tries in self._wrong.all().items():
            self._since_s(key, tries)

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
        key = tries_key(staff, pin_hash)
        tries = self._wrong.all().get(key)
        left_s = self._left_s(key, tries) if tries is not None else 0.0
        if left_s > 0:
            return f"Wait {ceil(left_s)} s, then type the PIN again."
        try:
            self._hasher.verify(pin_hash, pin)
        except (VerificationError, InvalidHashError):
            return self._wrong_one(staff, key, tries)
        if tries is not None:
            self._wrong.put(key, None)
        return ""

    def _left_s(self, key: str, tries: Tries) -> float:
        passed_s = max(self._wall() - tries.at_s, self._clock() - self._since_s(key, tries))
        return _wait_s(tries.wrong) - passed_s

    def _since_s(self, key: str, tries: Tries) -> float:
        """When this gate first knew of these tries, by the clock that nobody sets."""
        known = self._seen.get(key)
        if known is None or known[0] != tries:
            known = self._seen[key] = (tries, self._clock())
        return known[1]

    def _wrong_one(self, staff: str, key: str, before: Tries | None) -> str:
        tries = Tries(1 + (before.wrong if before is not None else 0), self._wall())
        self._wrong.put(key, tries)
        self._since_s(key, tries)
        return f"That is not the PIN of {staff}. Wait {_wait_s(tries.wrong):.0f} s before the next try."


def _wait_s(wrong: int) -> float:
    """How long the next try waits after so many wrong ones in a row."""
    return min(FIRST_WAIT_S * 2.0 ** min(wrong - 1, _MOST_DOUBLINGS), LONGEST_WAIT_S)
