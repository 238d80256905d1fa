"""The coach's drawer: a page of 20 mm choices over the right column; the number stays in sight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from station.screens.controls import TouchButton
from station.screens.covering_page import CoveringPage
from station.screens.theme import Look

COLUMNS = 2
DEAF_MS = 400
MOST_ROWS = 5


@dataclass(frozen=True, slots=True)
class Choice:
    """One choice: what is emitted when it is touched, what stands on it, whether it is the current one."""

    key: str
    words: str
    sub: str = ""
    current: bool = False


class Drawer(CoveringPage):
    """Emits `chosen(key)` and closes. Escape closes without a choice."""

    chosen = Signal(str)

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(look, parent)
        self._title = ""
        self._choices: tuple[Choice, ...] = ()
        self._page = 0
        self._deaf = QTimer(self, singleShot=True, interval=DEAF_MS)
        self.buttons = [TouchButton("", look, self) for _ in range(COLUMNS * (MOST_ROWS - 1))]
        for button in self.buttons:
            button.clicked.connect(self._button_clicked)
        self.close_button = TouchButton("Close", look, self)
        self.close_button.clicked.connect(self.close_page)
        self.more_button = TouchButton("More", look, self)
        self.more_button.clicked.connect(self._turn_page)

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        self.look = look
        for button in (*self.buttons, self.close_button, self.more_button):
            button.set_look(look)
        self.update()

    def open_page(self, title: str, choices: Sequence[Choice]) -> None:
        """Show these choices."""
        self._title, self._choices, self._page = title, tuple(choices), 0
        self.setAccessibleName(title)
        self._fill()
        self.show()
        self.raise_()
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    def refill(self, choices: Sequence[Choice]) -> None:
        """The same page with what holds now; touches meant for what stood there before are not taken."""
        if tuple(choices) == self._choices:
            return
        self._choices = tuple(choices)
        pages = max(1, -(-len(self._choices) // self._on_a_page()))
        self._page = min(self._page, pages - 1)
        self._deaf.start()
        self._fill()

    def _rows(self) -> int:
        """As many rows as 20 mm allow, the last one for close and more."""
        gap, metrics = self.look.metrics.gap, self.look.metrics
        control = metrics.control_height if metrics.large_print else metrics.control
        return max(2, min(MOST_ROWS, (self.height() + gap) // (control + gap)))

    def _on_a_page(self) -> int:
        return COLUMNS * (self._rows() - 1)

    def _fill(self) -> None:
        start = self._page * self._on_a_page()
        shown = self._choices[start : start + self._on_a_page()]
        for index, button in enumerate(self.buttons):
            button.setVisible(index < len(shown))
            if index < len(shown):
                button.set_words(shown[index].words, shown[index].sub)
                button.set_primary(shown[index].current)
                button.setProperty("choice", shown[index].key)
        self.close_button.set_words("Close", self._title)
        self.more_button.setVisible(len(self._choices) > self._on_a_page())

    def _button_clicked(self) -> None:
        button = self.sender()
        if isinstance(button, TouchButton) and not self._deaf.isActive():
            self.close_page()
            self.chosen.emit(str(button.property("choice")))

    def _turn_page(self) -> None:
        pages = -(-len(self._choices) // self._on_a_page())
        self._page = (self._page + 1) % max(1, pages)
        self._fill()
        if self.more_button.hasFocus():  # who came by Tab goes on with the new page's first choice
            self.buttons[0].setFocus(Qt.FocusReason.TabFocusReason)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A grid of equal cells; close and more in the last row."""
        gap, rows = self.look.metrics.gap, self._rows()
        width = (self.width() - (COLUMNS - 1) * gap) / COLUMNS
        height = (self.height() - (rows - 1) * gap) / rows
        places = [*self.buttons[: self._on_a_page()], self.close_button, self.more_button]
        for index, button in enumerate(places):
            row, column = divmod(index, COLUMNS)
            button.setGeometry(
                round(column * (width + gap)), round(row * (height + gap)), round(width), round(height)
            )
        if self.isVisible():
            self._page = 0
            self._fill()
