"""What the command `today` does: the desk's record, the squad day, and the roster beside it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from station.capture.squad_desk import SquadDesk
from station.commands.folders import data_folder
from station.commands.rack_command import utc_now
from station.commands.rack_program import Look
from station.commands.window_program import run_window
from station.store.record import Record

if TYPE_CHECKING:
    from PySide6.QtWidgets import QWidget

    from station.screens.theme import ScreenGeometry

DESK = "desk"


def local_now() -> datetime:
    """Local date and time."""
    return datetime.now()  # noqa: DTZ005 - the day and the hour on the wall


def run_today(data: Path | None, look: Look) -> None:
    """The squad day until its window is closed.

    Raises:
        StoreError: the record cannot be opened.
    """
    folder = data_folder(data, DESK)
    record = Record(folder, DESK, utc_now)
    try:

        def make(screen: ScreenGeometry) -> QWidget:
            from station.screens.squad_day_window import SquadDayWindow

            return SquadDayWindow(SquadDesk(record, local_now), look.theme, screen, folder / "prints")

        run_window(make, look)
    finally:
        record.close()
