"""`review`: the session log of all records of this machine, at the desk."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from station.commands.fail import clear_failures
from station.commands.options import DataOption, DiagonalOption, FullScreenOption, ThemeOption

if TYPE_CHECKING:
    from station.commands.rack_program import Look

NAME = "review"


def run_review(data: Path | None, look: Look) -> None:
    """The review desk until its window is closed.

    Raises:
        StoreError: the record cannot be opened.
    """
    from station.commands.beside import chores_beside
    from station.commands.folders import data_folder
    from station.commands.rack_command import utc_now
    from station.commands.today_command import local_now
    from station.commands.window_program import run_window
    from station.store.record import Record
    from station.store.sharing import Role

    record = Record(data_folder(data, NAME), NAME, utc_now)
    try:
        from station.screens.review_window import ReviewWindow

        with chores_beside(record.database.folder, Role.STAFF):
            run_window(lambda screen: ReviewWindow(record, local_now, look.theme, screen), look)
    finally:
        record.close()


def review_command(
    data: DataOption = None,
    full_screen: FullScreenOption = False,
    theme: ThemeOption = "light",
    diagonal_in: DiagonalOption = 22.0,
) -> None:
    """Open the review desk: every set of every rack, newest first, to be looked into and put right.

    Find sets by day, athlete, lift, rack or a search; open one for its reps, velocity curves, raw samples and link.
    Strike and restore reps; move sets to another athlete, name the lift, change the load, comment, also for many
    at once. Measure a set again with today's engine and see old beside new before accepting. What was measured
    is never edited: every correction is a record with who, when and why, and Undo takes back whatever was done last.
    """
    from station.commands.rack_program import Look

    with clear_failures():
        run_review(data, Look(theme, diagonal_in, full_screen))


def register(app: typer.Typer) -> None:
    """Make the command of the app."""
    app.command("review")(review_command)
