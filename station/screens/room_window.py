"""The room: a line a rack, what waits for a decision, and the check round before a session."""

from __future__ import annotations

from PySide6.QtCore import QTimer
from PySide6.QtGui import QCloseEvent, QResizeEvent
from PySide6.QtWidgets import QComboBox, QLineEdit, QWidget

from station.capture.rack_view import Decision
from station.capture.room_desk import RoomDesk, RoomLine, RoomView
from station.screens.desk_fields import offer, pin_field, scrolled
from station.screens.desk_style import desk_style
from station.screens.kiosk_who import SmallButton
from station.screens.page import PageWindow, in_a_row
from station.screens.room_rows import RoomRows
from station.screens.room_wording import (
    CHECK_HEADS,
    SESSION_HEADS,
    check_cells,
    detail_words,
    head_words,
    session_cells,
    spare_words,
)
from station.screens.roster_panes import Paragraphs
from station.screens.squad_wording import count_unwell_words
from station.screens.theme import OTHER_CONTROL_MM, ScreenGeometry, TextSize, ThemeName
from station.squad.table_text import number_of
from station.store.errors import StoreError

LOOK_EVERY_MS = 500
STAFF_EVERY = 10  # looks
NOBODY = "not signed in"
SESSION_SHARES = (0.11, 0.22, 0.18, 0.16, 0.14, 0.19)
CHECK_SHARES = (0.10, 0.16, 0.19, 0.16, 0.12, 0.12, 0.15)
SESSION, CHECK = "Session", "Check round"
DECIDES = {"Use": Decision.USE, "Change": Decision.CHANGE, "Keep plan": Decision.KEEP_PLAN}
KEYS = {"Use": "Ctrl+U", "Change": "Ctrl+L", "Keep plan": "Ctrl+K", "Undo": "Ctrl+Z"}
LEAST_KG, MOST_KG = 1.0, 500.0
DETAIL_LINES = 7


