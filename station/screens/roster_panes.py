"""The panes beside the tables: what would change, and what a plan's warm-up load can show, in sentences."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from station.capture.roster_desk import AnyPreview
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.theme import TextSize

LINES_EACH = 3
CHOOSE = "Choose a line to see what its warm-up load can show."
NOTHING = "Nothing would change. Type into the table, paste from a spreadsheet, or import a file."


class Paragraphs(Painted):
    """Sentences below each other, as many as there is room for; what has none is counted."""

    lines: tuple[str, ...] = ()
    first_strong = True

    def say(self, *lines: str) -> None:
        """Paint these."""
        self.lines = lines
        self.setAccessibleName(" ".join(lines))
        self.update()

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """From the top; one line is kept for the count of what has no room."""
        metrics = self.look.metrics
        line = metrics.line_px(TextSize.COACH)
        box = QRectF(0, metrics.gap, self.width(), 0)
        for n, words in enumerate(self.lines):
            high = letter.height(words, box.width(), TextSize.COACH, LINES_EACH)
            left = len(self.lines) - n
            room = self.height() - (1.5 * line if left > 1 else 0.0)
            if box.top() + high > room:
                letter.block(box, f"and {left} more", TextSize.COACH, 1, strong=True)
                return
            strong = self.first_strong and n == 0
            used = letter.block(box, words, TextSize.COACH, LINES_EACH, strong=strong)
            box.setTop(used.bottom() + line * 0.7)


class PreviewPane(Paragraphs):
    """What would change, sentence by sentence, after what is wrong, line by line."""

    def show_preview(self, preview: AnyPreview, note: str) -> None:
        """Paint this preview; `note` answers what somebody just did."""
        wrong = [f"× {error.in_words()}" for error in preview.errors]
        changes = [sentence for sentence, _ in preview.changes]
        head = f"{len(changes)} changes, {len(wrong)} lines cannot be used" if changes or wrong else NOTHING
        self.say(*(part for part in (note, head, *wrong, *changes) if part))


class WarmupPane(Paragraphs):
    """What the warm-up load of the chosen plan can show."""

    first_strong = False
