"""The row of fields with which sets are corrected, and the keys that do it: the same for one set and for many."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QComboBox, QLineEdit, QWidget

from station.capture.rack_view import Unit
from station.capture.review_log import LogChoices
from station.readiness.plates import KG_PER_LB
from station.screens.kiosk_who import SmallButton
from station.screens.page import in_a_row
from station.screens.theme import OTHER_CONTROL_MM, Look

MOVE, NAME_LIFT, CHANGE_LOAD, COMMENT = "Move", "Name lift", "Change load", "Comment"
OPEN, SEASON, PRINT_DAY = "Open", "Athlete", "Print day"
OF_THE_LOG = (OPEN, SEASON, PRINT_DAY)
KEYS = (*OF_THE_LOG, MOVE, NAME_LIFT, CHANGE_LOAD, COMMENT)


def fill(box: QComboBox, items: list[tuple[str, Any]]) -> None:
    """Offer these, keeping what was chosen."""
    if [(box.itemText(n), box.itemData(n)) for n in range(box.count())] == items:
        return
    kept = box.currentData() if box.count() else None
    box.blockSignals(True)
    box.clear()
    for words, data in items:
        box.addItem(words, data)
    places = [n for n, (_, data) in enumerate(items) if data == kept]
    box.setCurrentIndex(places[0] if places else 0)
    box.blockSignals(False)


class CorrectionFields(QWidget):
    """To whom, which lift, which load, why or what to say; below it the keys.

    Signals:
        wanted: a key was touched, by its word.
    """

    wanted = Signal(str)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.athlete, self.lift = QComboBox(self), QComboBox(self)
        self.athlete.setAccessibleName("move to athlete")
        self.lift.setAccessibleName("lift it was")
        self.load, self.why = QLineEdit(self), QLineEdit(self)
        self.load.setAccessibleName("load it was")
        self.why.setAccessibleName("why, or the comment")
        self.why.setPlaceholderText("why, or the comment; nothing about health")
        self.keys = {name: SmallButton(name, look, self) for name in KEYS}
        for name, button in self.keys.items():
            button.setProperty("name", name)
            button.clicked.connect(self._touched)
        self.show_unit("kg")
        self.show_choices(LogChoices())

    def show_choices(self, choices: LogChoices) -> None:
        """Who and what can be chosen."""
        nobody: list[tuple[str, Any]] = [("to whom?", None)]
        fill(self.athlete, nobody + [(name, key) for key, name in choices.athletes])
        fill(self.lift, [("which lift?", None), *((lift, lift) for lift in choices.lifts)])

    def show_unit(self, unit: Unit) -> None:
        """Loads are typed in this unit."""
        self.unit = unit
        self.load.setPlaceholderText(f"load in {unit}")

    def load_kg(self) -> float | None:
        """What was typed, kg; None where it is no number."""
        try:
            typed = float(self.load.text().replace(",", "."))
        except ValueError:
            return None
        return typed * (KG_PER_LB if self.unit == "lb" else 1.0)

    def clear(self) -> None:
        """After it was done: what was typed was for that."""
        self.load.clear()
        self.why.clear()
        self.athlete.setCurrentIndex(0)
        self.lift.setCurrentIndex(0)

    def height_needed(self) -> int:
        """Two rows, px."""
        return 2 * self.look.metrics.mm(OTHER_CONTROL_MM) + self.look.metrics.gap

    def for_the_log(self, yes: bool) -> None:
        """With the keys that open what is chosen in the log, or without."""
        for name in OF_THE_LOG:
            self.keys[name].setVisible(yes)
        self._lay_out()

    def _touched(self) -> None:
        self.wanted.emit(str(self.sender().property("name")))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fields above keys."""
        self._lay_out()

    def _lay_out(self) -> None:
        row, gap = self.look.metrics.mm(OTHER_CONTROL_MM), self.look.metrics.gap
        in_a_row([self.athlete, self.lift, self.load, self.why], 0, 0, self.width(), row, gap, last=1.6)
        keys = [button for button in self.keys.values() if button.isVisibleTo(self)]
        in_a_row(keys, 0, row + gap, self.width(), row, gap)
