"""The controls at the foot: load and bar, the set, undo; at the right the set's end or the coach's decision."""

from __future__ import annotations

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from station.capture.rack_view import RackView
from station.screens.controls import TouchButton
from station.screens.theme import Look
from station.screens.wording import load_words

BAR_BUTTON_SHARE = 1.7


def decision_pending(view: RackView) -> bool:
    """A load is suggested, nobody has answered, and no set is under way."""
    under_way = view.set is not None and view.set.is_open
    return (
        view.suggestion is not None
        and view.suggestion.load_kg is not None
        and view.decision is None
        and not under_way
    )


class ControlRow(QWidget):
    """Only buttons; the window knows what they do.

    Args:
        look: theme and sizes.
        split_px: where the right group begins (the window's right column).
    """

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.split_px = 0
        self.minus = TouchButton("−", look, self, key="-", large=True)
        self.bar = TouchButton("Bar", look, self, key="B")
        self.plus = TouchButton("+", look, self, key="+", large=True)
        self.this_set = TouchButton("This set", look, self, key="S")
        self.effort = TouchButton("Not full effort", look, self, key="F")
        self.undo = TouchButton("Undo", look, self, key="Ctrl+Z")
        self.end = TouchButton("End set", look, self, key="E")
        self.next = TouchButton("Next", look, self, key="N")
        self.use = TouchButton("Use", look, self, key="U")
        self.change = TouchButton("Change", look, self, key="C")
        self.keep = TouchButton("Keep plan", look, self, key="K")
        self._left = (self.minus, self.bar, self.plus, self.this_set, self.effort, self.undo)
        self._decide = (self.use, self.change, self.keep)
        self._set = (self.end, self.next)
        self._pending = False

    def buttons(self) -> tuple[TouchButton, ...]:
        """All of them, in tab order."""
        return (*self._left, *self._set, *self._decide)

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        self.look = look
        for button in self.buttons():
            button.set_look(look)

    def show_view(self, view: RackView) -> None:
        """Show the words of this state and the right group that fits it."""
        self._pending = decision_pending(view)
        self.minus.set_words("−", spoken="less load")
        self.plus.set_words("+", spoken="more load")
        self.bar.set_words(load_words(view.load_kg, view.unit), view.lift, spoken="bar: load and lift")
        not_full = view.set is not None and view.set.not_full_effort
        self.effort.set_words("Full effort" if not_full else "Not full effort")
        self.undo.setEnabled(view.can_undo)
        self.effort.setEnabled(view.set is not None)
        self.this_set.setEnabled(view.set is not None)
        self.end.setEnabled(view.set is not None and view.set.is_open)
        following = next((a for a in view.group if a.athlete_id == view.next_athlete_id), None)
        self.next.set_words("Next", following.name if following else "")
        self.next.setEnabled(following is not None)
        self.next.set_primary(following is not None and view.set is not None and not view.set.is_open)
        self._decision_words(view)
        for button in self._decide:
            button.setVisible(self._pending)
        for button in self._set:
            button.setVisible(not self._pending)

    def _decision_words(self, view: RackView) -> None:
        made = view.suggestion
        if made is None or made.load_kg is None:
            return
        self.use.set_words("Use", load_words(made.load_kg, view.unit))
        self.change.set_words("Change", "other load")
        plan = load_words(made.planned_kg, view.unit) if made.planned_kg is not None else ""
        self.keep.set_words("Keep plan", plan)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Left group: a wide bar button between squares, the rest shared out; right group: equal shares."""
        gap, control = self.look.metrics.gap, self.look.metrics.control
        each = (self.split_px - 6 * gap - 2 * control) / (3 + BAR_BUTTON_SHARE)
        shares = [control, round(BAR_BUTTON_SHARE * each), control, *3 * [round(each)]]
        left = 0
        for button, width in zip(self._left, shares, strict=True):
            button.setGeometry(left, 0, width, self.height())
            left += width + gap
        for group in (self._set, self._decide):
            each = (self.width() - self.split_px - gap * (len(group) - 1)) / len(group)
            for index, button in enumerate(group):
                button.setGeometry(round(self.split_px + index * (each + gap)), 0, round(each), self.height())
