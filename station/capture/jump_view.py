"""What the jump line's screen paints: one frozen picture, and what people can do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from station.capture.rack_view import SensorLine, TroubleLine
from station.squad.jumps import JumpTrial


class Turn(StrEnum):
    """Where an athlete of the line stands."""

    WAITING = "waiting"
    WEARING = "puts the belt on"
    JUMPING = "jumps"
    DONE = "done"


@dataclass(frozen=True, slots=True)
class JumperTile:
    """One athlete of the line.

    Attributes:
        belt: number of the belt, from 1; None without one.
        mean_m: of the valid trials so far, m.
    """

    athlete_id: str
    name: str
    shirt_number: int | None
    turn: Turn
    belt: int | None = None
    mean_m: float | None = None


@dataclass(frozen=True, slots=True)
class UsualJump:
    """The usual range of a day's mean on a day like today, m; `low` is None with too little history."""

    days: int
    low_m: float | None
    mid_m: float | None
    high_m: float | None


@dataclass(frozen=True, slots=True)
class JumpLineView:
    """Everything the jump line shows.

    Attributes:
        current: whose jump was measured last, or who is up.
        trials: of the current athlete today, in order.
        wanted: valid trials that make a turn.
        again: why the last trial does not count, in words for the athlete; "" when it does.
        day_kind: what kind of day it is for the current athlete, "MD+2".
        sensors: a line for each belt.
    """

    queue: tuple[JumperTile, ...]
    current: JumperTile | None
    trials: tuple[JumpTrial, ...]
    wanted: int
    mean_m: float | None
    best_m: float | None
    usual: UsualJump | None
    day_kind: str
    again: str
    sensors: tuple[SensorLine, ...]
    troubles: tuple[TroubleLine, ...] = ()
    proposed_today: bool = False
    data_note: str = ""

    @property
    def verdict(self) -> str:
        """Where the mean of the trials lies, in words."""
        if self.mean_m is None:
            return ""
        usual = self.usual
        if usual is None or usual.low_m is None or usual.high_m is None:
            days = usual.days if usual is not None else 0
            return f"too little history: {days} like today"
        if self.mean_m < usual.low_m:
            return "lower than usual"
        return "higher than usual" if self.mean_m > usual.high_m else "as usual"


class JumpActions(Protocol):
    """What people at the jump line can do. None is needed between jumps."""

    def jumps_now(self, athlete_id: str) -> None:
        """This athlete wears the belt that is up."""

    def later(self) -> None:
        """The athlete who is up goes to the end of the line."""

    def strike_last(self) -> None:
        """The last trial does not count."""

    def undo(self) -> None:
        """Take the last of these back."""
