"""One athlete's tile: number, name, what is still to do; whether lifting, proposed or next."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QAbstractButton, QWidget

from station.capture.rack_view import AthleteTile
from station.screens.lettering import Letterer
from station.screens.painted import plate
from station.screens.theme import Look, TextSize
from station.screens.wording import NO_BREAK

SHORTER = {"ask a coach": "ask coach"}


class Tile(QAbstractButton):
    """One athlete. The current one is filled, a merely proposed one has a dashed outline."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.athlete: AthleteTile | None = None
        self._current = self._proposed = self._next = False
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def show_athlete(self, athlete: AthleteTile, *, current: bool, proposed: bool, is_next: bool) -> None:
        """Paint this athlete."""
        self.athlete, self._current, self._proposed, self._next = athlete, current, proposed, is_next
        state = (
            " (lifting, not confirmed)"
            if proposed
            else " (lifting)"
            if current
            else " (next)"
            if is_next
            else ""
        )
        shirt = f"shirt {athlete.shirt_number}, " if athlete.shirt_number is not None else ""
        self.setAccessibleName(f"{shirt}{athlete.name}, {athlete.to_do}{state}")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Plate, name over up to two lines, what is to do at the foot."""
        palette = self.look.palette
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(palette.ground))
        filled = self._current and not self._proposed
        fill = palette.ink if filled else palette.pressed if self.isDown() else palette.surface
        ink = palette.ground if filled else palette.ink
        box = QRectF(self.rect())
        plate(painter, box, self.look, fill=fill, outline=palette.ink if filled else palette.line)
        if self._proposed or self.hasFocus():
            self._dashed(painter, box, ink)
        self._words(Letterer(painter, self.look, ink=ink, ground=fill), box)
        if self._next:
            self._next_mark(painter, box)
        painter.end()

    def _words(self, letter: Letterer, box: QRectF) -> None:
        athlete, metrics = self.athlete, self.look.metrics
        if athlete is None:
            return
        pad = metrics.gap
        inner = box.adjusted(pad, pad * 1.2, -pad, -pad * 1.2)
        name = (
            athlete.name
            if athlete.shirt_number is None
            else f"{athlete.shirt_number}{NO_BREAK}{athlete.name}"
        )
        letter.block(inner, name, TextSize.COACH, 2, strong=True)
        foot = QRectF(inner)
        foot.setTop(inner.bottom() - metrics.cap_px(TextSize.COACH))
        if self._next:
            foot.setRight(foot.right() - metrics.gap * 2)
        fitting = (w for w in self._feet(athlete) if letter.width(w, TextSize.COACH) <= foot.width())
        letter.block(foot, next(fitting, self._feet(athlete)[-1]), TextSize.COACH, 1)

    def _feet(self, athlete: AthleteTile) -> tuple[str, ...]:
        """What stands at the foot, and what does where that is too long: six athletes leave little room."""
        if self._proposed:
            return "touch to confirm", "confirm?"
        if self._next:
            return f"next: {athlete.to_do}", "next"
        return athlete.to_do, SHORTER.get(athlete.to_do, athlete.to_do.partition(" ")[0])

    def _dashed(self, painter: QPainter, box: QRectF, ink: str) -> None:
        inset, radius = self.look.metrics.stroke, self.look.metrics.gap * 0.6
        style = Qt.PenStyle.DashLine if self._proposed else Qt.PenStyle.DotLine
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(ink), self.look.metrics.hairline, style))
        painter.drawRoundedRect(box.adjusted(inset, inset, -inset, -inset), radius, radius)

    def _next_mark(self, painter: QPainter, box: QRectF) -> None:
        """A wedge at the lower right: this one is up."""
        gap = self.look.metrics.gap
        tip = box.bottomRight() - QPointF(gap, gap * 1.9)
        back = gap * 1.3
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self.look.palette.ink))
        corners = [tip, tip + QPointF(-back, -back * 0.8), tip + QPointF(-back, back * 0.8)]
        painter.drawPolygon(QPolygonF(corners))
