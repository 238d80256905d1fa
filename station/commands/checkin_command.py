"""What the command `checkin` does: its own record, the roster of this machine's other records, one window."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from station.capture.checkin import RecordBook
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

OTHERS_EVERY_MS = 3000


def run_check_in(name: str, data: Path | None, look: Look) -> None:
    """The check-in screen until its window is closed.

    Raises:
        StoreError: the record cannot be opened.
    """
    record = Record(data_folder(data, name), name, utc_now)
    try:
        book = RecordBook(record)

        def make(screen: ScreenGeometry) -> QWidget:
            from PySide6.QtCore import QTimer

            from station.screens.kiosk_window import KioskWindow

            window = KioskWindow(book, look.theme, screen)
            others = QTimer(window, interval=OTHERS_EVERY_MS)
            others.timeout.connect(lambda: window.look_again(book.refresh))
            others.start()
            return window

        with chores_beside(record.database.folder, Role.RACK, lambda: catch_up(record)):
            run_window(make, look)
    finally:
        record.close()
