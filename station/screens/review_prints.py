"""What the review prints as PDF: the session of a set, of everybody or one athlete, and the season that is shown."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from station.capture.review_log import LogLine
from station.capture.session_sheet import SessionSheet
from station.screens.a4_pdf import PrintFailed
from station.screens.season_print import print_season
from station.screens.session_print import print_session

if TYPE_CHECKING:
    from station.screens.review_window import ReviewWindow

FOLDER = "prints"


class ReviewPrints:
    """Of one window; files lie in a folder beside its record."""

    def __init__(self, window: ReviewWindow) -> None:
        self._window = window

    def session(self, line: LogLine, *, alone: bool) -> None:
        """The day of this set.

        Args:
            alone: of the set's athlete alone; else of everybody.
        """
        window, unit = self._window, self._window.unit
        whose = line.athlete_id if alone else None
        name = f"-{whose}" if whose is not None else ""
        file = self._folder() / f"session-{line.day}{name}.pdf"
        window.head.say("Printing the session.")

        def drawn(sheet: SessionSheet) -> None:
            self._write(lambda: print_session(sheet, file, window.now(), unit))

        window.office.seasons.ask(lambda seasons: seasons.sheet(line.day, whose), drawn, window.acts.failed)

    def season(self) -> None:
        """The season that is shown."""
        season = self._window.athlete.season
        if season is None:
            return
        lift = season.lift.replace(" ", "-")
        file = self._folder() / f"season-{season.last}-{season.athlete_id}-{lift}.pdf"
        self._write(lambda: print_season(season, file, self._window.now(), self._window.unit))

    def _folder(self) -> Path:
        return self._window.folder / FOLDER

    def _write(self, write: Callable[[], Path]) -> None:
        try:
            words = f"Printed to {write()}"
        except PrintFailed as error:
            words = str(error)
        self._window.head.say(words)
