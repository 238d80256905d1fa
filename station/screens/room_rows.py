"""The room's racks, a line each, in columns of two lines; a mark and a word where somebody is wanted."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPen, QPolygonF, QResizeEvent

from station.screens.lettering import Letterer
from station.screens.painted import Painted, plate
from station.screens.room_wording import Cell
from station.screens.theme import Look, TextSize

NARROW_MM = 260.0


class RoomRows(Painted):
    """Emits `chosen(rack)`; up and down keys move the choice."""

    chosen = Signal(str)

    def __init__(self, look: Look) -> None:
        super().__init__(look)
        self._heads: tuple[str, ...] = ()
        self._shares: tuple[float, ...] = ()
        self._rows: list[tuple[str, tuple[Cell, ...]]] = []
        self._chosen = ""
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("racks of the room")

    def show_rows(
        self,
        heads: Sequence[str],
        shares: Sequence[float],
        rows: Sequence[tuple[str, tuple[Cell, ...]]],
        chosen: str,
    ) -> None:
        """Paint these.

        Args:
            heads, shares: of the columns; shares of the width sum up to 1.
            rows: the rack and its cells.
            chosen: a rack's name, or "".
        """
        self._heads, self._shares, self._rows, self._chosen = tuple(heads), tuple(shares), list(rows), chosen
        self._fit()
        words = next((cells for rack, cells in rows if rack == chosen), ())
        self.setAccessibleDescription(
            "; ".join(f"{head}: {cell.words} {cell.under}" for head, cell in zip(heads, words, strict=False))
        )
        self.update()

    def _head_height(self) -> float:
        return self.look.metrics.line_px(TextSize.COACH) + self.look.metrics.gap

    def _row_height(self) -> float:
        return self._lines() * self.look.metrics.line_px(TextSize.COACH) + 2.6 * self.look.metrics.gap

    def _lines(self) -> int:
        """Of a row: where columns are narrow what stands below takes two."""
        return 3 if self.width() < self.look.metrics.mm(NARROW_MM) else 2

    def _fit(self) -> None:
        self.setFixedHeight(round(self._head_height() + len(self._rows) * self._row_height()) + 1)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """As high as the rows are at this width."""
        super().resizeEvent(event)
        self._fit()

    def row_box(self, rack: str) -> QRectF:
        """Where a rack's line stands."""
        names = [name for name, _ in self._rows]
        at = names.index(rack) if rack in names else 0
        return QRectF(0, self._head_height() + at * self._row_height(), self.width(), self._row_height())

    # -- touch and keys -------------------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the line under the finger."""
        at = int((event.position().y() - self._head_height()) // self._row_height())
        if 0 <= at < len(self._rows):
            self.chosen.emit(self._rows[at][0])

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and down."""
        step = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}.get(Qt.Key(event.key()))
        names = [name for name, _ in self._rows]
        if step is None or not names:
            super().keyPressEvent(event)
            return
        at = names.index(self._chosen) + step if self._chosen in names else 0
        self.chosen.emit(names[max(0, min(at, len(names) - 1))])

    # -- paint ----------------------------------------------------------------------------------------------------

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Heads, then each rack."""
        for box, head in zip(self._columns(QRectF(0, 0, self.width(), 0)), self._heads, strict=True):
            letter.block(box, head, TextSize.COACH, 1)
        for n, (rack, cells) in enumerate(self._rows):
            top = self._head_height() + n * self._row_height()
            box = QRectF(0, top, self.width() - 1, self._row_height() - 0.5 * self.look.metrics.gap)
            self._row(painter, box, cells, chosen=rack == self._chosen)

    def _columns(self, box: QRectF) -> list[QRectF]:
        gap, left = self.look.metrics.gap, box.left() + self.look.metrics.gap
        found = []
        for share in self._shares:
            width = share * (box.width() - 2 * gap)
            found.append(QRectF(left, box.top(), width - gap, box.height()))
            left += width
        return found

    def _row(self, painter: QPainter, box: QRectF, cells: Sequence[Cell], *, chosen: bool) -> None:
        palette, metrics = self.look.palette, self.look.metrics
        fill = palette.pressed if chosen else palette.surface
        plate(painter, box, self.look, fill=fill, outline=palette.ink if chosen else "")
        letter = Letterer(painter, self.look, ground=fill)
        line, cap = metrics.line_px(TextSize.COACH), metrics.cap_px(TextSize.COACH)
        for column, cell in zip(self._columns(box), cells, strict=True):
            top = box.center().y() - (self._lines() - 1) * line / 2 - cap / 2
            part = QRectF(column.left(), top, column.width(), 0)
            if cell.mark:
                self._mark(painter, QPointF(part.left() + metrics.gap * 0.6, top + cap / 2), cell.mark)
                part.setLeft(part.left() + 1.8 * metrics.gap)
            if cell.under:
                drawn = letter.block(part, cell.words, TextSize.COACH, self._lines() - 1, strong=True)
                above = 1 + round((drawn.height() - cap) / line)
                under = part.translated(0, above * line)
                letter.block(under, cell.under, TextSize.COACH, self._lines() - above)
            else:
                letter.block(part, cell.words, TextSize.COACH, self._lines(), strong=True)

    def _mark(self, painter: QPainter, at: QPointF, kind: str) -> None:
        """A square calls somebody, a triangle waits for a decision, a round mark is ready: never by colour alone."""
        palette, size = self.look.palette, self.look.metrics.gap * 0.6
        colour = {"see to it": palette.alert, "waits": palette.ink, "ready": palette.usual}[kind]
        painter.setPen(QPen(Qt.PenStyle.NoPen))
        painter.setBrush(QColor(colour))
        if kind == "see to it":
            painter.drawRect(QRectF(at.x() - size, at.y() - size, 2 * size, 2 * size))
        elif kind == "waits":
            points = [QPointF(-size, -size), QPointF(size, 0), QPointF(-size, size)]
            painter.drawPolygon(QPolygonF([at + point for point in points]))
        else:
            painter.drawEllipse(at, size, size)
