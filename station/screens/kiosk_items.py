"""The five items on one screen, one touch each, with words at both ends; below, what else may be said."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import QPainter, QResizeEvent
from PySide6.QtWidgets import QWidget

from station.capture.checkin import Form
from station.screens.controls import TouchButton
from station.screens.lettering import Align, Letterer
from station.screens.painted import Painted
from station.screens.theme import Look, TextSize
from station.squad.checkins import CAUTION, HIGHEST, ITEMS, LOWEST

ANSWER_MM, QUESTION_MM = 18.5, 48.0
OPTIONS = ("It hurts", "I feel ill", "I want to talk", "Sleep, note", "Not today", "Done")


class KioskItems(Painted):
    """Emits `answered(item, value)` and `option(name)`."""

    answered = Signal(str, int)
    option = Signal(str)

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(look, parent)
        self._form: Form | None = None
        self._words = ""
        self.answers: dict[tuple[str, int], TouchButton] = {}
        for item in ITEMS:
            for value in range(LOWEST, HIGHEST + 1):
                self.answers[item.key, value] = self._answer_button(item.key, value)
        self.options = {name: self._option_button(name) for name in OPTIONS}
        self.options["Done"].set_primary(True)

    def _answer_button(self, item: str, value: int) -> TouchButton:
        button = TouchButton(str(value), self.look, self, large=True)
        question = next(i for i in ITEMS if i.key == item)
        end = {LOWEST: f", {question.worst}", HIGHEST: f", {question.best}"}.get(value, "")
        button.set_words(str(value), spoken=f"{question.question} {value} of {HIGHEST}{end}")
        button.setCheckable(True)
        button.setProperty("item", item)
        button.clicked.connect(self._answer_clicked)
        return button

    def _option_button(self, name: str) -> TouchButton:
        button = TouchButton(name, self.look, self)
        button.setProperty("option", name)
        button.clicked.connect(self._option_clicked)
        return button

    def show_form(self, form: Form, words: str = "") -> None:
        """Paint what has been said so far."""
        self._form, self._words = form, words
        for (item, value), button in self.answers.items():
            button.setChecked(form.answers.get(item) == value)
        said = {
            "It hurts": f"{len(form.pains)} places"
            if len(form.pains) > 1
            else "1 place"
            if form.pains
            else "",
            "I feel ill": "yes" if form.ill else "",
            "I want to talk": "yes" if form.wants_talk else "",
            "Sleep, note": "said" if form.note or form.hours_slept is not None else "",
        }
        for name, sub in said.items():
            self.options[name].set_words(name, sub)
        self.update()

    def words(self) -> str:
        """The line at the top: the caution once pain or illness was said."""
        if self._form is None:
            return ""
        if self._form.needs_caution:
            return CAUTION
        return self._words or f"{self._form.athlete.name}: how are you today?"

    def _answer_clicked(self) -> None:
        button = self.sender()
        assert isinstance(button, TouchButton)
        self.answered.emit(str(button.property("item")), int(button.words))

    def _option_clicked(self) -> None:
        self.option.emit(str(self.sender().property("option")))

    # -- layout and paint ----------------------------------------------------------------------------------------

    def _rows(self) -> tuple[float, float, float]:
        """Top of the first row, its height with the gap, and left edge of the answers."""
        metrics = self.look.metrics
        top = 2 * metrics.line_px(TextSize.COACH) + 2 * metrics.gap
        foot = metrics.control_height + 2 * metrics.gap
        widest = self.width() - 5 * (metrics.mm(ANSWER_MM) + metrics.gap / 2) - self._words_width()
        left = min(widest, metrics.mm(QUESTION_MM) + self._words_width())
        return top, (self.height() - top - foot) / len(ITEMS), left

    def _words_width(self) -> int:
        return self.look.metrics.mm(33.0)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Five rows and a row of options."""
        metrics = self.look.metrics
        top, row, left = self._rows()
        gap, width = metrics.gap / 2, metrics.mm(ANSWER_MM)
        for (item, value), button in self.answers.items():
            index = next(i for i, one in enumerate(ITEMS) if one.key == item)
            button.setMinimumSize(1, 1)
            button.setGeometry(
                round(left + (value - 1) * (width + gap)),
                round(top + index * row),
                width,
                round(row - metrics.gap),
            )
        share = (self.width() + gap) / len(OPTIONS)
        for index, button in enumerate(self.options.values()):
            button.setGeometry(
                round(index * share),
                self.height() - metrics.control_height,
                round(share - gap),
                metrics.control_height,
            )

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Questions at the left, the words of both ends beside the answers."""
        metrics = self.look.metrics
        letter.block(
            QRectF(0, metrics.gap / 2, self.width(), 0), self.words(), TextSize.COACH, 2, strong=True
        )
        top, row, left = self._rows()
        words = self._words_width()
        for index, item in enumerate(ITEMS):
            middle = top + index * row + (row - metrics.gap) / 2
            self._centred(
                letter, QRectF(0, middle, left - words - metrics.gap, 0), item.question, strong=True
            )
            ends = (
                (item.worst, left - words - metrics.gap, Align.RIGHT),
                (item.best, left + 5 * (metrics.mm(ANSWER_MM) + metrics.gap / 2) + metrics.gap, Align.LEFT),
            )
            for word, x, align in ends:
                self._centred(letter, QRectF(x, middle, words - metrics.gap / 2, 0), word, align=align)

    def _centred(
        self, letter: Letterer, at: QRectF, word: str, *, align: Align = Align.LEFT, strong: bool = False
    ) -> None:
        high = letter.height(word, at.width(), TextSize.COACH, 2, strong=strong)
        letter.block(at.translated(0, -high / 2), word, TextSize.COACH, 2, align=align, strong=strong)
