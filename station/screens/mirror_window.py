"""The screen above the rack: the athlete's part alone, nothing to touch."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Slot
from PySide6.QtGui import QColor, QPainter, QPalette, QResizeEvent
from PySide6.QtWidgets import QWidget

from station.capture.rack_view import RackView
from station.screens.lettering import Align, Letterer
from station.screens.now_pane import NowPane
from station.screens.painted import Painted
from station.screens.theme import PALETTES, Look, Metrics, ScreenGeometry, TextSize, ThemeName
from station.screens.warmup_history import WarmupHistory

LEFT_SHARE = 0.69
HISTORY_SHARE = 0.62


class DataNote(Painted):
    """What kind of data this is, such as "demo data"."""

    _words = ""

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        self._words = view.data_note
        self.setAccessibleName(self._words)
        self.update()

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """One line at the right."""
        if self._words:
            letter.line(QRectF(self.rect()), self._words, TextSize.COACH, align=Align.RIGHT, strong=True)


class MirrorWindow(QWidget):
    """Shows the same views as the rack's own screen.

    Args:
        theme: "dark" or "light".
        screen: the mirror's resolution and diagonal.
    """

    def __init__(self, theme: ThemeName, screen: ScreenGeometry) -> None:
        super().__init__()
        self.look = Look(PALETTES[theme], Metrics.for_mirror(screen))
        self.now = NowPane(self.look, self)
        self.history = WarmupHistory(self.look, self)
        self.note = DataNote(self.look, self)
        self.setWindowTitle("Bar-speed station: mirror")
        self._paint_ground()
        self.resize(screen.width_px, screen.height_px)

    @Slot(object)
    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        for part in (self.now, self.history, self.note):
            part.show_view(view)

    def set_theme(self, theme: ThemeName) -> None:
        """Dark or light."""
        self.look = Look(PALETTES[theme], self.look.metrics)
        for part in (self.now, self.history, self.note):
            part.set_look(self.look)
        self._paint_ground()

    def _paint_ground(self) -> None:
        palette = self.palette()
        palette.setColor(QPalette.ColorRole.Window, QColor(self.look.palette.ground))
        self.setPalette(palette)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Number at the left, history at the right, the note in the corner."""
        metrics = self.look.metrics
        pad = 2 * metrics.gap
        width, height = self.width() - 2 * pad, self.height() - 2 * pad
        split = round(width * LEFT_SHARE)
        note = metrics.line_px(TextSize.COACH)
        self.now.setGeometry(pad, pad, split - 3 * metrics.gap, height)
        self.history.setGeometry(pad + split, pad, width - split, round(height * HISTORY_SHARE))
        self.note.setGeometry(pad + split, pad + height - note, width - split, note)
