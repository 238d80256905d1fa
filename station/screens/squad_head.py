"""The head of the squad day: what moved together before any name, then what chance alone would call."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QFontMetricsF, QPainter

from station.capture.squad_day import SquadDay
from station.screens.lettering import Align, Letterer, wrap
from station.screens.painted import Painted, plate
from station.screens.squad_wording import chance_words, counted_words, title_words, unwell_words
from station.screens.theme import TextSize
from station.screens.typeface import font

MOST_LINES = 3  # of one sentence


class SquadHead(Painted):
    """Paints the day, the open pain and illness, groups that moved together, and the expected false calls."""

    _day: SquadDay | None = None
    _note = ""
    _shut = ""

    def show_day(self, day: SquadDay, note: str = "", shut: str = "") -> None:
        """Paint this day; `note` answers what somebody just did, `shut` says why no answers are shown."""
        self._day, self._note, self._shut = day, note, shut
        self.setAccessibleName(" ".join(self.sentences()))
        self.update()

    def sentences(self) -> list[str]:
        """Everything that is said, in order."""
        if self._day is None:
            return []
        made = self._day.list
        said = [title_words(self._day), unwell_words(made), *made.together, chance_words(made)]
        return [part for part in (*said, counted_words(made), self._shut, self._note) if part]

    def height_for(self, width: int) -> int:
        """Pixels that all of it needs."""
        lines = 1
        if self._day is not None:
            titles = 1 if self._beside(width) else 2
            lines = titles + len(self._day.list.together) + len(self._below(width))
        return round(lines * self._pitch() + self.look.metrics.gap)

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """A line each; what moved together on an ink plate."""
        if self._day is None:
            return
        metrics, made = self.look.metrics, self._day.list
        row = QRectF(0, 0, self.width(), self._pitch())
        letter.line(row, title_words(self._day), TextSize.COACH, strong=True)
        beside = self._beside(self.width())
        if not beside:
            row.translate(0, row.height())
        align = Align.RIGHT if beside else Align.LEFT
        letter.line(row, unwell_words(made), TextSize.COACH, align=align, strong=True)
        for sentence in made.together:
            row.translate(0, row.height())
            plate(painter, row, self.look, fill=self.look.palette.ink)
            inverse = Letterer(painter, self.look, ink=self.look.palette.ground, ground=self.look.palette.ink)
            inverse.line(row.adjusted(metrics.gap, 0, -metrics.gap, 0), sentence, TextSize.COACH, strong=True)
        for words, strong in self._below(self.width()):
            row.translate(0, row.height())
            letter.line(row, words, TextSize.COACH, strong=strong)

    def _pitch(self) -> float:
        return 1.25 * self.look.metrics.line_px(TextSize.COACH)

    def _face(self, *, strong: bool) -> QFontMetricsF:
        return QFontMetricsF(font(self.look.metrics, TextSize.COACH, strong=strong))

    def _beside(self, width: int) -> bool:
        """Whether the day and the count of open pain and illness have room on one line."""
        if self._day is None:
            return True
        both = f"{title_words(self._day)}  {unwell_words(self._day.list)}"
        return self._face(strong=True).horizontalAdvance(both) <= width

    def _below(self, width: int) -> list[tuple[str, bool]]:
        """The lines under what moved together, and whether each is strong."""
        if self._day is None:
            return []
        made = self._day.list
        said = ((chance_words(made), False), (self._shut, True), (self._note or counted_words(made), False))
        return [
            (line, strong)
            for words, strong in said
            if words
            for line in wrap(words, self._face(strong=strong), width, MOST_LINES)[0]
        ]
