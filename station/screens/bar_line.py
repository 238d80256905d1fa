"""Who lifts what: name, lift and set on the left; load and plates per side on the right."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from station.capture.rack_view import RackView
from station.screens.lettering import Align, Letterer
from station.screens.painted import Painted
from station.screens.theme import TextSize
from station.screens.wording import athlete_name, load_words, set_words


class BarLine(Painted):
    """The head line of the athlete's part."""

    _view: RackView | None = None

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        self._view = view
        load = load_words(view.load_kg, view.unit)
        plates = view.plates.in_words() if view.plates else "plates unknown"
        self.setAccessibleName(f"{athlete_name(view)}, {set_words(view)}, {load}, {plates}")
        self.update()

    def height_needed(self) -> int:
        """Pixels for both lines."""
        metrics = self.look.metrics
        return round(metrics.cap_px(TextSize.GLANCE) + metrics.line_px(TextSize.COACH) * 1.35)

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Two lines: large, and small below."""
        view, metrics = self._view, self.look.metrics
        if view is None:
            return
        glance, coach = metrics.cap_px(TextSize.GLANCE), metrics.cap_px(TextSize.COACH)
        load = load_words(view.load_kg, view.unit)
        load_width = letter.width(load, TextSize.GLANCE, strong=True)
        right = self.width() - load_width
        letter.block(
            QRectF(right - 1, 0, load_width + 1, glance),
            load,
            TextSize.GLANCE,
            1,
            align=Align.RIGHT,
            strong=True,
        )
        name = QRectF(0, glance - metrics.cap_px(TextSize.READING), right - 3 * metrics.gap, glance)
        letter.block(name, athlete_name(view), TextSize.READING, 1, strong=True)
        row = QRectF(0, self.height() - coach * 1.3, self.width(), coach)
        plates = view.plates.in_words() if view.plates else "plates unknown"
        used = letter.block(row, plates, TextSize.COACH, 1, align=Align.RIGHT)
        row.setRight(used.left() - 2 * metrics.gap)
        letter.block(row, set_words(view), TextSize.COACH, 1)
