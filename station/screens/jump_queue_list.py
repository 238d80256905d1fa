"""The line of athletes beside the number: who jumps, who puts a belt on, who comes next, who is done."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QWidget

from station.capture.jump_view import JumperTile, JumpLineView, Turn
from station.screens.jump_panes import cm
from station.screens.lettering import Letterer
from station.screens.painted import Painted, plate
from station.screens.theme import Look, TextSize


class JumperButton(QAbstractButton):
    """One athlete of the line; the one who jumps is filled."""

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self.look = look
        self.tile: JumperTile | None = None

    def show_tile(self, tile: JumperTile) -> None:
        """Paint this athlete."""
        self.tile = tile
        self.setAccessibleName(f"{tile.name}, {self.words()}")
        self.update()

    def words(self) -> str:
        """Where the athlete stands."""
        tile = self.tile
        if tile is None:
            return ""
        belt = f"belt {tile.belt}: " if tile.belt is not None else ""
        mean = f", mean {cm(tile.mean_m)} cm" if tile.mean_m is not None else ""
        return f"{belt}{tile.turn}{mean}"

    def paintEvent(self, event: QPaintEvent) -> None:
        """Name over turn."""
        tile, palette, metrics = self.tile, self.look.palette, self.look.metrics
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(palette.ground))
        if tile is not None:
            filled = tile.turn is Turn.JUMPING
            fill = palette.ink if filled else palette.pressed if self.isDown() else palette.surface
            box = QRectF(self.rect())
            plate(painter, box, self.look, fill=fill, outline=palette.line)
            ink = palette.ground if filled else palette.ink
            letter = Letterer(painter, self.look, ink=ink, ground=fill)
            inner = box.adjusted(metrics.gap, 0, -metrics.gap, 0)
            line = metrics.line_px(TextSize.COACH)
            top = box.center().y() - (line + metrics.cap_px(TextSize.COACH)) / 2
            number = f"{tile.shirt_number}\u00a0" if tile.shirt_number is not None else ""
            letter.block(
                QRectF(inner.left(), top, inner.width(), 0),
                f"{number}{tile.name}",
                TextSize.COACH,
                1,
                strong=True,
            )
            letter.block(QRectF(inner.left(), top + line, inner.width(), 0), self.words(), TextSize.COACH, 1)
        painter.end()


class JumpQueueList(Painted):
    """As many of the line as fit, and how many more. Emits `chosen(athlete_id)`."""

    chosen = Signal(str)

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(look, parent)
        self.buttons: list[JumperButton] = []
        self._tiles: tuple[JumperTile, ...] = ()

    def show_view(self, view: JumpLineView) -> None:
        """Paint this state of the line; who is done only where there is room."""
        self._tiles = view.queue
        self._fill()

    def _height(self) -> int:
        return self.look.metrics.control

    def _room(self) -> int:
        metrics = self.look.metrics
        return max(
            1, (self.height() - metrics.line_px(TextSize.COACH)) // (self._height() + metrics.gap // 2)
        )

    def _fill(self) -> None:
        shown = self._tiles[: self._room()]
        while len(self.buttons) < len(shown):
            button = JumperButton(self.look, self)
            button.clicked.connect(self._clicked)
            self.buttons.append(button)
        step = self._height() + self.look.metrics.gap // 2
        for n, button in enumerate(self.buttons):
            button.setVisible(n < len(shown))
            if n < len(shown):
                button.setGeometry(0, n * step, self.width(), self._height())
                button.show_tile(shown[n])
        self.update()

    def _clicked(self) -> None:
        button = self.sender()
        if isinstance(button, JumperButton) and button.tile is not None:
            self.chosen.emit(button.tile.athlete_id)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """As many as fit."""
        self._fill()

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """How many are not shown."""
        more = [t for t in self._tiles[self._room() :] if t.turn is not Turn.DONE]
        done = sum(t.turn is Turn.DONE for t in self._tiles)
        line = self.look.metrics.line_px(TextSize.COACH)
        words = " · ".join(part for part in (f"{len(more)} more" if more else "", f"{done} done") if part)
        letter.line(QRectF(0, self.height() - line, self.width(), line), words, TextSize.COACH)
