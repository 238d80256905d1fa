"""The head of the squad day: what moved together before any name, then what chance alone would call."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from station.capture.squad_day import SquadDay
from station.screens.lettering import Align, Letterer
from station.screens.painted import Painted, plate
from station.screens.squad_wording import chance_words, counted_words, title_words, unwell_words
from station.screens.theme import TextSize


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
        lines = 1 + len(self._below()) + (len(self._day.list.together) if self._day is not None else 0)
        return round(lines * 1.25 * self.look.metrics.line_px(TextSize.COACH) + self.look.metrics.gap)

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """A line each; what moved together on an ink plate."""
        if self._day is None:
            return
        metrics, made = self.look.metrics, self._day.list
        row = QRectF(0, 0, self.width(), 1.25 * metrics.line_px(TextSize.COACH))
        letter.line(row, title_words(self._day), TextSize.COACH, strong=True)
        letter.line(row, unwell_words(made), TextSize.COACH, align=Align.RIGHT, strong=True)
        for sentence in made.together:
            row.translate(0, row.height())
            plate(painter, row, self.look, fill=self.look.palette.ink)
            inverse = Letterer(painter, self.look, ink=self.look.palette.ground, ground=self.look.palette.ink)
            inverse.line(row.adjusted(metrics.gap, 0, -metrics.gap, 0), sentence, TextSize.COACH, strong=True)
        for words in self._below():
            row.translate(0, row.height())
            letter.line(row, words, TextSize.COACH, strong=words == self._shut)

    def _below(self) -> list[str]:
        """The lines under what moved together."""
        if self._day is None:
            return [""]
        made = self._day.list
        return [part for part in (chance_words(made), self._shut, self._note or counted_words(made)) if part]
