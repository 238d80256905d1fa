"""Who stands here: a name to touch, or a shirt number or badge typed and Enter."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF, QSize, Signal
from PySide6.QtGui import QPainter, QResizeEvent
from PySide6.QtWidgets import QWidget

from station.screens.controls import TouchButton
from station.screens.lettering import Align, Letterer
from station.screens.painted import Painted
from station.screens.theme import OTHER_CONTROL_MM, Look, TextSize
from station.screens.wording import NO_BREAK
from station.squad.athletes import Athlete

NAME_WIDTH_MM, NAME_HEIGHT_MM = 27.5, 12.2
KEYS = ("1", "2", "3", "4", "5", "6", "7", "8", "9", "Clear", "0", "Enter")
MOST_DIGITS = 6
FEWEST_COLUMNS = 4


class KioskWho(Painted):
    """Emits `chosen(Athlete)` for a touched name, `typed(str)` for a number with Enter, `left()` for the key back.

    Args:
        leave: the word on a key that leads back to another screen; "" for none.
    """

    chosen = Signal(object)
    typed = Signal(str)
    left = Signal()

    def __init__(self, look: Look, parent: QWidget, leave: str = "") -> None:
        super().__init__(look, parent)
        self.leave_key = SmallButton(leave, look, self)
        self.leave_key.setVisible(bool(leave))
        self.leave_key.clicked.connect(self.left)
        self.names: list[TouchButton] = []
        self.pages: list[TouchButton] = []
        self.number_key = SmallButton("Number", look, self)
        self.number_key.set_words("Number", spoken="type a shirt number")
        self.number_key.clicked.connect(self._open_keys)
        self.keys = {key: TouchButton(key, look, self, large=key.isdigit()) for key in KEYS}
        for key, button in self.keys.items():
            button.setProperty("key", key)
            button.clicked.connect(self._key_clicked)
            button.hide()
        self._people: list[Athlete] = []
        self._page = 0
        self._number = ""
        self._words = ""

    # -- what it shows -------------------------------------------------------------------------------------------

    def show_people(self, people: Sequence[Athlete], words: str = "") -> None:
        """Offer these names, by page; `words` answers a number that led nowhere."""
        self._people, self._words = list(people), words
        self._number = ""
        self._page = min(self._page, max(self._page_count() - 1, 0))
        self._fill()

    def digit(self, key: str) -> None:
        """One more digit of a number."""
        self._number = (self._number + key)[-MOST_DIGITS:]
        self._words = ""
        self.update()

    def enter(self) -> None:
        """The number is complete."""
        number, self._number = self._number, ""
        if number:
            self.typed.emit(number)
        self.update()

    @property
    def typing(self) -> bool:
        """A number has been begun."""
        return bool(self._number)

    def words(self) -> str:
        """The line at the top."""
        return self._words or (f"Number {self._number}, then Enter" if self._number else "Who are you?")

    # -- names ---------------------------------------------------------------------------------------------------

    def _grid(self) -> tuple[int, int, QRectF]:
        """Columns, rows and place of the names."""
        metrics = self.look.metrics
        top = metrics.mm(NAME_HEIGHT_MM) + metrics.gap
        box = QRectF(0, top, self.width(), self.height() - top)
        if self._paged(box):
            box.setBottom(box.bottom() - metrics.mm(NAME_HEIGHT_MM) - metrics.gap)
        return (*self._cells(box), box)

    def _cells(self, box: QRectF) -> tuple[int, int]:
        metrics = self.look.metrics
        gap = metrics.gap / 2
        most = max(1, int((box.width() + gap) // (metrics.mm(NAME_WIDTH_MM) + gap)))
        rows = max(1, int((box.height() + gap) // (metrics.mm(NAME_HEIGHT_MM) + gap)))
        # As few columns as do: the wider a key, the more of a long name is on it.
        columns = min(most, max(FEWEST_COLUMNS, -(-len(self._people) // rows)))
        return columns, rows

    def _paged(self, box: QRectF) -> bool:
        columns, rows = self._cells(box)
        return len(self._people) > columns * rows

    def _page_count(self) -> int:
        columns, rows, _ = self._grid()
        return -(-len(self._people) // (columns * rows))

    def _fill(self) -> None:
        """Make the buttons of this page."""
        self._show_keys(visible=False)
        for button in (*self.names, *self.pages):
            button.hide()
            button.deleteLater()
        self.names, self.pages = [], []
        columns, rows, _ = self._grid()
        size = columns * rows
        for athlete in self._people[self._page * size : (self._page + 1) * size]:
            self.names.append(self._name_button(athlete))
        for page in range(self._page_count() if len(self._people) > size else 0):
            self.pages.append(self._page_button(page, self._people[page * size : (page + 1) * size]))
        self._lay_out()
        self.update()

    def _name_button(self, athlete: Athlete) -> TouchButton:
        button = SmallButton(athlete.name, self.look, self)
        number = f"{athlete.shirt_number}{NO_BREAK}" if athlete.shirt_number is not None else ""
        button.set_words(f"{number}{athlete.name}", spoken=f"{athlete.name}, shirt {athlete.shirt_number}")
        button.setProperty("athlete_id", athlete.athlete_id)
        button.clicked.connect(self._name_clicked)
        return button

    def _page_button(self, page: int, people: Sequence[Athlete]) -> TouchButton:
        button = SmallButton(f"{people[0].name[:3]} – {people[-1].name[:3]}", self.look, self)
        button.setCheckable(True)
        button.setChecked(page == self._page)
        button.setProperty("page", page)
        button.clicked.connect(self._page_clicked)
        return button

    def _name_clicked(self) -> None:
        athlete_id = self.sender().property("athlete_id")
        self.chosen.emit(next(a for a in self._people if a.athlete_id == athlete_id))

    def _page_clicked(self) -> None:
        self._page = int(self.sender().property("page"))
        self._fill()

    def _open_keys(self) -> None:
        self._show_keys(visible=not self.keys["0"].isVisibleTo(self))

    def _show_keys(self, *, visible: bool) -> None:
        """The number pad in place of the names."""
        self._number = ""
        for button in self.keys.values():
            button.setVisible(visible)
        for button in (*self.names, *self.pages):
            button.setVisible(not visible)
        self.update()

    def _key_clicked(self) -> None:
        key = str(self.sender().property("key"))
        if key.isdigit():
            self.digit(key)
        elif key == "Enter":
            self.enter()
        else:
            self._number = ""
            self.update()

    # -- layout and paint ----------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        """As many names as fit."""
        self._fill()

    def _lay_out(self) -> None:
        metrics = self.look.metrics
        columns, rows, box = self._grid()
        gap = metrics.gap / 2
        width, height = (
            (box.width() - (columns - 1) * gap) / columns,
            (box.height() - (rows - 1) * gap) / rows,
        )
        height = min(height, metrics.mm(NAME_HEIGHT_MM + 4.0))
        for index, button in enumerate(self.names):
            row, column = divmod(index, columns)
            _place(
                button, box.left() + column * (width + gap), box.top() + row * (height + gap), width, height
            )
        foot, share = metrics.mm(NAME_HEIGHT_MM), box.width() / max(len(self.pages), 1)
        for index, button in enumerate(self.pages):
            _place(button, box.left() + index * share, self.height() - foot, share - gap, foot)
        key, side = metrics.mm(NAME_WIDTH_MM), metrics.control
        _place(self.number_key, self.width() - key, 0, key, foot)
        if self.leave_key.words:
            _place(self.leave_key, self.width() - 2 * key - gap, 0, key, foot)
        for index, button in enumerate(self.keys.values()):
            row, column = divmod(index, 3)
            left = (self.width() - 3 * side) / 2 + column * (side + gap)
            button.setGeometry(round(left), round(box.top() + row * (side + gap)), side, side)

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """The question, or what was typed."""
        metrics = self.look.metrics
        keys = 2 if self.leave_key.words else 1
        box = QRectF(0, 0, self.width() - keys * metrics.mm(NAME_WIDTH_MM + 2.0), metrics.mm(NAME_HEIGHT_MM))
        letter.line(box, self.words(), TextSize.READING)


class SmallButton(TouchButton):
    """A key of two lines, no lower than 12 mm: for lists outside a session."""

    def sizeHint(self) -> QSize:
        """The smallest size outside a session."""
        return QSize(self.look.metrics.mm(OTHER_CONTROL_MM), self.look.metrics.mm(OTHER_CONTROL_MM))

    def _words(self, letter: Letterer, box: QRectF) -> None:
        inner = box.adjusted(self.look.metrics.gap * 0.6, 0, -self.look.metrics.gap * 0.6, 0)
        high = letter.height(self.words, inner.width(), TextSize.COACH, 2, strong=True)
        inner.setTop(box.center().y() - high / 2)
        letter.block(inner, self.words, TextSize.COACH, 2, align=Align.CENTRE, strong=True)


def _place(button: TouchButton, left: float, top: float, width: float, height: float) -> None:
    button.setMinimumSize(1, 1)
    button.setGeometry(round(left), round(top), round(width), round(height))
    button.show()
