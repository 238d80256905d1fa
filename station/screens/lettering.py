"""All text of the screens is drawn here: by cap height, wrapped or elided, never clipped, always as plain text.

Whoever holds the screens to account can listen to what is drawn (`listen`): text, size, colours, whether it fitted.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen

from station.screens.theme import CAP_HEIGHT_EM, LINE_PITCH_CAPS, Look, TextSize
from station.screens.typeface import font


class Align(Enum):
    """Where a line stands in its box."""

    LEFT = 0.0
    CENTRE = 0.5
    RIGHT = 1.0


@dataclass(frozen=True, slots=True)
class Lettered:
    """One line as it was drawn.

    Attributes:
        size: its class; cap_px: height of its capitals in pixels.
        ink, ground: its colours as #rrggbb.
        box: where it stands in its widget; complete: nothing was elided.
    """

    text: str
    size: TextSize
    cap_px: float
    ink: str
    ground: str
    box: tuple[float, float, float, float]
    complete: bool


_listeners: list[list[Lettered]] = []


@contextmanager
def listen() -> Iterator[list[Lettered]]:
    """Collect every line drawn while the context is open."""
    heard: list[Lettered] = []
    _listeners.append(heard)
    try:
        yield heard
    finally:
        _listeners.remove(heard)


def wrap(text: str, metrics: QFontMetricsF, width: float, lines: int) -> tuple[list[str], bool]:
    """Break text into at most so many lines of that width; what is left over is elided.

    Returns:
        The lines, and whether all of the text is in them.
    """
    words = [word for word in text.replace("\n", " ").split(" ") if word] or [
        ""
    ]  # no-break spaces hold together
    made: list[str] = []
    while words and len(made) < lines:
        line = words.pop(0)
        while words and metrics.horizontalAdvance(f"{line} {words[0]}") <= width:
            line = f"{line} {words.pop(0)}"
        made.append(line)
    if words:
        made[-1] = " ".join([made[-1], *words])
    fitted = [metrics.elidedText(line, Qt.TextElideMode.ElideRight, width) for line in made]
    return fitted, fitted == made


class Letterer:
    """Draws text with one painter on one ground.

    Args:
        painter: an active painter.
        look: theme and sizes.
        ink, ground: colours of text and of what lies behind it; the theme's own where not given.
    """

    def __init__(self, painter: QPainter, look: Look, *, ink: str = "", ground: str = "") -> None:
        self._painter = painter
        self._look = look
        self._ink = ink or look.palette.ink
        self._ground = ground or look.palette.ground

    def width(self, text: str, size: TextSize, *, strong: bool = False) -> float:
        """Width of a line, pixels."""
        return QFontMetricsF(font(self._look.metrics, size, strong=strong)).horizontalAdvance(text)

    def height(self, text: str, width: float, size: TextSize, lines: int, *, strong: bool = False) -> float:
        """Height that `block` will use, pixels, from the top of the first capital to the last baseline."""
        face = font(self._look.metrics, size, strong=strong)
        made, _ = wrap(text, QFontMetricsF(face), width, lines)
        return self._look.metrics.cap_px(size) + (len(made) - 1) * self._look.metrics.line_px(size)

    def line(
        self, box: QRectF, text: str, size: TextSize, *, align: Align = Align.LEFT, strong: bool = False
    ) -> QRectF:
        """One line, its capitals centred in the box's height; elided to its width. Returns where it stands."""
        cap = self._look.metrics.cap_px(size)
        top = box.center().y() - cap / 2
        return self.block(
            QRectF(box.left(), top, box.width(), cap), text, size, 1, align=align, strong=strong
        )

    def block(
        self,
        box: QRectF,
        text: str,
        size: TextSize,
        lines: int,
        *,
        align: Align = Align.LEFT,
        strong: bool = False,
        hollow: bool = False,
    ) -> QRectF:
        """Up to `lines` lines from the top of the box downwards. Returns the rectangle of what was drawn."""
        face = font(self._look.metrics, size, strong=strong)
        measures = QFontMetricsF(face)
        cap = face.pixelSize() * CAP_HEIGHT_EM
        made, complete = wrap(text, measures, box.width(), lines)
        used = QRectF(box.left(), box.top(), 0.0, 0.0)
        for index, line in enumerate(made):
            width = measures.horizontalAdvance(line)
            left = box.left() + (box.width() - width) * align.value
            top = box.top() + index * round(cap * LINE_PITCH_CAPS)
            self._draw(QPointF(left, top + cap), line, face, hollow)
            drawn = QRectF(left, top, width, cap)
            used = drawn if index == 0 else used.united(drawn)
            self._tell(line, size, cap, drawn, complete)
        return used

    def _draw(self, at: QPointF, text: str, face: QFont, hollow: bool) -> None:
        if hollow:
            outline = QPainterPath()
            outline.addText(at, face, text)
            self._painter.strokePath(outline, QPen(QColor(self._ink), self._look.metrics.stroke))
            return
        self._painter.setFont(face)
        self._painter.setPen(QColor(self._ink))
        self._painter.drawText(at, text)

    def _tell(self, text: str, size: TextSize, cap: float, drawn: QRectF, complete: bool) -> None:
        box = (drawn.x(), drawn.y(), drawn.width(), drawn.height())
        for heard in _listeners:
            heard.append(Lettered(text, size, cap, self._ink, self._ground, box, complete))
