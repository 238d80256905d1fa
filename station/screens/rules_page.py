"""The rules of the squad day: each figure in words with a step down and a step up; what changes is seen at once."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import QPainter, QResizeEvent
from PySide6.QtWidgets import QWidget

from station.readiness.rules_adjusted import FIGURES, Figure
from station.readiness.squad_rules import SquadRules
from station.screens.kiosk_who import SmallButton
from station.screens.lettering import Align, Letterer
from station.screens.page import in_a_row
from station.screens.painted import Painted
from station.screens.theme import OTHER_CONTROL_MM, Look, TextSize

COLUMNS = 2
KEYS = ("Back to the list", "Undo", "As delivered")
FIXED = "The day after a match is not judged. Missing is unknown, never fine."
VALUE_SHARE = 0.28


class RulesPage(Painted):
    """Emits `changed(SquadRules)` for every step, `undone()` and `left()`."""

    changed = Signal(object)
    undone = Signal()
    left = Signal()

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(look, parent)
        self.rules = SquadRules()
        self.steps: dict[tuple[str, int], SmallButton] = {}
        for figure in FIGURES:
            for by, sign, spoken in ((-1, "−", "less"), (1, "+", "more")):
                button = SmallButton(sign, look, self)
                button.set_words(sign, spoken=f"{figure.words}: {spoken}")
                button.setProperty("step", (figure.key, by))
                button.clicked.connect(self._step)
                self.steps[figure.key, by] = button
        self.keys = {name: SmallButton(name, look, self) for name in KEYS}
        self.keys["Back to the list"].clicked.connect(self.left)
        self.keys["Undo"].clicked.connect(self.undone)
        self.keys["As delivered"].clicked.connect(self._as_delivered)

    def show_rules(self, rules: SquadRules) -> None:
        """These hold."""
        self.rules = rules
        for figure in FIGURES:
            for by in (-1, 1):
                self.steps[figure.key, by].setEnabled(figure.moved(rules, by) != rules)
        self.setAccessibleName(" ".join(self.words()))
        self.update()

    def open(self) -> None:
        """Show the page, its first key in focus."""
        self.show()
        self.keys["Back to the list"].setFocus()

    def words(self) -> list[str]:
        """What stands here."""
        return [*(f"{figure.words} {figure.in_words(self.rules)}." for figure in FIGURES), FIXED]

    def _step(self) -> None:
        key, by = self.sender().property("step")
        figure = next(figure for figure in FIGURES if figure.key == key)
        self.changed.emit(figure.moved(self.rules, by))

    def _as_delivered(self) -> None:
        self.changed.emit(SquadRules())

    # -- geometry --------------------------------------------------------------------------------------------------

    def _cell(self, n: int) -> QRectF:
        """Column by column."""
        metrics = self.look.metrics
        row = metrics.mm(OTHER_CONTROL_MM)
        rows = -(-len(FIGURES) // COLUMNS)
        wide = (self.width() - 3 * metrics.gap * (COLUMNS - 1)) / COLUMNS
        column, line = divmod(n, rows)
        return QRectF(column * (wide + 3 * metrics.gap), line * (row + metrics.gap), wide, row)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Words at the left of each cell, its value between the two keys at the right; keys at the foot."""
        row = self.look.metrics.mm(OTHER_CONTROL_MM)
        for n, figure in enumerate(FIGURES):
            cell = self._cell(n)
            right = round(cell.right())
            self.steps[figure.key, 1].setGeometry(right - row, round(cell.top()), row, row)
            left = round(right - row - VALUE_SHARE * cell.width() - row)
            self.steps[figure.key, -1].setGeometry(left, round(cell.top()), row, row)
        in_a_row(list(self.keys.values()), 0, self.height() - row, self.width(), row, self.look.metrics.gap)

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """A line each; below them what nobody can change, and where there is room the rules as sentences."""
        metrics = self.look.metrics
        for n, figure in enumerate(FIGURES):
            self._paint_figure(letter, figure, self._cell(n))
        box = QRectF(0, self._cell(len(FIGURES) // COLUMNS - 1).bottom() + 2 * metrics.gap, self.width(), 0)
        room = self.height() - metrics.mm(OTHER_CONTROL_MM)
        for words in (FIXED, *self.rules.in_words()):
            if box.top() + letter.height(words, box.width(), TextSize.COACH, 2) > room:
                return
            box.setTop(
                letter.block(box, words, TextSize.COACH, 2).bottom() + metrics.line_px(TextSize.COACH) * 0.75
            )

    def _paint_figure(self, letter: Letterer, figure: Figure, cell: QRectF) -> None:
        down, up = (self.steps[figure.key, by].geometry() for by in (-1, 1))
        words = QRectF(cell.left(), 0, down.left() - cell.left() - self.look.metrics.gap, 0)
        high = letter.height(figure.words, words.width(), TextSize.COACH, 2)
        words.moveTop(cell.center().y() - high / 2)
        letter.block(words, figure.words, TextSize.COACH, 2)
        value = QRectF(down.right(), 0, up.left() - down.right(), 0)
        said = figure.in_words(self.rules)
        high = letter.height(said, value.width(), TextSize.COACH, 2, strong=True)
        value.moveTop(cell.center().y() - high / 2)
        letter.block(value, said, TextSize.COACH, 2, align=Align.CENTRE, strong=True)
