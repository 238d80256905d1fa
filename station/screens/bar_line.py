"""Who lifts what: name, plates per side, lift and set on the left; the load on the right."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from station.capture.rack_view import RackView
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.theme import TextSize
from station.screens.wording import (
    ask_first,
    athlete_name,
    bar_words,
    load_words,
    loaded_for_next,
    name_words,
    set_words,
)

WITH_DESCENDERS = 1.34  # of a line, in cap heights


class BarLine(Painted):
    """The head line of the athlete's part."""

    _view: RackView | None = None

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        self._view = view
        load = load_words(view.load_kg, view.unit)
        parts = (athlete_name(view), name_words(view), view.lift, set_words(view), load, bar_words(view))
        self.setAccessibleName(", ".join(part for part in parts if part))
        self.update()

    def height_needed(self) -> int:
        """Pixels for the name and the line below it."""
        metrics = self.look.metrics
        two_lines = metrics.cap_px(TextSize.READING) + metrics.line_px(TextSize.COACH) + metrics.gap * 1.5
        return round(max(two_lines, metrics.cap_px(TextSize.GLANCE) * WITH_DESCENDERS))

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Name over plates at the left, the load large at the right."""
        view, metrics = self._view, self.look.metrics
        if view is None:
            return
        load = load_words(view.load_kg, view.unit)
        wide = letter.width(load, TextSize.GLANCE, strong=True) + 1
        row = QRectF(self.width() - wide, 0, wide, metrics.cap_px(TextSize.GLANCE))
        letter.block(row, load, TextSize.GLANCE, 1, strong=True)
        label = "next" if loaded_for_next(view) else "on the bar" if ask_first(view) else ""
        if label:
            row.setLeft(row.left() - letter.width(label, TextSize.COACH) - metrics.gap)
            word = QRectF(row.left(), row.bottom() - metrics.cap_px(TextSize.COACH), row.width(), 0)
            letter.block(word, label, TextSize.COACH, 1)
        left = QRectF(0, 0, row.left() - 3 * metrics.gap, self.height())
        used = letter.block(left, athlete_name(view), TextSize.READING, 1, strong=True)
        left.setTop(used.bottom() + metrics.gap * 1.8)
        letter.block(left, self._second_line(view, letter, left.width()), TextSize.COACH, 1)

    @staticmethod
    def _second_line(view: RackView, letter: Letterer, width: float) -> str:
        """What changes on the bar, or its plates; of lift and set what fits (both are said elsewhere as well)."""
        line = bar_words(view)
        for part in (name_words(view), view.lift, set_words(view)):
            longer = f"{line} · {part}" if part else line
            if letter.width(longer, TextSize.COACH) > width:
                return line
            line = longer
        return line
