"""The suggestion for today's load: the load, one sentence with its reason, how sure, one line of caution."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from station.capture.rack_view import Decision, RackView
from station.readiness.results import Suggestion
from station.screens.lettering import Align, Letterer
from station.screens.painted import Painted, plate
from station.screens.theme import TextSize
from station.screens.wording import NO_BREAK, load_words, unbroken

MOST_LINES = 3
DECIDED = {
    Decision.USE: "coach: use it",
    Decision.CHANGE: "coach: other load",
    Decision.KEEP_PLAN: "coach: keep plan",
}


class SuggestionCard(Painted):
    """Paints the suggestion; the buttons that answer it stand right below."""

    _view: RackView | None = None

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        self._view = view
        self.setAccessibleName(self._spoken(view))
        self.update()

    @staticmethod
    def _spoken(view: RackView) -> str:
        made = view.suggestion
        if made is None:
            return "no suggestion yet"
        parts = ["suggestion:", made.sentence, made.sureness, made.caution]
        return " ".join([*parts, DECIDED[view.decision]] if view.decision else parts)

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """With the load large where all the words fit below it, else all of it small."""
        view = self._view
        if view is None or view.suggestion is None:
            return
        plate(painter, QRectF(self.rect()), self.look, outline=self.look.palette.ink)
        pad = self.look.metrics.gap * 1.2
        box = QRectF(self.rect()).adjusted(pad, pad, -pad, -pad)
        head = self._head(view)
        if head and self._words_height(letter, box, view.suggestion) <= box.height() - self._head_height():
            self._large_head(letter, box, head, view)
            box.setTop(box.top() + self._head_height())
        elif head:
            words = f"{head}: {self._beside_head(view)}"
            letter.block(box, words, TextSize.COACH, 1, strong=True)
            box.setTop(box.top() + self.look.metrics.line_px(TextSize.COACH))
        self._words(letter, box, view.suggestion)

    def _head_height(self) -> float:
        return self.look.metrics.cap_px(TextSize.READING) + self.look.metrics.gap * 2.1

    def _words_height(self, letter: Letterer, box: QRectF, made: Suggestion) -> float:
        """Sentence and foot, with a gap between."""
        high = letter.height(unbroken(made.sentence), box.width(), TextSize.COACH, MOST_LINES, strong=True)
        low = letter.height(self._foot(made), box.width(), TextSize.COACH, MOST_LINES)
        return high + self.look.metrics.gap * 1.5 + low

    def _words(self, letter: Letterer, box: QRectF, made: Suggestion) -> None:
        """The sentence at the top, sureness and caution at the bottom."""
        foot = self._foot(made)
        low = letter.height(foot, box.width(), TextSize.COACH, MOST_LINES)
        letter.block(box, unbroken(made.sentence), TextSize.COACH, MOST_LINES, strong=True)
        if not foot:
            return
        box.setTop(box.bottom() - low)
        letter.block(box, foot, TextSize.COACH, MOST_LINES)

    @staticmethod
    def _foot(made: Suggestion) -> str:
        """How sure, and the caution; nothing where nothing is suggested."""
        if made.load_kg is None and not made.sureness:
            return ""
        sureness = made.sureness.partition(":")[0]  # the sentence has the reason
        sure = f"{sureness[:1].upper()}{sureness[1:]}. " if sureness else ""
        return f"{sure}{made.caution}"

    @staticmethod
    def _head(view: RackView) -> str:
        """The suggested load; once decided, the load that was decided for, as far as it is known."""
        made = view.suggestion
        if made is None or made.load_kg is None:
            return ""
        decided = {Decision.KEEP_PLAN: made.planned_kg, Decision.CHANGE: view.decided_kg}
        load = made.load_kg if view.decision is None else decided.get(view.decision, made.load_kg)
        return load_words(load, view.unit) if load is not None else "–"

    @staticmethod
    def _beside_head(view: RackView) -> str:
        """What was decided, or the plates per side."""
        if view.decision is not None:
            return DECIDED[view.decision]
        plates = view.suggestion.plates if view.suggestion else None
        words = plates.in_words() if plates else "plates unknown"
        return words.replace(f" {view.unit} a side", f"{NO_BREAK}a{NO_BREAK}side")  # the head has the unit

    def _large_head(self, letter: Letterer, box: QRectF, head: str, view: RackView) -> None:
        used = letter.block(box, head, TextSize.READING, 1, strong=True)
        words, gap = self._beside_head(view), self.look.metrics.gap
        row = QRectF(used.right() + gap, used.top(), box.right() - used.right() - gap, used.height())
        high = letter.height(words, row.width(), TextSize.COACH, 2)
        row.setTop(max(box.top() - gap * 0.4, used.bottom() - high))
        letter.block(row, words, TextSize.COACH, 2, align=Align.RIGHT)
