"""The check-in's other pages: where it hurts, sleep and note, consent, thanks."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QResizeEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from station.capture.checkin import Form
from station.screens.controls import TouchButton
from station.screens.kiosk_who import SmallButton
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.theme import Look, TextSize
from station.squad.checkins import CAUTION, MIDDLE_REGIONS, SIDED_REGIONS, Pain

SIDED_COLUMNS = 4
HOURS = (4.0, 5.0, 6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0, 10.0, 11.0, 12.0)


class KioskPain(Painted):
    """Where it hurts: regions in words. Emits `hurts(Pain)` and `back()`."""

    hurts = Signal(object)
    back = Signal()

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(look, parent)
        self.places = {Pain(region): self._button(Pain(region), region) for region in MIDDLE_REGIONS}
        for region in SIDED_REGIONS:
            for side in ("left", "right"):
                pain = Pain(region, side)
                self.places[pain] = self._button(pain, side)
        self.back_button = SmallButton("Back to the questions", look, self)
        self.back_button.set_primary(True)
        self.back_button.clicked.connect(self.back)
        self.hide()

    def _button(self, pain: Pain, word: str) -> TouchButton:
        button = TouchButton(word, self.look, self)
        button.set_words(word, spoken=f"it hurts: {pain.in_words()}")
        button.setCheckable(True)
        button.setProperty("place", (pain.region, pain.side))
        button.clicked.connect(self._clicked)
        return button

    def _clicked(self) -> None:
        region, side = self.sender().property("place")
        self.hurts.emit(Pain(region, side))

    def show_form(self, form: Form) -> None:
        """Mark the places that were said."""
        for pain, button in self.places.items():
            button.setChecked(pain in form.pains)
        self.update()

    def _cell(self) -> tuple[float, float, float]:
        """Top of the sided regions, width and height of one."""
        metrics = self.look.metrics
        top = 2 * metrics.line_px(TextSize.COACH) + metrics.mm(13.0) + 3 * metrics.gap
        foot = metrics.mm(14.0) + metrics.gap
        rows = len(SIDED_REGIONS) // SIDED_COLUMNS
        return top, self.width() / SIDED_COLUMNS, (self.height() - top - foot) / rows

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A row for what is in the middle, a grid for what has two sides."""
        metrics = self.look.metrics
        gap = metrics.gap
        share = (self.width() + gap / 2) / len(MIDDLE_REGIONS)
        top, wide, high = self._cell()
        for button in self.places.values():
            button.setMinimumSize(1, 1)
        for index, region in enumerate(MIDDLE_REGIONS):
            self.places[Pain(region)].setGeometry(
                round(index * share),
                round(top - 2 * gap - metrics.mm(13.0)),
                round(share - gap / 2),
                metrics.mm(13.0),
            )
        name = metrics.line_px(TextSize.COACH)
        half = (wide - 1.5 * gap) / 2
        for index, region in enumerate(SIDED_REGIONS):
            row, column = divmod(index, SIDED_COLUMNS)
            for n, side in enumerate(("left", "right")):
                self.places[Pain(region, side)].setGeometry(
                    round(column * wide + n * (half + gap / 2)),
                    round(top + row * high + name),
                    round(half),
                    round(high - name - gap),
                )
        self.back_button.setGeometry(
            self.width() // 2, self.height() - metrics.mm(14.0), self.width() // 2, metrics.mm(14.0)
        )

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """The caution from the first touched place on, and the names of what has two sides."""
        said = any(button.isChecked() for button in self.places.values())
        words = CAUTION if said else "Where does it hurt? Touch every place; touch again to take it back."
        letter.block(
            QRectF(0, self.look.metrics.gap / 2, self.width(), 0), words, TextSize.COACH, 2, strong=said
        )
        top, wide, high = self._cell()
        for index, region in enumerate(SIDED_REGIONS):
            row, column = divmod(index, SIDED_COLUMNS)
            letter.block(
                QRectF(column * wide, top + row * high, wide - self.look.metrics.gap, 0),
                region,
                TextSize.COACH,
                1,
            )


