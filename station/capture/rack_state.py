"""What changes at a rack: whose turn it is, lift and load, the open set, the sensor."""

from __future__ import annotations

from dataclasses import dataclass

from station.capture.lineup import LineUp
from station.capture.link_news import WAITING
from station.capture.rack_view import SensorLine
from station.readiness.results import PlatesPerSide


@dataclass(frozen=True, slots=True)
class OpenSet:
    """The set on the bar, or the last one until another begins."""

    set_id: str
    athlete_id: str | None
    is_open: bool
    reps: int = 0


@dataclass(slots=True)
class RackState:
    """Everything that changes at a rack.

    Attributes:
        on_bar: the plates that hung on each side during the last set; None when nobody knows.
        pin_words: why the last sign-in failed, or "".
        can_undo: there is something to take back.
    """

    lineup: LineUp
    lift: str
    load_kg: float
    set: OpenSet | None = None
    staff: str | None = None
    sensor: SensorLine = WAITING
    on_bar: PlatesPerSide | None = None
    pin_words: str = ""
    can_undo: bool = False
