"""The page of the session log: what is asked for above, the sets below, newest first."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QTimer, Signal
from PySide6.QtGui import QFontMetricsF, QResizeEvent
from PySide6.QtWidgets import QComboBox, QLineEdit, QWidget

from station.capture.rack_view import Unit
from station.capture.review_log import LogAsked, LogChoices, LogLine
from station.screens.page import in_a_row
from station.screens.review_fields import fill
from station.screens.review_log_model import COLUMNS, LogModel
from station.screens.review_log_table import LogTable
from station.screens.theme import OTHER_CONTROL_MM, Look, TextSize
from station.screens.typeface import font
from station.store.session_log import LogIndex

MOST_AT_ONCE = 500
EVERYBODY, UNNAMED = "everybody", "nobody named"
DAYS: tuple[tuple[str, int | None], ...] = (
    ("all days", None),
    ("today", 0),
    ("last 7 days", 6),
    ("last 28 days", 27),
    ("last 12 months", 365),
)
TYPED_SOON_MS = 200
LEAST_FOR_NAMES = 0.45
# The widest that stands in a column that is never elided; the others share what is left.
WIDEST = {
    "Day": "2026-10-14",
    "Time": "09:00",
    "Load": "1000.5 lb",
    "Set": "warm-up",
    "Reps": "Reps",
    "Best m/s": "Best m/s",
    "Loss": "100 %",
}
# Left out where names would have too little room.
LEFT_OUT = ("Time", "Set", "Loss", "Rack")
SHARED = {"Athlete": 1.35, "Lift": 0.9, "Rack": 0.55, "Look at": 1.2}


class ReviewLogPage(QWidget):
    """Filters, search, and the sets.

    Signals:
        asked: something else is asked for (`LogAsked`).
        set_opened: somebody wants to see this set (id).
        selection_changed: other sets are chosen.
    """

    asked = Signal(object)
    set_opened = Signal(str)
    selection_changed = Signal()

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.unit: Unit = "kg"
        self.days, self.athlete, self.lift, self.rack = (QComboBox(self) for _ in range(4))
        for box, name in (
            (self.days, "days"),
            (self.athlete, "athlete"),
            (self.lift, "lift"),
            (self.rack, "rack"),
        ):
            box.setAccessibleName(f"show {name}")
            box.currentIndexChanged.connect(self._ask)
        fill(self.days, list(DAYS))
        self.search = QLineEdit(self)
        self.search.setPlaceholderText("search: name, shirt, lift, 62.5, 2026-10, a comment")
        self.search.setAccessibleName("search")
        self._soon = QTimer(self, singleShot=True, interval=TYPED_SOON_MS)
        self._soon.timeout.connect(self._ask)
        self.search.textEdited.connect(lambda _text: self._soon.start())
        self.search.returnPressed.connect(self._search_now)
        self.model = LogModel()
        self.table = LogTable(self.model, look, self)
        self.table.opened.connect(self._open_current)
        self.table.doubleClicked.connect(self._open_current)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self.selection_changed.emit())
        self.show_choices(LogChoices())

    # -- what it shows ---------------------------------------------------------------------------------------------

    def show_choices(self, choices: LogChoices) -> None:
        """What can be asked for, keeping what was chosen."""
        people: list[tuple[str, str | None]] = [(EVERYBODY, None), (UNNAMED, "")]
        fill(self.athlete, people + [(name, key) for key, name in choices.athletes])
        fill(self.lift, [("all lifts", None), *((lift, lift) for lift in choices.lifts)])
        fill(self.rack, [("all racks", None), *((rack, rack) for rack in choices.racks)])

    def show_index(self, index: LogIndex) -> None:
        """Other sets; the place in the table is kept as far as there is one."""
        bar, row = self.table.verticalScrollBar(), self.table.currentIndex().row()
        at = bar.value()
        self.model.show_index(index)
        bar.setValue(at)
        if row >= 0 and not self.table.currentIndex().isValid() and self.model.rowCount():
            place = self.model.index(min(row, self.model.rowCount() - 1), 0)
            self.table.selectionModel().setCurrentIndex(
                place, self.table.selectionModel().SelectionFlag.NoUpdate
            )

    def show_unit(self, unit: Unit) -> None:
        """Loads in this unit."""
        self.unit = unit
        self.model.show_unit(unit)

    def wanted(self) -> LogAsked:
        """What is asked for now."""
        return LogAsked(
            self.days.currentData(),
            self.athlete.currentData(),
            self.lift.currentData(),
            self.rack.currentData(),
            self.search.text(),
            self.unit,
        )

    def chosen(self) -> list[LogLine]:
        """The sets that are chosen, as far as they are here; in order of the table."""
        return self.model.lines(self.chosen_rows())

    def chosen_rows(self) -> list[int]:
        """Their rows; at most some hundreds are counted out, since nobody means more."""
        rows: list[int] = []
        selection = self.table.selectionModel().selection()
        for part in map(selection.at, range(selection.count())):
            rows += range(part.top(), min(part.bottom() + 1, part.top() + MOST_AT_ONCE + 1))
        return sorted(set(rows))

    def neighbour(self, set_id: str, step: int) -> str | None:
        """The set before (-1) or after (1) this one in the table."""
        row = self.model.row_of(set_id)
        if row is None or not 0 <= row + step < self.model.rowCount():
            return None
        self.table.selectRow(row + step)
        line = self.model.line(row + step)
        return None if line is None else line.set_id

    # -- what people do --------------------------------------------------------------------------------------------

    def _ask(self) -> None:
        self.asked.emit(self.wanted())

    def _search_now(self) -> None:
        self._soon.stop()
        self._ask()
        self.table.setFocus()

    def _open_current(self, _index: QModelIndex | None = None) -> None:
        line = self.current()
        if line is not None:
            self.set_opened.emit(line.set_id)

    def current(self) -> LogLine | None:
        """The set that the cursor stands on, as far as it is here."""
        place = self.table.currentIndex()
        return self.model.line(place.row()) if place.isValid() else None

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Filters in a row, the table below."""
        metrics = self.look.metrics
        row, gap, width = metrics.mm(OTHER_CONTROL_MM), metrics.gap, self.width()
        in_a_row(
            [self.days, self.athlete, self.lift, self.rack, self.search], 0, 0, width, row, gap, last=2.0
        )
        self.table.setGeometry(0, row + gap, width, self.height() - row - gap)
        room = width - 2 * metrics.gap - 4 * metrics.hairline
        face = QFontMetricsF(font(metrics, TextSize.COACH))
        widths = {name: face.horizontalAdvance(words) + 2.2 * gap for name, words in WIDEST.items()}
        narrow = room - sum(widths.values()) < LEAST_FOR_NAMES * room
        for n, name in enumerate(COLUMNS):
            self.table.setColumnHidden(n, narrow and name in LEFT_OUT)
        shown = [name for name in COLUMNS if not (narrow and name in LEFT_OUT)]
        left = room - sum(widths[name] for name in shown if name in widths)
        share = max(left, 0.0) / sum(part for name, part in SHARED.items() if name in shown)
        widths |= {name: part * share for name, part in SHARED.items()}
        for name in shown:
            self.table.setColumnWidth(COLUMNS.index(name), int(widths[name]))
