"""How a program opens the rack screen: application and typeface first, then the window."""

from __future__ import annotations

import sys

from PySide6.QtWidgets import QApplication

from station.capture.rack_view import RackActions
from station.screens.rack_window import RackWindow
from station.screens.theme import ScreenGeometry, ThemeName
from station.screens.typeface import load_typeface

WINDOWED_SIZE_PX = {"small": (1280, 800), "large": (1920, 1080)}
SMALL_BELOW_INCHES = 13.0


def screens_application() -> QApplication:
    """The one QApplication, made on first use, with the shipped typeface loaded."""
    running = QApplication.instance()
    application = running if isinstance(running, QApplication) else QApplication(sys.argv[:1])
    load_typeface()
    return application


def make_rack_window(
    actions: RackActions,
    *,
    theme_name: ThemeName = "dark",
    diagonal_in: float = 10.0,
    full_screen: bool = False,
) -> RackWindow:
    """Make the rack window, not yet shown when windowed.

    Args:
        actions: carries out what people touch.
        theme_name: "dark" or "light".
        diagonal_in: diagonal of the screen it will stand on, inches; all sizes follow from it.
        full_screen: fill the screen without a frame; sizes are then computed from that screen's own resolution.
    """
    application = screens_application()
    if full_screen:
        size = application.primaryScreen().size()
        width, height = size.width(), size.height()
    else:
        width, height = WINDOWED_SIZE_PX["small" if diagonal_in < SMALL_BELOW_INCHES else "large"]
    window = RackWindow(actions, theme_name, ScreenGeometry(width, height, diagonal_in))
    if full_screen:
        window.showFullScreen()
    return window
