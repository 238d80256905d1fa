"""What is known of each athlete on a day, as values: readings, reasons, the places of the list."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import IntEnum

from station.readiness.squad_rules import Measure
from station.squad.calendar import AfterMatch
from station.squad.checkins import CheckIn
from station.squad.entries import EntryEvent, closed_reasons
from station.squad.roster import RosterLine


class Place(IntEnum):
    """Where an athlete stands on the list, in its order."""

    TALK_FIRST = 0
    LOOK_AT = 1
    AS_USUAL = 2
    DUE_LATER = 3
    NOT_SEEN = 4

    def in_words(self) -> str:
        """The heading."""
        return ("talk first", "look at", "as usual", "due later today", "not seen")[self]


@dataclass(frozen=True, slots=True)
class Reading:
    """One measure's latest value in its own usual range.

    Attributes:
        low, mid, high: the usual range (80 %) and its middle; None without any history.
        chance_below: of a value this low or lower when nothing has changed; None with too little history.
        z: distance from the middle in SDs of the next value, where known.
        words: value and range in words.
    """

    measure: Measure
    day: date
    value: float
    low: float | None
    mid: float | None
    high: float | None
    chance_below: float | None
    z: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Reason:
    """Why an athlete stands where they stand.

    Attributes:
        key: names the reason across the day, so that what is new can be told from what was closed.
        health: from a check-in: not for the coaches' copy.
        medical: detail for medical staff alone.
    """

    key: str
    words: str
    health: bool = False
    medical: str = ""


@dataclass(frozen=True, slots=True)
class AthleteDay:
    """All that is known of one athlete today.

    Attributes:
        readings: the newest of each measure, of whatever day.
        check_in: today's.
        unwell: check-ins of the last days in which pain or illness was said, oldest first.
        due: measures that this athlete is expected to do today.
        after: today, as seen from the last match.
        judged: today's measures are judged (not on the day after a match).
        events: what staff did about the athlete's entries.
    """

    line: RosterLine
    readings: tuple[Reading, ...] = ()
    check_in: CheckIn | None = None
    unwell: tuple[CheckIn, ...] = ()
    due: frozenset[Measure] = frozenset()
    after: AfterMatch = AfterMatch(None)  # noqa: RUF009 - a frozen value
    judged: bool = True
    events: tuple[EntryEvent, ...] = ()

    @property
    def open_unwell(self) -> bool:
        """Pain or illness was said and nobody has closed it."""
        said = {key for one in self.unwell for key in one.unwell_keys}
        return bool(said - closed_reasons(self.events))
