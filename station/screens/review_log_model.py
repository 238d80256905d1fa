"""The session log as a Qt table of any length: it holds the pages that were looked at last, and asks for others."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, QTimer, Signal

from station.capture.rack_view import Unit
from station.capture.review_log import LogLine
from station.readiness.plates import load_words
from station.store.session_log import PAGE_SETS, LogIndex

Index = QModelIndex | QPersistentModelIndex
NOWHERE = QModelIndex()
MOST_PAGES = 40
RESTS_MS = 40
NOT_READ_YET = "…"
COLUMNS = ("Day", "Time", "Athlete", "Lift", "Load", "Set", "Reps", "Best m/s", "Loss", "Rack", "Look at")
RIGHT = {"Load", "Reps", "Best m/s", "Loss"}
NOTHING_YET = (NOT_READ_YET,) * len(COLUMNS)
# Plain numbers: asked for some thousand times a second while somebody scrolls.
_ROLES = Qt.ItemDataRole
WORDS = frozenset((int(_ROLES.DisplayRole), int(_ROLES.ToolTipRole), int(_ROLES.AccessibleTextRole)))
ALIGNED = int(_ROLES.TextAlignmentRole)
TO_THE_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
TO_THE_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


def log_cells(line: LogLine, unit: Unit) -> tuple[str, ...]:
    """What the columns of the log say of a set."""
    return (
        f"{line.day:%Y-%m-%d}",
        f"{line.at:%H:%M}",
        line.athlete,
        line.lift,
        load_words(line.load_kg, unit),
        line.kind,
        str(line.reps),
        "–" if line.best_m_s is None else f"{line.best_m_s:.2f}",
        "–" if line.loss is None else f"{100.0 * line.loss:.0f} %",
        line.rack,
        ", ".join(line.marks),
    )


class LogModel(QAbstractTableModel):
    """Windowed: rows exist as soon as their number is known, their words when their page has come.

    Signals:
        page_wanted: the number of a page that is looked at and not here.
    """

    page_wanted = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self.index_shown: LogIndex | None = None
        self.unit: Unit = "kg"
        self._pages: OrderedDict[int, tuple[LogLine, ...]] = OrderedDict()
        # One page is on its way at a time; of those wanted meanwhile the last: where somebody scrolls now.
        self._on_its_way: int | None = None
        self._next: int | None = None
        self._stale: set[int] = set()
        self._rests = QTimer(self, singleShot=True, interval=RESTS_MS)
        self._rests.timeout.connect(self._ask_now)
        self._cells: dict[int, tuple[str, ...]] = {}  # by row, of what was painted of the pages that are here

    # -- what it holds ---------------------------------------------------------------------------------------------

    def show_index(self, index: LogIndex) -> None:
        """Other sets, or the same anew; their pages are asked for as they are looked at."""
        same = self.index_shown is not None and (index.starts, index.sets) == (
            self.index_shown.starts,
            self.index_shown.sets,
        )
        if not same:
            self.beginResetModel()
        self.index_shown = index
        self._on_its_way = self._next = None
        self._rests.stop()
        if same:  # what is shown stays until its page has come again
            self._stale = set(self._pages)
            self._ask_for_stale()
            return
        self._pages.clear()
        self._stale.clear()
        self._cells.clear()
        self.endResetModel()

    def put_page(self, index: LogIndex, page: int, lines: tuple[LogLine, ...]) -> None:
        """A page has come; one of an earlier question is left aside."""
        if index is not self.index_shown:
            return
        self._on_its_way = None
        self._stale.discard(page)
        self._pages[page] = lines
        self._pages.move_to_end(page)
        self._cells.clear()
        while len(self._pages) > MOST_PAGES:
            self._stale.discard(self._pages.popitem(last=False)[0])
        first = page * PAGE_SETS
        self.dataChanged.emit(
            self.index(first, 0), self.index(first + max(len(lines), 1) - 1, len(COLUMNS) - 1)
        )
        wanted, self._next = self._next, None
        if wanted is not None and (wanted not in self._pages or wanted in self._stale):
            self._ask(wanted)
        else:
            self._ask_for_stale()

    def show_unit(self, unit: Unit) -> None:
        """Loads in this unit."""
        self.unit = unit
        self._cells.clear()
        if self.rowCount():
            self.dataChanged.emit(self.index(0, 0), self.index(self.rowCount() - 1, len(COLUMNS) - 1))

    def line(self, row: int) -> LogLine | None:
        """The set in a row, as far as its page is here."""
        page = row // PAGE_SETS
        lines = self._pages.get(page)
        if lines is None:
            self._ask(page)
            return None
        self._pages.move_to_end(page)
        place = row % PAGE_SETS
        return lines[place] if place < len(lines) else None

    def cells(self, row: int) -> tuple[str, ...]:
        """The words of a row's columns; of a page that is not here yet, that it is not."""
        found = self._cells.get(row)
        if found is None:
            line = self.line(row)
            if line is None:
                return NOTHING_YET
            found = self._cells[row] = log_cells(line, self.unit)
        return found

    def lines(self, rows: Iterable[int]) -> list[LogLine]:
        """The sets of these rows, as far as they are here."""
        return [line for line in map(self.line, rows) if line is not None]

    def row_of(self, set_id: str) -> int | None:
        """Where a set stands, as far as its page is here."""
        for page, lines in self._pages.items():
            for place, line in enumerate(lines):
                if line.set_id == set_id:
                    return page * PAGE_SETS + place
        return None

    def _ask(self, page: int) -> None:
        """Nothing is read while somebody scrolls on: reading would take the time that painting needs."""
        if page in (self._on_its_way, self._next):
            return
        self._next = page
        if self._on_its_way is None:
            self._rests.start()

    def _ask_now(self) -> None:
        page, self._next = self._next, None
        if page is not None and self._on_its_way is None:
            self._on_its_way = page
            self.page_wanted.emit(page)

    def _ask_for_stale(self) -> None:
        """Pages of before a correction, the one looked at last first."""
        page = next((page for page in reversed(self._pages) if page in self._stale), None)
        if page is not None:
            self._ask(page)

    # -- Qt's side -------------------------------------------------------------------------------------------------

    def rowCount(self, parent: Index = NOWHERE) -> int:
        """Sets in all."""
        return 0 if parent.isValid() or self.index_shown is None else self.index_shown.sets

    def columnCount(self, parent: Index = NOWHERE) -> int:
        """Columns of the log."""
        return 0 if parent.isValid() else len(COLUMNS)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Words; figures stand to the right."""
        if role in WORDS:
            return self.cells(index.row())[index.column()]
        if role == ALIGNED and COLUMNS[index.column()] in RIGHT:
            return TO_THE_RIGHT
        return None

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        """Columns by name."""
        if orientation is not Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return COLUMNS[section]
        if role == ALIGNED and COLUMNS[section] in RIGHT:
            return TO_THE_RIGHT
        return None
