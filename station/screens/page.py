"""The base of the windows beside the rack's: theme, ground, and the keys that every screen has."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtGui import QColor, QPalette, QShortcut
from PySide6.QtWidgets import QWidget

from station.screens.painted import Painted
from station.screens.theme import PALETTES, SMALL_SCREEN, Look, Metrics, ScreenGeometry, ThemeName


class PageWindow(QWidget):
    """A window on the theme's ground; F11 changes the frame.

    Args:
        theme: "dark" or "light".
        screen: resolution and diagonal; all sizes follow from it.
    """

    def __init__(self, theme: ThemeName, screen: ScreenGeometry) -> None:
        super().__init__()
        self.look = Look(
            PALETTES[theme], Metrics(screen, SMALL_SCREEN)
        )  # read at arm's length, whatever its size
        self._paint_ground()
        self.resize(screen.width_px, screen.height_px)
        QShortcut("F11", self).activated.connect(self.toggle_full_screen)

    def toggle_full_screen(self) -> None:
        """With or without window frame."""
        if self.isFullScreen():
            self.showNormal()
        else:
            self.showFullScreen()

    def _paint_ground(self) -> None:
        palette = self.palette()
        palette.setColor(QPalette.ColorRole.Window, QColor(self.look.palette.ground))
        self.setPalette(palette)
        self.setAutoFillBackground(True)


def in_a_row(
    widgets: Sequence[QWidget], left: int, top: int, width: int, height: int, gap: int, last: float = 1.0
) -> None:
    """Share a row out, px: equal parts, the last one `last` times as wide."""
    share = (width + gap) / max(len(widgets) - 1 + last, 1.0)
    for n, widget in enumerate(widgets):
        wide = share * last if n == len(widgets) - 1 else share
        widget.setGeometry(round(left + n * share), top, round(wide) - gap, height)


class Cover(Painted):
    """An empty sheet over another widget: what must not be seen on a mirrored display."""

    def __init__(self, look: Look, over: QWidget) -> None:
        super().__init__(look, over)
        self.setAccessibleName("blank while somebody answers")
        self.setGeometry(over.rect())
        self.show()
        self.raise_()
