"""What the command `today` does: the desk's record, the squad day, and the roster beside it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from station.capture.history_desk import HistoryDesk
from station.capture.room_board import RoomBoard
from station.capture.room_desk import RoomDesk
from station.capture.roster_desk import RosterDesk
from station.capture.squad_desk import SquadDesk
from station.commands.beside import chores_beside
from station.commands.folders import data_folder
from station.commands.rack_command import utc_now
from station.commands.rack_program import Look
from station.commands.window_program import run_window
from station.store.erasure import catch_up
from station.store.record import Record
from station.store.sharing import Role

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
    board = RoomBoard()
    room = RoomDesk(record, lambda: local_now().astimezone(), board)
    try:

        def make(screen: ScreenGeometry) -> QWidget:
            from station.screens.import_window import ImportWindow
            from station.screens.room_window import RoomWindow
            from station.screens.roster_window import RosterWindow
            from station.screens.squad_day_window import SquadDayWindow
            from station.screens.squad_wording import unwell_words

            desk = SquadDesk(record, local_now)
            window = SquadDayWindow(desk, look.theme, screen, folder / "prints")
            opened: dict[str, QWidget] = {}  # held here: a window that nobody holds closes

            def unwell() -> str:
                return unwell_words(window.day.list)

            def open_roster() -> None:
                tables = RosterDesk(record, lambda: local_now().date())
                roster = RosterWindow(tables, look.theme, screen, desk.staff or "", unwell)
                roster.history_wanted.connect(open_history)
                opened["roster"] = roster
                roster.show()

            def open_history() -> None:
                history = HistoryDesk(record, lambda: local_now().astimezone())
                opened["history"] = ImportWindow(history, look.theme, screen, desk.staff or "", unwell)
                opened["history"].show()

            def open_room() -> None:
                room.forget_names()
                opened["room"] = RoomWindow(room, look.theme, screen)
                opened["room"].show()

            window.roster_wanted.connect(open_roster)
            window.room_wanted.connect(open_room)
            return window

        with chores_beside(
            record.database.folder,
            Role.STAFF,
            lambda: catch_up(record),
            raw=True,
            board=board,
            told=room.forget_names,
        ):
            run_window(make, look)
    finally:
        record.close()
