"""The squad day: the list, what staff do with its entries, filters, rules, two printed pages.

On a wide screen list and detail stand side by side; on a narrow one (10 inches) one of them has all the room.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QRect, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QComboBox, QWidget

from station.capture.squad_day import SquadDay
from station.capture.squad_desk import SquadDesk
from station.readiness.squad_list import Entry
from station.readiness.squad_rules import SquadRules
from station.screens.a4_pdf import PrintFailed
from station.screens.desk_fields import offer, pin_field, scrolled
from station.screens.desk_style import desk_style
from station.screens.entry_keys import AGAIN, EntryKeys
from station.screens.entry_keys import LOADS_AGAIN as LOADS_AGAIN
from station.screens.kiosk_who import SmallButton
from station.screens.page import PageWindow, in_a_row
from station.screens.rules_page import RulesPage
from station.screens.squad_detail import SquadDetail
from station.screens.squad_filters import SquadFilters
from station.screens.squad_head import SquadHead
from station.screens.squad_print import print_page
from station.screens.squad_rows import SquadRows
from station.screens.theme import OTHER_CONTROL_MM, ScreenGeometry, ThemeName
from station.squad.athletes import TrainingStatus
from station.squad.status import Restriction
from station.store.errors import StoreError

LOOK_EVERY_MS = 5000
LIST_SHARE = 0.6
SIDE_BY_SIDE_MM = 260.0
BACK = "Back to the list"
NOBODY = "not signed in"
NOT_PRINTED = "Not printed: this page holds check-in answers. Print for coaches has none."
FOOT = ("Print", "Print for coaches", "Rules", "Roster and plans", "Room")


class SquadDayWindow(PageWindow):
    """The staff's screen.

    Args:
        desk: reads and writes the record.
        prints: folder of the printed pages.

    Signals:
        roster_wanted: somebody wants the roster, calendar and plans.
        room_wanted: somebody wants to see all racks.
    """

    roster_wanted = Signal()
    room_wanted = Signal()

    def __init__(self, desk: SquadDesk, theme: ThemeName, screen: ScreenGeometry, prints: Path) -> None:
        super().__init__(theme, screen)
        self.desk, self._prints = desk, prints
        self._read = desk.read()
        self.day: SquadDay = desk.shown(self._read)
        self._shown = self._read
        self._chosen: str | None = None
        self.head = SquadHead(self.look, self)
        self.rows = SquadRows(self.look)
        self.area = scrolled(self.rows, self)
        self.detail = SquadDetail(self.look, self)
        self.filters = SquadFilters(self, self._filter_changed)
        self.staff = QComboBox(self)
        self.pin = pin_field(self)
        self.entry_keys = EntryKeys(self.look, self)
        self.keys, self.medical = self.entry_keys.keys, self.entry_keys.medical
        self.note = self.entry_keys.note
        self.rules_page = RulesPage(self.look, self)
        self.rules_page.hide()
        self.back = SmallButton(BACK, self.look, self)
        self.foot = {name: SmallButton(name, self.look, self) for name in FOOT}
        self.setStyleSheet(desk_style(self.look))
        self._connect()
        self._timer = QTimer(self, interval=LOOK_EVERY_MS)
        self._timer.timeout.connect(self.look_again)
        self._timer.start()
        self.setWindowTitle("Squad day · bar-speed station")
        self.show_day()

    def _connect(self) -> None:
        self.rows.chosen.connect(self.choose)
        self.staff.setAccessibleName("signed in")
        self.staff.currentTextChanged.connect(self._signed_in)
        self.pin.returnPressed.connect(self._signed_in)
        self.entry_keys.acted.connect(self._act)
        self.entry_keys.medical_acted.connect(self._medical_act)
        for name, button in self.foot.items():
            button.setProperty("name", name)
            button.clicked.connect(self._foot)
        self.back.clicked.connect(self._back)
        QShortcut(QKeySequence("Escape"), self).activated.connect(self._back)
        for key, by in (("PgDown", 1), ("PgUp", -1)):
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.setProperty("by", by)
            shortcut.activated.connect(self._step)
        self.rules_page.left.connect(self._back)
        self.rules_page.changed.connect(self._use_rules)
        self.rules_page.undone.connect(self._undo_rules)

    # -- what it shows -------------------------------------------------------------------------------------------

    def look_again(self) -> None:
        """Read anew when a record of this machine has changed; sign out whoever has left."""
        self._somebody_here(touched=False)
        if self.desk.changed():
            self._read_again()
        else:
            self.desk.get_ready()

    def show_day(self, note: str = "") -> None:
        """Paint what was read, as far as the one who is signed in may see it."""
        if self.day.shut == self.desk.answers_open or self._shown is not self._read:
            self.day, self._shown = self.desk.shown(self._read), self._read
        day = self.day
        self.filters.offer(day.athletes)
        offer(self.staff, [(NOBODY, ""), *((name, name) for name in day.roles)])
        self.head.show_day(day, note, self.desk.shut_words)
        shown = [entry for entry in day.list.entries if self.filters.chosen().shows(entry)]
        medical = self.desk.medical(day)
        self.rows.show_entries(shown, day.list.day, self._chosen, medical=medical, measures=day.measures)
        self._show_chosen()
        self._lay_out()

    def entry(self) -> Entry | None:
        """The chosen athlete's entry."""
        ids = {e.athlete.line.athlete.athlete_id: e for e in self.day.list.entries}
        return ids.get(self._chosen or "")

    def choose(self, entry: Entry | None) -> None:
        """Show this athlete's detail; None: the rules."""
        self._somebody_here()
        self._chosen = None if entry is None else entry.athlete.line.athlete.athlete_id
        self.note.clear()
        self.show_day()
        if entry is not None:
            box = self.rows.row_box(entry.athlete.line.athlete.athlete_id)
            self.area.ensureVisible(0, round(box.center().y()), 0, round(box.height()))

    def _show_chosen(self) -> None:
        entry, medical = self.entry(), self.desk.medical(self.day)
        if entry is None:
            self.detail.show_rules(self.desk.rules)
        else:
            self.detail.show_entry(entry, self.day.list.day, medical=medical, measures=self.day.measures)
        self.rules_page.show_rules(self.desk.rules)
        self.entry_keys.show_entry(entry, medical=medical)

    # -- what people do ------------------------------------------------------------------------------------------

    def _somebody_here(self, *, touched: bool = True) -> None:
        """Before anything is done: whoever has left is signed out, and answers are shut."""
        if self.desk.lock_when_idle():
            self.note.clear()
            self.staff.setCurrentIndex(0)
            self.show_day()
        elif touched:
            self.desk.touched()

    def _filter_changed(self) -> None:
        self._somebody_here()
        self.show_day()

    def _signed_in(self) -> None:
        pin, name = self.pin.text(), self.staff.currentData() or None
        self.pin.clear()
        words = self.desk.sign_in(name, pin)
        self.pin.setVisible(name is not None and not self.desk.answers_open)
        self.show_day(words or self.desk.pin_words)
        if words:
            self.pin.setFocus()

    def _back(self) -> None:
        """From the rules, or from one athlete, to the list."""
        self.rules_page.hide()
        self.choose(None)
        self.rows.setFocus()

    def _step(self) -> None:
        """The next athlete of the list, or the one before, also while one of them has all the room."""
        if not self.rules_page.isVisibleTo(self):
            self.rows.step(int(self.sender().property("by")))

    def _use_rules(self, rules: SquadRules) -> None:
        if self.desk.staff is None:
            self.show_day("Sign in first: rules are changed by somebody.")
            return
        self._carry_out(lambda: self.desk.use_rules(rules))

    def _undo_rules(self) -> None:
        self._carry_out(self.desk.undo_rules)

    def _act(self, name: str) -> None:
        self._somebody_here()
        entry = self.entry()
        if entry is None:
            return
        if self.desk.staff is None:
            self.show_day("Sign in first: an entry is taken and closed by somebody.")
            return
        note = self.note.text().strip() if self.desk.medical(self.day) else ""
        if name == "Take":
            self._carry_out(lambda: self.desk.take(entry))
        elif name == AGAIN:
            self._carry_out(lambda: self.desk.reopen(entry))
        else:
            self._carry_out(lambda: self.desk.close(entry, name, note))

    def _medical_act(self, name: str) -> None:
        self._somebody_here()
        entry = self.entry()
        if entry is None or not self.desk.medical(self.day):
            return
        athlete_id = entry.athlete.line.athlete.athlete_id
        if name == LOADS_AGAIN:
            self._carry_out(lambda: self.desk.let_load_again(athlete_id))
        else:
            status = Restriction(TrainingStatus(name.removeprefix("Status: ")))
            self._carry_out(lambda: self.desk.set_status(athlete_id, status))

    def _carry_out(self, act: Callable[[], None]) -> None:
        note = ""
        try:
            act()
            self.note.clear()
        except StoreError as error:
            note = f"Not saved: {error}"
        self._read_again(note)

    def _read_again(self, note: str = "") -> None:
        self._read = self.desk.read()
        self.show_day(note)

    def _foot(self) -> None:
        name = str(self.sender().property("name"))
        self._somebody_here()
        if name == "Rules":
            self.rules_page.open()
            self.show_day()
        elif name == "Roster and plans":
            self.roster_wanted.emit()
        elif name == "Room":
            self.room_wanted.emit()
        else:
            self._print(coaches=name != "Print")

    def _print(self, *, coaches: bool) -> None:
        if self.day.shut and not coaches:
            self.show_day(NOT_PRINTED)
            return
        kind = "coaches" if coaches else "staff"
        file = self._prints / f"squad-day-{self.day.list.day}-{kind}.pdf"
        try:
            print_page(self.day, self.desk.now, file, coaches=coaches, rules=self.desk.rules)
            words = f"Printed to {file}"
        except PrintFailed as error:
            words = str(error)
        self.show_day(words)

    # -- layout --------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the window out again."""
        self._lay_out()

    def _lay_out(self) -> None:
        metrics = self.look.metrics
        pad, gap, row = 2 * metrics.gap, metrics.gap, metrics.mm(OTHER_CONTROL_MM)
        width = self.width() - 2 * pad
        head = self.head.height_for(width)
        self.head.setGeometry(pad, pad // 2, width, head)
        top = pad // 2 + head + gap
        choices: list[QWidget] = [*self.filters.boxes.values(), self.staff]
        if self.pin.isVisibleTo(self):
            choices.insert(-1, self.pin)
        self.staff.view().setMinimumWidth(metrics.mm(60.0))
        in_a_row(choices, pad, top, width, row, gap, last=1.7)
        top += row + gap
        foot = self.height() - pad // 2 - row
        in_a_row(list(self.foot.values()), pad, foot, width, row, gap)
        room = QRect(pad, top, width, foot - gap - top)
        self.rules_page.setGeometry(room)
        ruled = self.rules_page.isVisibleTo(self)
        narrow = self.width() < self.look.metrics.mm(SIDE_BY_SIDE_MM)
        alone = narrow and self.entry() is not None
        self.area.setVisible(not ruled and not alone)
        self.detail.setVisible(not ruled and (alone or not narrow))
        self.entry_keys.setVisible(self.detail.isVisibleTo(self))
        self.back.setVisible(alone and not ruled)
        if alone:
            self._lay_out_alone(room, row, gap)
        else:
            self._lay_out_side_by_side(room, width if narrow else round(width * LIST_SHARE), gap)

    def _lay_out_side_by_side(self, room: QRect, split: int, gap: int) -> None:
        """The list at the left, detail and keys in what is left beside it."""
        self.area.setGeometry(
            room.left(), room.top(), split - (2 * gap if split < room.width() else 0), room.height()
        )
        right = QRect(room.left() + split, room.top(), room.width() - split, room.height())
        high = self.entry_keys.height_needed()
        self.entry_keys.setGeometry(right.left(), right.bottom() + 1 - high, right.width(), high)
        self.entry_keys.lay_out()
        self.detail.setGeometry(
            right.left(), right.top(), right.width(), right.height() - high - (gap if high else 0)
        )

    def _lay_out_alone(self, room: QRect, row: int, gap: int) -> None:
        """One athlete on the whole room: what is known at the left, the keys at the right."""
        half = (room.width() - 2 * gap) // 2
        self.detail.setGeometry(room.left(), room.top(), half, room.height())
        left = room.right() + 1 - half
        self.back.setGeometry(left, room.top(), half, row)
        self.entry_keys.setGeometry(left, room.top() + row + gap, half, self.entry_keys.height_needed())
        self.entry_keys.lay_out()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop looking with the window."""
        self._timer.stop()
        super().closeEvent(event)