class KioskMore(Painted):
    """Hours slept and a note. Emits `slept(hours)`, `wrote(text)` and `back()`."""

    slept = Signal(float)
    wrote = Signal(str)
    back = Signal()

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(look, parent)
        self.hours = {h: self._hour(h) for h in HOURS}
        self.note = QLineEdit(self)
        self.note.setMaxLength(1000)
        self.note.setAccessibleName("note for staff")
        self.note.setStyleSheet(field_style(look))
        self.note.textEdited.connect(self.wrote)
        self.back_button = SmallButton("Back to the questions", look, self)
        self.back_button.set_primary(True)
        self.back_button.clicked.connect(self.back)
        self.hide()

    def _hour(self, hours: float) -> TouchButton:
        button = TouchButton(f"{hours:g}", self.look, self, large=True)
        button.set_words(f"{hours:g}", spoken=f"{hours:g} hours slept")
        button.setCheckable(True)
        button.setProperty("hours", hours)
        button.clicked.connect(self._clicked)
        return button

    def _clicked(self) -> None:
        self.slept.emit(float(self.sender().property("hours")))

    def show_form(self, form: Form) -> None:
        """What was said so far."""
        for hours, button in self.hours.items():
            button.setChecked(form.hours_slept == hours)
        if self.note.text() != form.note:
            self.note.setText(form.note)
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Hours in two rows, the note below."""
        metrics = self.look.metrics
        gap, line = metrics.gap, metrics.line_px(TextSize.COACH) + metrics.gap
        columns = len(HOURS) // 2
        share = (self.width() + gap / 2) / columns
        high = metrics.mm(20.0)
        for index, button in enumerate(self.hours.values()):
            row, column = divmod(index, columns)
            button.setGeometry(
                round(column * share), round(line + row * (high + gap / 2)), round(share - gap / 2), high
            )
        below = round(2 * line + 2 * (high + gap))
        self.note.setGeometry(0, below, self.width(), metrics.mm(13.0))
        self.back_button.setGeometry(
            self.width() // 2, self.height() - metrics.mm(14.0), self.width() // 2, metrics.mm(14.0)
        )

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """What is asked."""
        metrics = self.look.metrics
        letter.block(
            QRectF(0, metrics.gap / 2, self.width(), 0), "How many hours did you sleep?", TextSize.COACH, 1
        )
        top = self.note.y() - metrics.line_px(TextSize.COACH)
        letter.block(QRectF(0, top, self.width(), 0), "A note, which medical staff read", TextSize.COACH, 1)


class KioskSheet(Painted):
    """A sheet of words with up to three keys: consent, two of one number, thanks. Emits `chosen(index)`."""

    chosen = Signal(int)

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(look, parent)
        self.title, self.text = "", ""
        self.buttons: list[TouchButton] = []
        self.hide()

    def show_words(self, title: str, text: str, keys: Sequence[str], primary: int = -1) -> None:
        """Say this, and offer these keys."""
        self.title, self.text = title, text
        for button in self.buttons:
            button.hide()
            button.deleteLater()
        self.buttons = []
        for index, key in enumerate(keys):
            button = TouchButton(key, self.look, self)
            button.setProperty("index", index)
            button.set_primary(index == primary)
            button.clicked.connect(self._clicked)
            button.show()
            self.buttons.append(button)
        self.setAccessibleName(f"{title} {text}")
        self._lay_out()
        self.update()

    def _clicked(self) -> None:
        self.chosen.emit(int(self.sender().property("index")))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A sheet without keys goes away at a touch."""
        if not self.buttons:
            self.chosen.emit(-1)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keys at the foot."""
        self._lay_out()

    def _lay_out(self) -> None:
        metrics = self.look.metrics
        share = (self.width() + metrics.gap) / max(len(self.buttons), 1)
        for index, button in enumerate(self.buttons):
            button.setGeometry(
                round(index * share),
                self.height() - metrics.control_height,
                round(share - metrics.gap),
                metrics.control_height,
            )

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Title and text from the top."""
        metrics = self.look.metrics
        box = QRectF(0, metrics.gap, self.width(), 0)
        used = letter.block(box, self.title, TextSize.READING, 3, strong=True)
        box.setTop(used.bottom() + metrics.line_px(TextSize.READING))
        letter.block(box, self.text, TextSize.COACH, 12)


def field_style(look: Look) -> str:
    """A line for typing in the theme's colours and a legible size."""
    palette, metrics = look.palette, look.metrics
    return (
        f"QLineEdit {{ background: {palette.surface}; color: {palette.ink}; padding: {metrics.gap // 2}px; "
        f"border: {metrics.hairline}px solid {palette.line}; font-family: 'IBM Plex Sans Condensed'; "
        f"font-size: {metrics.font_px(TextSize.COACH)}px; }}"
    )
