"""What a review screen opens: a set, its raw samples, old beside new, an athlete's season, each in its own time."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from station.capture.athlete_season import AthleteSeason
from station.capture.review_beside import OldBesideNew
from station.capture.review_set import SetReview, fetch_raw, look_at_raw
from station.capture.see_again import SeenAgain

if TYPE_CHECKING:
    from station.screens.review_window import ReviewWindow


class ReviewReading:
    """Of one window.

    Attributes:
        set_id: the set that is open, or "".
    """

    def __init__(self, window: ReviewWindow) -> None:
        self._window = window
        self.set_id = ""

    # -- one set ---------------------------------------------------------------------------------------------------

    def open_set(self, set_id: str) -> None:
        """Show this set, then its raw samples."""
        self.set_id = set_id
        self.read_set(self._show_opened)

    def read_set(self, then: Callable[[SetReview], None] | None = None) -> None:
        """The open set as the record has it now."""
        window, set_id, unit = self._window, self.set_id, self._window.unit

        def show(review: SetReview) -> None:
            if set_id == self.set_id:
                window.set.show_set(review, unit)
                if then is not None:
                    then(review)

        window.office.reader.ask(lambda reader: reader.sets.open(set_id, unit), show, window.acts.failed)

    def _show_opened(self, review: SetReview) -> None:
        self._window.show_page(self._window.set)
        self._window.set.reps.setFocus()
        if review.raw.kept is not None:
            self._show_raw(review)
        elif review.raw.elsewhere:
            self._fetch_raw(review)

    def _show_raw(self, review: SetReview) -> None:
        def show(seen: SeenAgain) -> None:
            if self.set_id == review.line.set_id:
                self._window.set.show_raw(seen)

        office = self._window.office
        office.aside.ask(lambda _nothing: look_at_raw(review.raw), show, self._window.acts.failed)

    def _fetch_raw(self, review: SetReview) -> None:
        """Out of the shared database, while the set can be looked at."""

        def fetched(why_not: str) -> None:
            if self.set_id != review.line.set_id:
                return
            if why_not:
                self._window.set.show_raw(SeenAgain((), trouble=why_not))
            else:
                self.read_set(self._came)

        office, folder = self._window.office, self._window.folder
        office.aside.ask(lambda _nothing: fetch_raw(folder, review), fetched, self._window.acts.failed)

    def _came(self, review: SetReview) -> None:
        if review.raw.kept is not None:
            self._show_raw(review)

    # -- old beside new --------------------------------------------------------------------------------------------

    def measure_again(self) -> None:
        """The open set through today's engine, shown beside what was measured."""
        window, review = self._window, self._window.set.review
        if review is None:
            return
        window.head.say("Measuring again with today's engine.")

        def beside(seen: SeenAgain) -> None:
            window.office.reader.ask(
                lambda reader: reader.sets.beside(review.line.set_id, seen),
                self._show_beside,
                window.acts.failed,
            )

        window.office.aside.ask(lambda _nothing: look_at_raw(review.raw), beside, window.acts.failed)

    def _show_beside(self, beside: OldBesideNew) -> None:
        if beside.set_id == self.set_id:
            self._window.head.say("")
            self._window.show_page(self._window.compare)
            self._window.compare.show_beside(beside)

    # -- one athlete -----------------------------------------------------------------------------------------------

    def open_athlete(self, athlete_id: str, lift: str | None = None) -> None:
        """Show this athlete's season."""
        window, unit = self._window, self._window.unit
        window.head.say("Reading the season.")

        def show(season: AthleteSeason) -> None:
            window.head.say("")
            window.athlete.show_season(season, unit)
            if window.pages.currentWidget() is not window.athlete:
                window.show_page(window.athlete)
                window.athlete.lift.setFocus()

        window.office.seasons.ask(
            lambda seasons: seasons.athletes.season(athlete_id, lift), show, window.acts.failed
        )
