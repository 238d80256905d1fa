"""The one button of the screens: a plate with a word, a smaller line, a key, and a size in millimetres."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QKeySequence, QPainter, QPaintEvent, QPen, QShortcut
from PySide6.QtWidgets import QAbstractButton, QWidget

from station.screens.lettering import Align, Letterer
from station.screens.painted import plate
from station.screens.theme import Look, TextSize


class TouchButton(QAbstractButton):
    """A touch target of at least 20 mm.

    Args:
        name: word on the button, also its accessible name.
        look: theme and sizes.
        key: shortcut, if any.
        large: the word in reading size (plus, minus).
    """

    def __init__(
        self, name: str, look: Look, parent: QWidget | None = None, *, key: str = "", large: bool = False
    ) -> None:
        super().__init__(parent)
        self.look = look
        self.words = ""
        self.sub = ""
        self._large = large
        self._primary = False
        if key:  # not QAbstractButton's own shortcut: that one waits for an animation of 100 ms
            QShortcut(QKeySequence(key), self).activated.connect(self.click)
        self._key = key
        self.set_words(name)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setMinimumSize(self.sizeHint())

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        self.look = look
        self.update()

    def set_words(self, name: str, sub: str = "", *, spoken: str = "") -> None:
        """Change the word, the smaller line below it, and what a screen reader says."""
        self.words = name  # not setText: an ampersand in a name would make a shortcut
        self.sub = sub
        self.setAccessibleName(spoken or " ".join(part for part in (name, sub) if part))
        self.setAccessibleDescription(f"key {self._key}" if self._key else "")
        self.update()

    def set_primary(self, primary: bool) -> None:
        """Draw as the filled plate: the one thing that is proposed."""
        self._primary = primary
        self.update()

    def sizeHint(self) -> QSize:
        """The smallest size a finger needs."""
        return QSize(self.look.metrics.control, self.look.metrics.control_height)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Plate, words, focus ring."""
        palette = self.look.palette
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(palette.ground))
        chosen = self._primary or self.isChecked()
        fill = palette.ink if chosen else palette.pressed if self.isDown() else palette.surface
        ink = palette.ground if chosen else palette.ink
        box = QRectF(self.rect())
        plate(
            painter, box, self.look, fill=fill if self.isEnabled() else palette.ground, outline=palette.line
        )
        self._words(Letterer(painter, self.look, ink=ink, ground=fill), box)
        if self.hasFocus():
            self._focus_ring(painter, box, ink)
        painter.end()

    def _words(self, letter: Letterer, box: QRectF) -> None:
        metrics = self.look.metrics
        inner = box.adjusted(metrics.gap * 0.7, 0, -metrics.gap * 0.7, 0)
        if self._large:
            letter.line(inner, self.words, TextSize.READING, align=Align.CENTRE, strong=True)
            return
        fewer = 1 if metrics.large_print else 0
        lines, under = (3 if not self.sub else 2) - fewer, 2 - fewer
        high = letter.height(self.words, inner.width(), TextSize.COACH, lines, strong=True)
        low = letter.height(self.sub, inner.width(), TextSize.COACH, under) if self.sub else 0.0
        gap = metrics.line_px(TextSize.COACH) - metrics.cap_px(TextSize.COACH) if self.sub else 0.0
        inner.setTop(box.center().y() - (high + gap + low) / 2)
        used = letter.block(inner, self.words, TextSize.COACH, lines, align=Align.CENTRE, strong=True)
        if self.sub:
            inner.setTop(used.bottom() + gap)
            letter.block(inner, self.sub, TextSize.COACH, under, align=Align.CENTRE)

    def _focus_ring(self, painter: QPainter, box: QRectF, ink: str) -> None:
        inset = self.look.metrics.stroke * 1.5
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(ink), self.look.metrics.hairline, Qt.PenStyle.DotLine))
        radius = self.look.metrics.gap * 0.5
        painter.drawRoundedRect(box.adjusted(inset, inset, -inset, -inset), radius, radius)