class RoomWindow(PageWindow):
    """The desk's view of all racks.

    Args:
        desk: reads how racks stand, writes decisions.
    """

    def __init__(self, desk: RoomDesk, theme: ThemeName, screen: ScreenGeometry) -> None:
        super().__init__(theme, screen)
        self.desk = desk
        self.view: RoomView = desk.view()
        self.check = not self.view.begun
        self._chosen, self._note, self._looks = "", "", 0
        self.head = Paragraphs(self.look, self)
        self.detail = Paragraphs(self.look, self)
        self.rows = RoomRows(self.look)
        self.area = scrolled(self.rows, self)
        self.modes = {name: SmallButton(name, self.look, self) for name in (SESSION, CHECK)}
        self.keys = {name: SmallButton(name, self.look, self, key=key) for name, key in KEYS.items()}
        self.load = QLineEdit(self)
        self.load.setPlaceholderText("load, kg")
        self.load.setAccessibleName("load to change to, kg")
        self.staff = QComboBox(self)
        self.staff.setAccessibleName("signed in")
        self.pin = pin_field(self)
        self.setStyleSheet(desk_style(self.look))
        self._fill_staff()
        self._connect()
        self._timer = QTimer(self, interval=LOOK_EVERY_MS)
        self._timer.timeout.connect(self.look_again)
        self._timer.start()
        self.setWindowTitle("Room · bar-speed station")
        self.show_view(self.view)

    def _connect(self) -> None:
        self.rows.chosen.connect(self.choose)
        self.staff.currentTextChanged.connect(self._signed_in)
        self.pin.returnPressed.connect(self._signed_in)
        self.load.returnPressed.connect(self.keys["Change"].click)
        for group in (self.modes, self.keys):
            for name, button in group.items():
                button.setProperty("name", name)
        for button in self.modes.values():
            button.clicked.connect(self._mode)
        for button in self.keys.values():
            button.clicked.connect(self._act)

    # -- what it shows -------------------------------------------------------------------------------------------

    def look_again(self) -> None:
        """Twice a second: how the racks stand now; sign out whoever has left."""
        self._looks += 1
        if self.desk.sign_in.lock_when_idle():
            self.staff.setCurrentIndex(0)
        if self._looks % STAFF_EVERY == 0:
            self._fill_staff()
        self.show_view(self.desk.view())

    def show_view(self, view: RoomView) -> None:
        """Paint this."""
        self.view = view
        if self.check:
            cells = [(line.report.rack, check_cells(line, self.desk.today)) for line in view.lines]
            self.rows.show_rows(CHECK_HEADS, CHECK_SHARES, cells, self._chosen)
        else:
            cells = [(line.report.rack, session_cells(line)) for line in view.lines]
            self.rows.show_rows(SESSION_HEADS, SESSION_SHARES, cells, self._chosen)
        above = f"{head_words(view, check=self.check)} · {count_unwell_words(view.unwell)}"
        self.head.say(*(part for part in (above, self._note) if part))
        spares = spare_words(view.spares) if self.check else ""
        self.detail.say(*detail_words(self.line()), *([spares] if spares else []))
        for name, button in self.modes.items():
            button.set_primary((name == CHECK) == self.check)
        waits = self.line() is not None and bool(self.line_waits())
        for name in DECIDES:
            self.keys[name].setEnabled(waits)
        for widget in (*self.keys.values(), self.load):
            widget.setVisible(not self.check)
        self.load.setEnabled(waits)
        self.keys["Undo"].setEnabled(self.desk.can_undo)

    def line(self) -> RoomLine | None:
        """The chosen rack."""
        return next((line for line in self.view.lines if line.report.rack == self._chosen), None)

    def line_waits(self) -> int:
        """How many suggestions wait at the chosen rack."""
        line = self.line()
        return len(line.report.waiting) if line is not None else 0

    def _fill_staff(self) -> None:
        offer(self.staff, [(name, name) for name in (NOBODY, *self.desk.staff())])

    # -- what people do ------------------------------------------------------------------------------------------

    def choose(self, rack: str) -> None:
        """Show what there is to say of this rack."""
        self.desk.sign_in.touched()
        self._chosen, self._note = rack, ""
        self.load.clear()
        self.show_view(self.view)
        box = self.rows.row_box(rack)
        self.area.ensureVisible(0, round(box.center().y()), 0, round(1.5 * box.height()))

    def _mode(self) -> None:
        self.check = self.sender().property("name") == CHECK
        self.show_view(self.view)

    def _signed_in(self) -> None:
        pin = self.pin.text()
        self.pin.clear()
        name = self.staff.currentText()
        self._note = self.desk.sign_in.sign_in(None if name == NOBODY else name, pin)
        self.pin.setVisible(bool(self._note))
        self._lay_out()
        self.show_view(self.view)
        if self._note:
            self.pin.setFocus()

    def _act(self) -> None:
        name, line = str(self.sender().property("name")), self.line()
        try:
            if name == "Undo":
                self._note = self.desk.undo()
            elif line is not None:
                load = number_of(self.load.text().strip(), "the load", LEAST_KG, MOST_KG)
                self._note = self.desk.decide(line, DECIDES[name], load)
                self.load.clear()
        except (ValueError, StoreError) as error:
            self._note = f"Not decided: {error}"
        self.show_view(self.desk.view())

    # -- layout --------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the window out again."""
        self._lay_out()

    def _lay_out(self) -> None:
        """Words and who is signed in at the top, racks in the middle, the chosen one's words and keys below."""
        metrics = self.look.metrics
        pad, gap, row = 2 * metrics.gap, metrics.gap, metrics.mm(OTHER_CONTROL_MM)
        width = self.width() - 2 * pad
        line = metrics.line_px(TextSize.COACH)
        self.head.setGeometry(pad, pad // 2, width, round(2.6 * line))
        top = pad // 2 + round(2.6 * line) + gap
        choices: list[QWidget] = [*self.modes.values(), self.staff]
        if self.pin.isVisibleTo(self):
            choices.insert(-1, self.pin)
        self.staff.view().setMinimumWidth(metrics.mm(60.0))
        in_a_row(choices, pad, top, width, row, gap, last=1.7)
        top += row + gap
        foot = self.height() - pad // 2 - row
        in_a_row(
            [*list(self.keys.values())[:2], self.load, *list(self.keys.values())[2:]],
            pad,
            foot,
            width,
            row,
            gap,
        )
        detail = min(round(DETAIL_LINES * line), (foot - top) // 3)
        self.detail.setGeometry(pad, foot - gap - detail, width, detail)
        self.area.setGeometry(pad, top, width, foot - 2 * gap - detail - top)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop looking with the window."""
        self._timer.stop()
        super().closeEvent(event)
