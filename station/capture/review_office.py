"""What a review screen works with: one thread that writes, one that reads, one that measures again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from station.capture.review_athlete import ReviewAthletes
from station.capture.review_desk import ReviewDesk
from station.capture.review_log import ReviewLog
from station.capture.review_set import ReviewSets
from station.capture.threads import Errands
from station.store.record import Record


@dataclass(frozen=True, slots=True)
class ReviewReader:
    """Everything that is read."""

    log: ReviewLog
    sets: ReviewSets
    athletes: ReviewAthletes


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
        reader = ReviewReader(
            ReviewLog(record, today), ReviewSets(record, today), ReviewAthletes(record, today)
        )
        self.reader = Errands(reader, wake)
        self.aside: Errands[None] = Errands(None, wake)

    def drain(self) -> None:
        """On the screen's thread: hand out the answers that have come."""
        for one in (self.desk, self.reader, self.aside):
            one.drain()

    def stop(self) -> None:
        """Answer what is queued, and end."""
        for one in (self.desk, self.reader, self.aside):
            one.stop()
