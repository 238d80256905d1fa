"""The board between a rack and the room: what this rack last said, and what was last heard of the others.

Written and read by several threads: each slot holds one frozen value and is put in one step.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from station.squad.room import RackReport
from station.store.rack_states import Heard

# So often a rack says that it is there, changed or not.
SAYS_EVERY_S = 3.0


@dataclass(slots=True)
class RoomBoard:
    """What is said and heard by the programs of one process.

    Attributes:
        own: how this rack stands; None: it has not said yet, or is no rack.
        clock_s: monotonic.
    """

    own: RackReport | None = None
    clock_s: Callable[[], float] = time.monotonic
    _own_made_s: float = 0.0
    _heard: tuple[tuple[Heard, ...], float] = field(default=((), 0.0))

    def say(self, report: RackReport) -> None:
        """This rack stands so, just now."""
        self._own_made_s = self.clock_s()
        self.own = report

    def hear(self, heard: list[Heard]) -> None:
        """The server tells this of all racks."""
        self._heard = (tuple(heard), self.clock_s())

    def heard(self) -> list[Heard]:
        """What the server told last, aged since."""
        found, at_s = self._heard
        since_s = self.clock_s() - at_s
        return [replace(one, age_s=one.age_s + since_s) for one in found]


class Teller:
    """Passes this rack's reports on to one listener: each change, and every so often that it is still there.

    A worker that hangs says nothing anew, and so is soon missed.
    """

    def __init__(self, board: RoomBoard, tell: Callable[[RackReport], None]) -> None:
        self._board, self._tell = board, tell
        self._told: RackReport | None = None
        self._made_s = self._told_s = -SAYS_EVERY_S

    def turn(self) -> None:
        """Tell what is to be told now."""
        report, made_s = self._board.own, self._board._own_made_s
        if report is None or made_s == self._made_s:
            return
        now_s = self._board.clock_s()
        if report != self._told or now_s - self._told_s >= SAYS_EVERY_S:
            self._tell(report)
            self._told, self._told_s = report, now_s
        self._made_s = made_s
