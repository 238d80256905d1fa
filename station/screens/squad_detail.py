"""One athlete of the list in detail: reasons, each measure with its age; without anybody chosen, the rules."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from station.readiness.squad_list import Entry
from station.readiness.squad_rules import Measure, SquadRules
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.squad_wording import (
    CAUTION,
    handled_words,
    measure_words,
    reason_words,
    status_words,
    who_words,
)
from station.screens.theme import TextSize


class SquadDetail(Painted):
    """Paints paragraphs from the top; what has no room left is not begun."""

    _lines: Sequence[tuple[str, bool]] = ()

    def show_rules(self, rules: SquadRules) -> None:
        """The few rules behind the list."""
        self._say([("The rules", True), *((words, False) for words in (*rules.in_words(), CAUTION))])

    def show_entry(
        self, entry: Entry, day: date, *, medical: bool, measures: Sequence[Measure] = tuple(Measure)
    ) -> None:
        """One athlete, with these measures."""
        after = entry.athlete.after.in_words()
        under = " · ".join(
            part
            for part in (entry.athlete.line.athlete.group, status_words(entry), after, entry.agree)
            if part
        )
        lines = [(who_words(entry), True), (under, False), (reason_words(entry, medical=medical), True)]
        lines += [(measure_words(entry, measure, day), False) for measure in measures]
        if entry.handled is not None:
            lines.append((handled_words(entry), True))
            if medical and entry.handled.medical_note:
                lines.append((f"Medical note: {entry.handled.medical_note}", False))
        self._say([line for line in lines if line[0]])

    def words(self) -> list[str]:
        """What stands here."""
        return [words for words, _ in self._lines]

    def _say(self, lines: Sequence[tuple[str, bool]]) -> None:
        self._lines = lines
        self.setAccessibleName(" ".join(self.words()))
        self.update()

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Paragraph after paragraph."""
        metrics = self.look.metrics
        box = QRectF(0, metrics.gap, self.width(), 0)
        for words, strong in self._lines:
            high = letter.height(words, box.width(), TextSize.COACH, 5, strong=strong)
            if box.top() + high > self.height():
                return
            used = letter.block(box, words, TextSize.COACH, 5, strong=strong)
            box.setTop(used.bottom() + metrics.line_px(TextSize.COACH) * 0.75)
