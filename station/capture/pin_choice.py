"""Who may choose a PIN at a screen: the first of all; then for a new name only beside a colleague who has one.

The colleague signs in with the own PIN, then the new name is picked: so they vouch that it is the right person. An
own PIN is changed by whoever has just typed it. Left alone for a while, a screen forgets who stood there.
"""

from __future__ import annotations

from collections.abc import Callable, Collection

LAPSES_AFTER_S = 300.0
NOT_VOUCHED = "A colleague with a PIN signs in first, then picks this name: then choose a PIN."
TYPE_AGAIN = "Sign in with your PIN again, then choose another."


class PinChoice:
    """Follows who stands at one screen.

    Args:
        clock: seconds, of whatever clock the screen goes by.
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self.name: str | None = None
        self._with_pin = self._vouched = False
        self._here_s = clock()

    def pick(self, name: str | None) -> None:
        """Somebody picks a name; a colleague who stands here with a PIN vouches for it."""
        if name != self.name or self.lapsed:
            self._vouched = self.open
        self.name, self._with_pin = name, False
        self._here_s = self._clock()

    def opened(self) -> None:
        """The one picked has typed the right PIN, or has chosen one."""
        self._with_pin, self._vouched = True, False

    def touched(self) -> None:
        """Somebody is here; too late once everybody has left."""
        if not self.lapsed:
            self._here_s = self._clock()

    @property
    def lapsed(self) -> bool:
        """Whether nobody was here for five minutes; a clock set back keeps nobody signed in."""
        return abs(self._clock() - self._here_s) >= LAPSES_AFTER_S

    @property
    def open(self) -> bool:
        """Whether somebody stands here who has typed the own PIN."""
        return self._with_pin and not self.lapsed

    def refused(self, name: str, with_pins: Collection[str]) -> str:
        """Why no PIN can be chosen for this name now, as a sentence; "" if one can.

        Args:
            with_pins: who has a PIN on this machine.
        """
        mine = name == self.name and not self.lapsed
        if not with_pins or (mine and (self._with_pin if name in with_pins else self._vouched or self.open)):
            return ""
        return TYPE_AGAIN if name in with_pins else NOT_VOUCHED
