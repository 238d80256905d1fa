"""The suggestion for today's load: the load, one sentence with its reason, how sure, one line of caution."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from station.capture.rack_view import Decision, RackView
from station.screens.lettering import Align, Letterer
from station.screens.painted import Painted, plate
from station.screens.theme import TextSize
from station.screens.wording import NO_BREAK, load_words

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
        """From the load downwards, as far as there is room."""
        view = self._view
        if view is None or view.suggestion is None:
            return
        metrics, palette, made = self.look.metrics, self.look.palette, view.suggestion
        plate(painter, QRectF(self.rect()), self.look, outline=palette.ink)
        pad = metrics.gap * 1.2
        box = QRectF(self.rect()).adjusted(pad, pad, -pad, -pad)
        head = self._head(view)
        if head:
            used = letter.block(box, head, TextSize.READING, 1, strong=True)
            self._beside_head(letter, box, used, view)
            box.setTop(used.bottom() + metrics.gap * 2.1)
        foot_lines = (letter.height(self._foot(), box.width(), TextSize.COACH, 2) + 0.5) // 1
        room = box.height() - foot_lines - metrics.gap
        lines = max(1, int((room + metrics.line_px(TextSize.COACH) * 0.4) // metrics.line_px(TextSize.COACH)))
        letter.block(box, made.sentence, TextSize.COACH, lines, strong=True)
        box.setTop(box.bottom() - foot_lines)
        letter.block(box, self._foot(), TextSize.COACH, 2)

    @staticmethod
    def _head(view: RackView) -> str:
        """The suggested load; once decided, the load that was decided for, as far as it is known."""
        made = view.suggestion
        if made is None or made.load_kg is None:
            return ""
        decided = {Decision.KEEP_PLAN: made.planned_kg, Decision.CHANGE: view.decided_kg}
        load = made.load_kg if view.decision is None else decided.get(view.decision, made.load_kg)
        return load_words(load, view.unit) if load is not None else "–"

    def _foot(self) -> str:
        made = self._view.suggestion if self._view else None
        if made is None:
            return ""
        return f"{made.sureness[:1].upper()}{made.sureness[1:]}. {made.caution}"

    def _beside_head(self, letter: Letterer, box: QRectF, head: QRectF, view: RackView) -> None:
        made = view.suggestion
        if view.decision is not None:
            words = DECIDED[view.decision]
        else:
            words = made.plates.in_words() if made is not None and made.plates else ""
            words = words.replace(
                f" {view.unit} a side", f"{NO_BREAK}a{NO_BREAK}side"
            )  # the head has the unit
        gap = self.look.metrics.gap
        row = QRectF(head.right() + gap, head.top(), box.right() - head.right() - gap, head.height())
        high = letter.height(words, row.width(), TextSize.COACH, 2)
        row.setTop(max(box.top() - gap * 0.4, head.bottom() - high))
        letter.block(row, words, TextSize.COACH, 2, align=Align.RIGHT)
