"""The check-in on a rack's own screen: what is kept goes through the capture worker, which owns the record."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Protocol, TypeVar

from station.capture.checkin import RecordBook
from station.capture.rack import Rack
from station.squad.athletes import Athlete
from station.squad.checkins import CheckIn

R = TypeVar("R")


class Ask(Protocol):
    """Asks the worker and waits for its answer."""

    def __call__(self, question: Callable[[Rack], R]) -> R:
        """What the worker answers."""


class WorkerBook:
    """A `CheckInBook` on the record of a running rack.

    Args:
        ask: from the rack's threads.
    """

    def __init__(self, ask: Ask) -> None:
        self._ask = ask

    def people(self) -> Sequence[Athlete]:
        """Who can check in, by name."""
        return self._ask(lambda rack: RecordBook(rack.record).people())

    def badges(self) -> Mapping[str, str]:
        """Whose badge each code is: code -> athlete."""
        return self._ask(lambda rack: RecordBook(rack.record).badges())

    def done(self, day: date) -> set[str]:
        """Who has been here today."""
        return self._ask(lambda rack: RecordBook(rack.record).done(day))

    def consent(self, athlete_id: str) -> bool | None:
        """The athlete's word about answering; None when never asked."""
        return self._ask(lambda rack: RecordBook(rack.record).consent(athlete_id))

    def give_consent(self, athlete_id: str, *, given: bool) -> None:
        """Keep the athlete's word."""
        self._ask(lambda rack: RecordBook(rack.record).give_consent(athlete_id, given=given))

    def add(self, one: CheckIn) -> None:
        """Keep a check-in; a rack that stands open learns of a hold with its next picture."""
        self._ask(lambda rack: _add(rack, one))


def _add(rack: Rack, one: CheckIn) -> None:
    RecordBook(rack.record).add(one)
    rack.session.everything_changed()
    rack.publish()
