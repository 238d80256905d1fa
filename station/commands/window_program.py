"""Runs one window beside the rack's (check-in, squad day, jump line) until it is closed or the time is over."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from station.commands.rack_program import Look, quit_on_interrupt

if TYPE_CHECKING:
    from PySide6.QtWidgets import QWidget

    from station.screens.theme import ScreenGeometry

MakeWindow = Callable[["ScreenGeometry"], "QWidget"]


def run_window(make_window: MakeWindow, look: Look) -> None:
    """Show the window and run.

    Args:
        make_window: given the screen's resolution and diagonal.
        look: with `headless_s`, ends after that time and leaves `picture`.
    """
    if look.headless_s is not None:
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtCore import QTimer

    from station.screens.opening import SMALL_BELOW_INCHES, WINDOWED_SIZE_PX, screens_application
    from station.screens.theme import ScreenGeometry

    application = screens_application()
    width, height = WINDOWED_SIZE_PX["small" if look.diagonal_in < SMALL_BELOW_INCHES else "large"]
    if look.full_screen:
        size = application.primaryScreen().size()
        width, height = size.width(), size.height()
    window = make_window(ScreenGeometry(width, height, look.diagonal_in))
    if look.full_screen:
        window.showFullScreen()
    else:
        window.show()
    if look.headless_s is not None:
        QTimer.singleShot(int(look.headless_s * 1000), application.quit)
    quit_on_interrupt(application.quit)
    application.exec()
    _leave_picture(window, look.picture)
    window.close()


def _leave_picture(window: QWidget, picture: Path | None) -> None:
    from station.screens.snapshot import save_snapshot

    if picture is not None:
        save_snapshot(window, picture)
