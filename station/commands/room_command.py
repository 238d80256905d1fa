"""`room`: all racks on one desk screen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from station.commands.fail import clear_failures
from station.commands.options import DataOption, DiagonalOption, FullScreenOption, ThemeOption

if TYPE_CHECKING:
    from PySide6.QtWidgets import QWidget

    from station.commands.rack_program import Look
    from station.screens.theme import ScreenGeometry

ROOM = "room"


def room_command(
    data: DataOption = None,
    full_screen: FullScreenOption = False,
    theme: ThemeOption = "light",
    diagonal_in: DiagonalOption = 22.0,
) -> None:
    """Open the room: a line a rack, with athlete, load, last speed, today, what waits for a decision, trouble.

    Before a session it is the check round: sensor seen, battery good for two hours, days since calibration, still
    check passed, and which sensors are on the charger. A suggestion can be decided from here; the rack takes it over
    between sets, and the decision bears the name of whoever is signed in. It hears the racks of this machine, and
    through the shared database those of all others; one that is silent for ten seconds is said.
    """
    from station.commands.rack_program import Look

    with clear_failures():
        run_room(data, Look(theme, diagonal_in, full_screen))


def run_room(data: Path | None, look: Look) -> None:
    """The room until its window is closed.

    Raises:
        StoreError: its record cannot be opened.
    """
    from station.capture.chores import ExchangeChore, KeepingChore
    from station.capture.room_board import RoomBoard
    from station.capture.room_desk import RoomDesk
    from station.capture.threads import ChoreThread
    from station.commands.folders import data_folder
    from station.commands.rack_command import local_now, utc_now
    from station.commands.window_program import run_window
    from station.store.erasure import catch_up
    from station.store.record import Record
    from station.store.sharing import Role

    folder = data_folder(data, ROOM)
    record, board = Record(folder, ROOM, utc_now), RoomBoard()
    try:
        desk = RoomDesk(record, local_now, board)

        def make(screen: ScreenGeometry) -> QWidget:
            from station.screens.room_window import RoomWindow

            return RoomWindow(desk, look.theme, screen)

        def erased() -> None:
            catch_up(record)
            desk.forget_names()

        running = [
            ChoreThread(ExchangeChore(folder, Role.STAFF, utc_now, board), lambda _news: desk.forget_names()),
            ChoreThread(KeepingChore(folder, local_now), lambda _news: erased()),
        ]
        try:
            run_window(make, look)
        finally:
            for one in running:
                one.stop()
    finally:
        record.close()


def register(app: typer.Typer) -> None:
    """Make the command of the app."""
    app.command("room")(room_command)
