"""How a program opens the rack screen: application and typeface first, then the window."""

from __future__ import annotations

import sys

from PySide6.QtWidgets import QApplication

from station.capture.rack_view import RackActions
from station.screens.garbage import CollectHere
from station.screens.mirror_window import MirrorWindow
from station.screens.rack_window import RackWindow
from station.screens.theme import ScreenGeometry, ThemeName
from station.screens.typeface import load_typeface

WINDOWED_SIZE_PX = {"small": (1280, 800), "large": (1920, 1080)}
SMALL_BELOW_INCHES = 13.0


def screens_application() -> QApplication:
    """The one QApplication, made on first use, with the shipped typeface loaded; its thread collects garbage."""
    running = QApplication.instance()
    application = running if isinstance(running, QApplication) else QApplication(sys.argv[:1])
    if application.findChild(CollectHere) is None:
        CollectHere(application)
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


def make_mirror_window(
    window: RackWindow, *, diagonal_in: float = 32.0, full_screen: bool = False
) -> MirrorWindow:
    """Make the mirror of a rack window: the same views and theme, the athlete's part alone. Closes with the window.

    Args:
        window: the rack's own screen.
        diagonal_in: diagonal of the mirror, inches.
        full_screen: fill the second screen (the only one, if there is no second).
    """
    application = screens_application()
    width, height = WINDOWED_SIZE_PX["large"]
    screens = application.screens()
    second = screens[1] if len(screens) > 1 else screens[0]
    if full_screen:
        width, height = second.size().width(), second.size().height()
    mirror = MirrorWindow(window.look.palette.name, ScreenGeometry(width, height, diagonal_in))
    window.attach_mirror(mirror)
    if full_screen:
        mirror.setGeometry(second.geometry())
        mirror.showFullScreen()
    return mirror
