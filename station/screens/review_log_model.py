"""The session log as a Qt table of any length: it holds the pages that were looked at last, and asks for others."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal

from station.capture.rack_view import Unit
from station.capture.review_log import LogLine
from station.readiness.plates import load_words
from station.store.session_log import PAGE_SETS, LogIndex

Index = QModelIndex | QPersistentModelIndex
NOWHERE = QModelIndex()
MOST_PAGES = 40
NOT_READ_YET = "…"
COLUMNS = ("Day", "Time", "Athlete", "Lift", "Load", "Set", "Reps", "Best m/s", "Loss", "Rack", "Look at")
RIGHT = {"Load", "Reps", "Best m/s", "Loss"}


def log_cell(line: LogLine, column: str, unit: Unit) -> str:
    """What a column of the log says of a set."""
    return {
        "Day": f"{line.day:%Y-%m-%d}",
        "Time": f"{line.at:%H:%M}",
        "Athlete": line.athlete,
        "Lift": line.lift,
        "Load": load_words(line.load_kg, unit),
        "Set": line.kind,
        "Reps": str(line.reps),
        "Best m/s": "–" if line.best_m_s is None else f"{line.best_m_s:.2f}",
        "Loss": "–" if line.loss is None else f"{100.0 * line.loss:.0f} %",
        "Rack": line.rack,
        "Look at": ", ".join(line.marks),
    }[column]


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
        self._asked: set[int] = set()

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
        if same:  # what is shown stays until its page has come again
            self._asked.clear()
            for page in list(self._pages):
                self._ask(page)
            return
        self._pages.clear()
        self._asked.clear()
        self.endResetModel()

    def put_page(self, index: LogIndex, page: int, lines: tuple[LogLine, ...]) -> None:
        """A page has come; one of an earlier question is left aside."""
        if index is not self.index_shown:
            return
        self._asked.discard(page)
        self._pages[page] = lines
        self._pages.move_to_end(page)
        while len(self._pages) > MOST_PAGES:
            self._pages.popitem(last=False)
        first = page * PAGE_SETS
        self.dataChanged.emit(
            self.index(first, 0), self.index(first + max(len(lines), 1) - 1, len(COLUMNS) - 1)
        )

    def show_unit(self, unit: Unit) -> None:
        """Loads in this unit."""
        self.unit = unit
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
        if page not in self._asked:
            self._asked.add(page)
            self.page_wanted.emit(page)

    # -- Qt's side -------------------------------------------------------------------------------------------------

    def rowCount(self, parent: Index = NOWHERE) -> int:
        """Sets in all."""
        return 0 if parent.isValid() or self.index_shown is None else self.index_shown.sets

    def columnCount(self, parent: Index = NOWHERE) -> int:
        """Columns of the log."""
        return 0 if parent.isValid() else len(COLUMNS)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Words; figures stand to the right."""
        column = COLUMNS[index.column()]
        if role in (
            Qt.ItemDataRole.DisplayRole,
            Qt.ItemDataRole.ToolTipRole,
            Qt.ItemDataRole.AccessibleTextRole,
        ):
            line = self.line(index.row())
            return NOT_READ_YET if line is None else log_cell(line, column, self.unit)
        if role == Qt.ItemDataRole.TextAlignmentRole and column in RIGHT:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        return None

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        """Columns by name."""
        if orientation is not Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return COLUMNS[section]
        if role == Qt.ItemDataRole.TextAlignmentRole and COLUMNS[section] in RIGHT:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        return None
