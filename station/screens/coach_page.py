"""The coach's page of one athlete, over the right column: season, limits, what the warm-up load can show."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter, QResizeEvent
from PySide6.QtWidgets import QWidget

from station.capture.rack_view import RackView
from station.screens.coach_words import coach_lines
from station.screens.controls import TouchButton
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.theme import Look, TextSize

MOST_LINES = 7


class CoachPage(Painted):
    """Sentences, as many as fit on a page; follows the rack while it is open."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(look, parent)
        self._name, self._lines, self._page = "", [""], 0
        self._pages: list[list[str]] = [[]]
        self.close_button = TouchButton("Close", look, self)
        self.close_button.clicked.connect(self.hide)
        self.more_button = TouchButton("More", look, self)
        self.more_button.clicked.connect(self._turn_page)
        self.hide()

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        super().set_look(look)
        self.close_button.set_look(look)
        self.more_button.set_look(look)
        self._share_out()

    def show_view(self, view: RackView) -> None:
        """Take the sentences of this state."""
        name = view.athlete.name if view.athlete else "No name"
        if name != self._name:
            self._page = 0
        self._name, self._lines = name, coach_lines(view)
        self.setAccessibleName(f"{name}: {' '.join(self._lines)}")
        self._share_out()
        self.update()

    def open_page(self) -> None:
        """Show it from its first page."""
        self._page = 0
        self._share_out()
        self.show()
        self.raise_()

    def _turn_page(self) -> None:
        self._page = (self._page + 1) % len(self._pages)
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The buttons at the foot."""
        gap, high = self.look.metrics.gap, self.look.metrics.control_height
        wide = (self.width() - gap) // 2
        self.close_button.setGeometry(0, self.height() - high, wide, high)
        self.more_button.setGeometry(self.width() - wide, self.height() - high, wide, high)
        self._share_out()

    def _text_height(self, letter: Letterer, words: str, width: float) -> float:
        return letter.height(words, width, TextSize.COACH, MOST_LINES) + self._between

    @property
    def _between(self) -> float:
        return self.look.metrics.line_px(TextSize.COACH) * 0.9

    def _share_out(self) -> None:
        """Sentences on pages; the name stands on each."""
        letter, width = Letterer(QPainter(), self.look), float(self.width())
        room = self.height() - self.look.metrics.control_height - self.look.metrics.gap
        room -= round(letter.height(self._name, width, TextSize.COACH, 2, strong=True) + 2 * self._between)
        self._pages, used = [[]], 0.0
        for line in self._lines:
            high = self._text_height(letter, line, width)
            if used + high > room and self._pages[-1]:
                self._pages.append([])
                used = 0.0
            self._pages[-1].append(line)
            used += high
        self._page = min(self._page, len(self._pages) - 1)
        self.more_button.setVisible(len(self._pages) > 1)

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """The ground, so that nothing shines through; name and sentences."""
        painter.fillRect(self.rect(), QColor(self.look.palette.ground))
        box = QRectF(self.rect()).adjusted(0, self.look.metrics.gap, 0, 0)
        for n, words in enumerate([self._name, *self._pages[self._page]]):
            strong = n == 0
            used = letter.block(box, words, TextSize.COACH, 2 if strong else MOST_LINES, strong=strong)
            box.setTop(used.bottom() + self._between)
