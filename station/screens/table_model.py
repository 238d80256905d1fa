"""A table of text that is typed, pasted and imported; cells that differ from the record are marked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt
from PySide6.QtGui import QFont

from station.squad.table_text import Row

Index = QModelIndex | QPersistentModelIndex
NOWHERE = QModelIndex()


class TableModel(QAbstractTableModel):
    """Rows of text cells; one empty row at the end takes a new line."""

    def __init__(self) -> None:
        super().__init__()
        self._columns: tuple[str, ...] = ()
        self._cells: list[list[str]] = []
        self._keys: list[str | None] = []
        self._before: list[list[str]] = []

    def load(self, columns: Sequence[str], rows: Sequence[Row]) -> None:
        """Show these rows as the record has them."""
        self.beginResetModel()
        self._columns = tuple(columns)
        self._cells = [[row[column] for column in columns] for row in rows]
        self._keys = [row.key for row in rows]
        self._before = [list(row) for row in self._cells]
        self.endResetModel()

    def rows(self) -> list[Row]:
        """The rows as they stand now, empty ones left out."""
        return [
            Row(n, dict(zip(self._columns, cells, strict=True)), key)
            for n, (cells, key) in enumerate(zip(self._cells, self._keys, strict=True), 1)
            if any(cell.strip() for cell in cells)
        ]

    def put(self, rows: Sequence[Row], row_name: str) -> None:
        """Take imported rows in: over the row of that name where there is one, else at the end."""
        self.beginResetModel()
        at = self._columns.index(row_name)
        places = {cells[at].casefold(): n for n, cells in enumerate(self._cells)}
        for row in rows:
            place = places.get(row[row_name].casefold()) if row[row_name] else None
            if place is None:
                self._cells.append([row[column] for column in self._columns])
                self._keys.append(row.key)
            else:
                for n, column in enumerate(self._columns):
                    if column in row.cells:
                        self._cells[place][n] = row[column]
        self.endResetModel()

    def paste(self, row: int, column: int, block: Sequence[Sequence[str]]) -> None:
        """A block of cells from the clipboard, from this cell to the right and down."""
        self.beginResetModel()
        for down, cells in enumerate(block):
            while row + down >= len(self._cells):
                self._cells.append([""] * len(self._columns))
                self._keys.append(None)
            for right, cell in enumerate(cells[: len(self._columns) - column]):
                self._cells[row + down][column + right] = cell.strip()
        self.endResetModel()

    def changed(self, row: int, column: int) -> bool:
        """Whether a cell differs from the record."""
        if row >= len(self._cells):
            return False
        if row >= len(self._before):
            return bool(self._cells[row][column])
        return self._cells[row][column] != self._before[row][column]

    # -- Qt's side -------------------------------------------------------------------------------------------------

    def rowCount(self, parent: Index = NOWHERE) -> int:
        """One more than there are lines."""
        return 0 if parent.isValid() else len(self._cells) + 1

    def columnCount(self, parent: Index = NOWHERE) -> int:
        """Columns of the table."""
        return 0 if parent.isValid() else len(self._columns)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Text; strong where it differs from the record."""
        row, column = index.row(), index.column()
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return self._cells[row][column] if row < len(self._cells) else ""
        if role == Qt.ItemDataRole.FontRole and self.changed(row, column):
            font = QFont()
            font.setWeight(QFont.Weight.DemiBold)
            font.setUnderline(True)
            return font
        return None

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        """Columns by name, lines by number."""
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        if orientation is Qt.Orientation.Vertical:
            return str(section + 1)
        return self._columns[section].replace("_", " ")

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Every cell can be typed into."""
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsEditable

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        """Type into a cell."""
        if role != Qt.ItemDataRole.EditRole:
            return False
        self.paste(index.row(), index.column(), [[str(value)]])
        return True
