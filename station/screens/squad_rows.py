"""The list of the squad day: headings and athletes, each with the three measures as marks on the own usual range."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QWidget

from station.readiness.squad_list import Entry
from station.readiness.squad_rules import Measure
from station.readiness.squad_values import Place, Reading
from station.screens.lettering import Align, Letterer
from station.screens.painted import Painted, plate
from station.screens.squad_wording import handled_words, heading, reason_words, status_words, who_words
from station.screens.theme import Look, TextSize

NAME_SHARE, MARKS_SHARE = 0.28, 0.32
MARK_SPAN = 2.0  # the range drawn, in half-widths of the usual range


class SquadRows(Painted):
    """Emits `chosen(Entry)`; up and down keys move the choice."""

    chosen = Signal(object)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(look, parent)
        self._rows: list[Entry | str] = []
        self._day = date.min
        self._chosen: str | None = None
        self._last: str | None = None
        self._medical = False
        self._measures: Sequence[Measure] = ()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("the squad today")

    def show_entries(
        self,
        entries: Sequence[Entry],
        day: date,
        chosen: str | None,
        *,
        medical: bool = False,
        measures: Sequence[Measure] = tuple(Measure),
    ) -> None:
        """Paint these, in this order, under their headings; closed ones under a heading of their own."""
        self._day, self._chosen, self._medical, self._measures = day, chosen, medical, measures
        self._last = chosen or self._last
        self._rows = []
        for place in Place:
            own = [e for e in entries if e.place is place and e.state != "closed"]
            self._rows += [heading(place, len(own)), *own] if own else []
        closed = [e for e in entries if e.state == "closed"]
        self._rows += [f"Closed today ({len(closed)})", *closed] if closed else []
        self.setFixedHeight(max(round(self._tops()[-1]), 1))
        self.update()

    def entries(self) -> list[Entry]:
        """Who is on the list, in order."""
        return [row for row in self._rows if not isinstance(row, str)]

    # -- geometry -------------------------------------------------------------------------------------------------

    def _row_height(self, row: Entry | str) -> float:
        metrics = self.look.metrics
        if isinstance(row, str):
            return metrics.line_px(TextSize.COACH) + 2.5 * metrics.gap
        return 2 * metrics.line_px(TextSize.COACH) + 2.6 * metrics.gap

    def _tops(self) -> list[float]:
        tops = [0.0]
        for row in self._rows:
            tops.append(tops[-1] + self._row_height(row))
        return tops

    def row_box(self, athlete_id: str) -> QRectF:
        """Where an athlete's row stands."""
        for top, row in zip(self._tops(), self._rows, strict=False):
            if not isinstance(row, str) and row.athlete.line.athlete.athlete_id == athlete_id:
                return QRectF(0, top, self.width(), self._row_height(row))
        return QRectF()

    # -- touch and keys -------------------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the row under the finger."""
        y = event.position().y()
        for top, row in zip(self._tops(), self._rows, strict=False):
            if top <= y < top + self._row_height(row) and not isinstance(row, str):
                self.chosen.emit(row)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and down."""
        by = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}.get(Qt.Key(event.key()))
        if by is None or not self.entries():
            super().keyPressEvent(event)
            return
        self.step(by)

    def step(self, by: int) -> None:
        """Choose the next one (+1) or the one before (-1); after a look at one athlete from there on."""
        entries = self.entries()
        if not entries:
            return
        ids = [e.athlete.line.athlete.athlete_id for e in entries]
        was = self._chosen or self._last
        at = ids.index(was) + by if was in ids else 0
        self.chosen.emit(entries[max(0, min(at, len(entries) - 1))])

    # -- paint ----------------------------------------------------------------------------------------------------

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Only what is in sight."""
        seen = QRectF(self.visibleRegion().boundingRect())
        for top, row in zip(self._tops(), self._rows, strict=False):
            box = QRectF(0, top, self.width(), self._row_height(row))
            if not box.intersects(seen):
                continue
            if isinstance(row, str):
                letter.line(box.adjusted(0, self.look.metrics.gap, 0, 0), row, TextSize.COACH, strong=True)
            else:
                self._entry(painter, box.adjusted(0, 0, -1, -0.4 * self.look.metrics.gap), row)

    def _entry(self, painter: QPainter, box: QRectF, entry: Entry) -> None:
        palette, metrics = self.look.palette, self.look.metrics
        chosen = entry.athlete.line.athlete.athlete_id == self._chosen
        fill = palette.pressed if chosen else palette.surface
        plate(painter, box, self.look, fill=fill, outline=palette.ink if chosen else "")
        letter = Letterer(painter, self.look, ground=fill)
        inner = box.adjusted(metrics.gap, 0, -metrics.gap, 0)
        line = metrics.line_px(TextSize.COACH)
        top = box.center().y() - line / 2 - metrics.cap_px(TextSize.COACH) / 2
        name = QRectF(inner.left(), top, inner.width() * NAME_SHARE - metrics.gap, 0)
        athlete = entry.athlete.line.athlete
        letter.block(name, who_words(entry), TextSize.COACH, 2, strong=True)
        if letter.width(who_words(entry), TextSize.COACH, strong=True) <= name.width():
            under = (status_words(entry), athlete.group, entry.athlete.line.position)
            letter.block(name.translated(0, line), " · ".join(p for p in under if p), TextSize.COACH, 1)
        marks = QRectF(
            inner.left() + inner.width() * NAME_SHARE, box.top(), inner.width() * MARKS_SHARE, box.height()
        )
        wide = marks.width() / len(self._measures)
        for n, measure in enumerate(self._measures):
            part = QRectF(marks.left() + n * wide, marks.top(), wide - metrics.gap, marks.height())
            self._mark(painter, letter, part, measure, entry)
        words = QRectF(marks.right() + metrics.gap, top, inner.right() - marks.right() - metrics.gap, 0)
        if entry.handled is not None:
            letter.block(words, reason_words(entry, medical=self._medical), TextSize.COACH, 1)
            letter.block(words.translated(0, line), handled_words(entry), TextSize.COACH, 1, strong=True)
        else:
            letter.block(words, reason_words(entry, medical=self._medical) or entry.agree, TextSize.COACH, 2)

    def _mark(self, painter: QPainter, letter: Letterer, box: QRectF, measure: Measure, entry: Entry) -> None:
        """The own usual range as a bar, today's value as a filled mark, an older one hollow; no value, no mark."""
        palette, metrics = self.look.palette, self.look.metrics
        reading = next((r for r in entry.athlete.readings if r.measure is measure), None)
        cap = metrics.cap_px(TextSize.COACH)
        label = QRectF(
            box.left(), box.center().y() - metrics.line_px(TextSize.COACH) / 2 - cap / 2, box.width(), 0
        )
        wide = label.adjusted(-metrics.gap, 0, metrics.gap, 0)
        letter.block(wide, SHORT[measure], TextSize.COACH, 1, align=Align.CENTRE)
        y = label.top() + metrics.line_px(TextSize.COACH) + cap / 2
        if reading is None or reading.low is None or reading.high is None:
            word = "new" if reading is not None else "–"
            letter.block(
                QRectF(box.left(), y - cap / 2, box.width(), 0), word, TextSize.COACH, 1, align=Align.CENTRE
            )
            return
        painter.setPen(QPen(QColor(palette.line), metrics.hairline))
        painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
        at = _along(box, reading)
        low, high = (box.center().x() + side * box.width() / 2 / MARK_SPAN for side in (-1, 1))
        painter.setPen(
            QPen(QColor(palette.usual), 2.5 * metrics.stroke, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap)
        )
        painter.drawLine(QPointF(low, y), QPointF(high, y))
        painter.setPen(QPen(QColor(palette.ink), metrics.stroke))
        fresh = reading.day == self._day
        painter.setBrush(QColor(palette.ink) if fresh else QColor(palette.ground))
        painter.drawEllipse(QPointF(at, y), metrics.gap * 0.55, metrics.gap * 0.55)


SHORT = {Measure.BAR: "bar", Measure.JUMP: "jump", Measure.CHECK_IN: "self"}


def _along(box: QRectF, reading: Reading) -> float:
    """Where a value stands on the line; beyond its ends it stands at the end."""
    assert reading.low is not None
    assert reading.high is not None
    half = max((reading.high - reading.low) / 2, 1e-9)
    off = (reading.value - (reading.high + reading.low) / 2) / half
    inset = box.width() * 0.06
    x = box.center().x() + off * box.width() / 2 / MARK_SPAN
    return float(min(max(x, box.left() + inset), box.right() - inset))
