"""The strip at the top: quiet facts while all is well, trouble in plain words with what to do when not."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPolygonF

from station.capture.rack_view import RackView, TroubleLine
from station.screens.lettering import Align, Letterer
from station.screens.painted import Painted, plate
from station.screens.theme import TextSize
from station.screens.wording import quiet_facts

MOST_LINES = 2


def worst_first(troubles: tuple[TroubleLine, ...]) -> list[TroubleLine]:
    """Serious troubles before others, else in the order they came."""
    return sorted(troubles, key=lambda trouble: not trouble.serious)


class TroubleStrip(Painted):
    """Has its own row of the screen, so that it never covers anything."""

    _view: RackView | None = None
    _note = ""

    def set_note(self, words: str) -> None:
        """A short answer to what somebody just did; trouble goes before it."""
        self._note = words
        self.setAccessibleName(self.words())
        self.update()

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        self._view = view
        self.setAccessibleName(self.words())
        self.update()

    def words(self) -> str:
        """What the strip says, all of it."""
        if self._view is not None and self._view.troubles:
            return " ".join(f"{t.words} {t.advice}" for t in worst_first(self._view.troubles))
        return self._note or (" · ".join(quiet_facts(self._view)) if self._view else "")

    def _lines(self) -> list[str]:
        """One trouble over as many lines as it needs, or the two worst with a line each (one, in large print)."""
        troubles = worst_first(self._view.troubles) if self._view else []
        if len(troubles) < MOST_LINES:
            return [self.words()]
        if self.look.metrics.large_print:
            return [f"{troubles[0].words} {troubles[0].advice} (and {len(troubles) - 1} more)"]
        lines = [f"{t.words} {t.advice}" for t in troubles[:MOST_LINES]]
        others = len(troubles) - MOST_LINES
        return [*lines[:-1], f"{lines[-1]} (and {others} more)" if others else lines[-1]]

    def _draw_lines(self, letter: Letterer, box: QRectF) -> None:
        metrics, lines = self.look.metrics, self._lines()
        each = 1 if len(lines) > 1 else self._most_lines
        for line in lines:
            used = letter.block(box, line, TextSize.COACH, each, strong=True)
            box.setTop(used.top() + metrics.line_px(TextSize.COACH))

    def _text_height(self, width: float) -> float:
        metrics = self.look.metrics
        if self._view is None or not self._view.troubles:
            return metrics.cap_px(TextSize.COACH)
        lines = self._lines()
        if len(lines) > 1:
            return metrics.cap_px(TextSize.COACH) + metrics.line_px(TextSize.COACH) * (len(lines) - 1)
        measure = Letterer(QPainter(), self.look)
        return measure.height(lines[0], width, TextSize.COACH, self._most_lines, strong=True)

    @property
    def _most_lines(self) -> int:
        return MOST_LINES + 1 if self.look.metrics.large_print else MOST_LINES

    def height_for(self, width: int) -> int:
        """Pixels the strip needs at this width: one line, or two for much trouble."""
        box, metrics = self._text_box(QRectF(0, 0, width, 0)), self.look.metrics
        clear = max(metrics.gap * 1.1, metrics.descender_px(TextSize.COACH) + metrics.gap / 4)
        return round(self._text_height(box.width()) + 2 * clear)

    def _text_box(self, row: QRectF) -> QRectF:
        gap = self.look.metrics.gap
        return row.adjusted(gap * 5, 0, -gap, 0)

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """A line of facts, or the trouble plate with its mark."""
        view = self._view
        if view is None:
            return
        row = QRectF(self.rect())
        if view.troubles:
            self._trouble(painter, row)
            return
        note_width = letter.width(view.data_note, TextSize.COACH, strong=True) if view.data_note else 0.0
        facts = QRectF(row)
        facts.setRight(row.right() - note_width - 2 * self.look.metrics.gap)
        letter.line(facts, self._note or self._facts_that_fit(letter, view, facts.width()), TextSize.COACH)
        if view.data_note:
            letter.line(row, view.data_note, TextSize.COACH, align=Align.RIGHT, strong=True)

    @staticmethod
    def _facts_that_fit(letter: Letterer, view: RackView, width: float) -> str:
        first, *others = quiet_facts(view)
        line = first
        for fact in others:
            if letter.width(f"{line} · {fact}", TextSize.COACH) > width:
                break
            line = f"{line} · {fact}"
        return line

    def _trouble(self, painter: QPainter, row: QRectF) -> None:
        """Ink plate with a triangle: seen by its shape, read by its words."""
        palette, metrics = self.look.palette, self.look.metrics
        plate(painter, row, self.look, fill=palette.ink)
        side = min(metrics.cap_px(TextSize.COACH) * 1.35, metrics.gap * 2 / 0.6)  # clear of the words
        centre = QPointF(row.left() + metrics.gap * 2.5, row.center().y())
        corners = [QPointF(0, -side / 2), QPointF(side * 0.6, side / 2), QPointF(-side * 0.6, side / 2)]
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(palette.ground))
        painter.drawPolygon(QPolygonF([centre + corner for corner in corners]))
        letter = Letterer(painter, self.look, ink=palette.ground, ground=palette.ink)
        box = self._text_box(row)
        box.setTop(row.center().y() - self._text_height(box.width()) / 2)
        self._draw_lines(letter, box)
