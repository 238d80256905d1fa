"""The keys of one entry of the squad day: take and close it; for medical staff also status, loads and a note."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLineEdit, QWidget

from station.capture.squad_desk import OUTCOMES
from station.readiness.squad_list import Entry
from station.screens.kiosk_who import SmallButton
from station.screens.page import in_a_row
from station.screens.theme import OTHER_CONTROL_MM, Look
from station.squad.athletes import TrainingStatus

LOADS_AGAIN = "Loads again"
MEDICAL_KEYS = (*(f"Status: {status.value}" for status in TrainingStatus), LOADS_AGAIN)
AGAIN = "Open again"
IN_A_ROW = 4


class EntryKeys(QWidget):
    """Emits `acted(str)` for take and the outcomes, `medical_acted(str)` for what medical staff alone do."""

    acted = Signal(str)
    medical_acted = Signal(str)

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self.look = look
        self.note = QLineEdit(self)
        self.note.setPlaceholderText("note for medical staff")
        self.note.setAccessibleName("note for medical staff")
        self.keys = {name: SmallButton(name, look, self) for name in ("Take", *OUTCOMES, AGAIN)}
        self.medical = {name: SmallButton(name, look, self) for name in MEDICAL_KEYS}
        for group, clicked in ((self.keys, self._acted), (self.medical, self._medical_acted)):
            for name, button in group.items():
                button.setProperty("name", name)
                button.clicked.connect(clicked)

    def _acted(self) -> None:
        self.acted.emit(str(self.sender().property("name")))

    def _medical_acted(self) -> None:
        self.medical_acted.emit(str(self.sender().property("name")))

    def show_entry(self, entry: Entry | None, *, medical: bool) -> None:
        """The keys that make sense for it."""
        for name, button in self.keys.items():
            opened = entry is not None and entry.state != "closed"
            button.setVisible(opened if name != AGAIN else entry is not None and not opened)
        for widget in (*self.medical.values(), self.note):
            widget.setVisible(entry is not None and medical)

    def _lines(self) -> list[list[QWidget]]:
        """From the top; without those that are not shown."""
        keys = list(self.keys.values())
        lines: list[list[QWidget]] = [
            list(keys[:IN_A_ROW]),
            [*keys[IN_A_ROW:], self.medical[LOADS_AGAIN]],
            [self.note],
            [button for name, button in self.medical.items() if name != LOADS_AGAIN],
        ]
        shown = [[widget for widget in line if widget.isVisibleTo(self)] for line in lines]
        return [line for line in shown if line]

    def height_needed(self) -> int:
        """Pixels for what is shown."""
        row, gap = self.look.metrics.mm(OTHER_CONTROL_MM), self.look.metrics.gap
        return max(len(self._lines()) * (row + gap) - gap, 0)

    def lay_out(self) -> None:
        """Share the room out, a row each."""
        row, gap = self.look.metrics.mm(OTHER_CONTROL_MM), self.look.metrics.gap
        for n, line in enumerate(self._lines()):
            in_a_row(line, 0, n * (row + gap), self.width(), row, gap)
