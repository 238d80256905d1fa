"""The head of the review desk: what is shown, what was just done, who is signed in, undo, the unit."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QComboBox, QWidget

from station.capture.rack_view import Unit
from station.screens.desk_fields import pin_field
from station.screens.kiosk_who import SmallButton
from station.screens.page import in_a_row
from station.screens.review_fields import fill
from station.screens.roster_panes import Paragraphs
from station.screens.squad_wording import count_unwell_words
from station.screens.theme import OTHER_CONTROL_MM, Look, TextSize

NOBODY = "not signed in"
UNDO = "Undo"
WORDS_SHARE = 0.44


class ReviewHead(QWidget):
    """Words at the left, controls at the right.

    Signals:
        signed: somebody chose a name ("" to sign out) or typed a PIN: name, PIN.
    """

    signed = Signal(str, str)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.words = Paragraphs(look, self)
        self._count, self._said, self._unwell = "", "", ""
        self.staff = QComboBox(self)
        self.staff.setAccessibleName("signed in")
        self.staff.view().setMinimumWidth(look.metrics.mm(60.0))
        self.staff.currentIndexChanged.connect(self._chosen)
        self.pin = pin_field(self)
        self.pin.returnPressed.connect(self._chosen)
        self.unit, self.undo = SmallButton("kg", look, self), SmallButton(UNDO, look, self)
        self.undo.setEnabled(False)
        self.show_unit("kg")
        self.show_staff(())

    def show_staff(self, names: tuple[str, ...]) -> None:
        """Who may sign in."""
        fill(self.staff, [(NOBODY, ""), *((name, name) for name in names)])

    def signed_out(self) -> None:
        """Nobody is signed in any more."""
        self.staff.blockSignals(True)
        self.staff.setCurrentIndex(0)
        self.staff.blockSignals(False)

    def ask_pin(self, wanted: bool) -> None:
        """Whether a PIN is to be typed."""
        self.pin.setVisible(wanted)
        self._lay_out()
        if wanted:
            self.pin.setFocus()

    def show_unit(self, unit: Unit) -> None:
        """Loads are shown in this unit; the key has the other."""
        self.unit.set_words(unit, spoken=f"loads in {unit}; touch for the other unit")

    def show_undo(self, words: str) -> None:
        """What would be taken back; "" for nothing."""
        self.undo.setEnabled(bool(words))
        self.undo.set_words(UNDO, spoken=f"Undo: {words}" if words else UNDO)
        self.undo.setToolTip(words)

    def count(self, words: str) -> None:
        """How many sets there are."""
        self._count = words
        self._show()

    def show_unwell(self, count: int) -> None:
        """How many entries of pain or illness are open: counted on every staff screen."""
        self._unwell = count_unwell_words(count)
        self._show()

    def say(self, words: str) -> None:
        """What was just done, or why not."""
        self._said = words
        self._show()

    @property
    def said(self) -> str:
        """What was said last."""
        return self._said

    def height_needed(self) -> int:
        """A control's height, or what two lines of words need, px."""
        metrics = self.look.metrics
        return max(metrics.mm(OTHER_CONTROL_MM), round(2.6 * metrics.line_px(TextSize.COACH)))

    def _show(self) -> None:
        counted = " · ".join(part for part in (self._count, self._unwell) if part)
        self.words.say(*(part for part in (self._said, counted) if part))

    def _chosen(self) -> None:
        pin = self.pin.text()
        self.pin.clear()
        self.signed.emit(str(self.staff.currentData() or ""), pin)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Words at the left, controls at the right."""
        self._lay_out()

    def _lay_out(self) -> None:
        metrics = self.look.metrics
        row, left = metrics.mm(OTHER_CONTROL_MM), round(self.width() * WORDS_SHARE)
        controls: list[QWidget] = [self.unit, self.undo, *([self.pin] if self.pin.isVisibleTo(self) else [])]
        in_a_row([*controls, self.staff], left, 0, self.width() - left, row, metrics.gap, last=2.2)
        self.words.setGeometry(0, 0, left - metrics.gap, self.height())
