"""The foot of the screen in large print: four words, each of which opens a page of choices."""

from __future__ import annotations

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from station.capture.rack_view import RackView
from station.screens.control_row import decision_pending
from station.screens.controls import TouchButton
from station.screens.theme import Look
from station.screens.wording import load_words


class LargeRow(QWidget):
    """Who lifts, the bar, the set (or the decision that waits), and everything else."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.who = TouchButton("Who", look, self, key="A")
        self.bar = TouchButton("Bar", look, self, key="B")
        self.set = TouchButton("Set", look, self, key="S")
        self.more = TouchButton("More", look, self, key="M")
        self.pending = False

    def buttons(self) -> tuple[TouchButton, ...]:
        """From the left."""
        return (self.who, self.bar, self.set, self.more)

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        self.look = look
        for button in self.buttons():
            button.set_look(look)

    def show_view(self, view: RackView) -> None:
        """The words of this state."""
        self.pending = decision_pending(view)
        self.who.set_primary(view.next_athlete_id is not None)
        self.bar.set_words("Bar", spoken=f"bar: {load_words(view.load_kg, view.unit)}, {view.lift}")
        self.set.set_words(
            "Load?" if self.pending else "Set", spoken="decide about the load" if self.pending else ""
        )
        self.set.set_primary(self.pending)
        self.set.setEnabled(self.pending or view.set is not None)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Equal shares."""
        gap = self.look.metrics.gap
        each = (self.width() - 3 * gap) / 4
        for index, button in enumerate(self.buttons()):
            button.setGeometry(round(index * (each + gap)), 0, round(each), self.height())
