"""What a review screen works with: a thread each that writes, reads, reads whole seasons, measures again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from station.capture.review_athlete import ReviewAthletes
from station.capture.review_desk import ReviewDesk
from station.capture.review_log import ReviewLog
from station.capture.review_set import ReviewSets
from station.capture.session_sheet import SessionSheet, session_sheet
from station.capture.squad_prior import SquadPriors
from station.capture.threads import Errands
from station.store.record import Record


@dataclass(frozen=True, slots=True)
class ReviewReader:
    """What is read at once."""

    log: ReviewLog
    sets: ReviewSets


class SeasonReader:
    """What takes longer, since the whole squad is looked at: seasons, and sessions as they are printed.

    Args:
        today: the local day.
    """

    def __init__(self, record: Record, today: Callable[[], date]) -> None:
        self._record, self._priors = record, SquadPriors()
        self.athletes = ReviewAthletes(record, today)

    def sheet(self, day: date, athlete_id: str | None) -> SessionSheet:
        """A day's training as it is printed, of one athlete or of everybody."""
        return session_sheet(self._record, day, athlete_id, self._priors)


class ReviewOffice:
    """The errands of one review screen.

    Args:
        record: the desk's own.
        now: local date and time.
        wake: called in a thread when answers wait for `drain`; must only post.
    """

    def __init__(self, record: Record, now: Callable[[], datetime], wake: Callable[[], None]) -> None:
        def today() -> date:
            return now().date()

        self.desk = Errands(ReviewDesk(record, now), wake)
        self.reader = Errands(ReviewReader(ReviewLog(record, today), ReviewSets(record, today)), wake)
        self.seasons = Errands(SeasonReader(record, today), wake)
        self.aside: Errands[None] = Errands(None, wake)

    def drain(self) -> None:
        """On the screen's thread: hand out the answers that have come."""
        for one in (self.desk, self.reader, self.seasons, self.aside):
            one.drain()

    def stop(self) -> None:
        """Answer what is queued, and end."""
        for one in (self.desk, self.reader, self.seasons, self.aside):
            one.stop()
