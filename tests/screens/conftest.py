"""Windows for the screen tests: closed and deleted after each, so that none is left behind."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from station.capture.rack_view import RackView
from station.screens.mirror_window import MirrorWindow
from station.screens.rack_window import RackWindow
from station.screens.theme import ScreenGeometry, ThemeName
from station.screens.typeface import load_typeface
from tests.screens.recording import RecordingActions

SMALL = ScreenGeometry(1280, 800, 10.0)
LARGE = ScreenGeometry(1920, 1080, 15.0)
MIRROR = ScreenGeometry(1920, 1080, 32.0)
ShowRack = Callable[..., RackWindow]
ShowMirror = Callable[[RackView], MirrorWindow]


@pytest.fixture
def actions() -> RecordingActions:
    return RecordingActions()


@pytest.fixture(autouse=True)
def no_window_left(qapp: QApplication) -> Iterator[None]:
    load_typeface()
    yield
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    left = [type(w).__name__ for w in QApplication.topLevelWidgets() if not w.isHidden()]
    assert left == []


@pytest.fixture
def on_screen(qtbot: QtBot) -> Iterator[Callable[[QWidget], None]]:
    """Show a window and wait until it takes keys; close and delete it at the end."""
    shown: list[QWidget] = []

    def show(window: QWidget) -> None:
        shown.append(window)
        with qtbot.waitActive(window):
            window.show()
            window.activateWindow()

    yield show
    for window in shown:
        window.close()
        window.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


@pytest.fixture
def show_rack(actions: RecordingActions, on_screen: Callable[[QWidget], None]) -> ShowRack:
    def show(view: RackView, screen: ScreenGeometry = SMALL, theme: ThemeName = "dark") -> RackWindow:
        window = RackWindow(actions, theme, screen)
        window.show_view(view)
        on_screen(window)
        return window

    return show


@pytest.fixture
def show_mirror(on_screen: Callable[[QWidget], None]) -> ShowMirror:
    def show(view: RackView) -> MirrorWindow:
        mirror = MirrorWindow("dark", MIRROR)
        mirror.show_view(view)
        on_screen(mirror)
        return mirror

    return show
