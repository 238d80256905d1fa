"""The table of the session log: opened with Enter, painted cell by cell without a style sheet, so that it scrolls."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from station.screens.review_log_model import COLUMNS, RIGHT, TO_THE_LEFT, TO_THE_RIGHT, LogModel
from station.screens.theme import Look, TextSize
from station.screens.typeface import font

MOST_REMEMBERED = 20_000
CHOSEN, CURSOR = QStyle.StateFlag.State_Selected, QStyle.StateFlag.State_HasFocus


class LogCells(QStyledItemDelegate):
    """Paints a cell: words on the ground, or reversed where the row is chosen; a line around the cursor's."""

    def __init__(self, model: LogModel, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._model = model
        self._face = font(look.metrics, TextSize.COACH)
        self._measures = QFontMetricsF(self._face)
        self._ink, self._ground = QColor(look.palette.ink), QColor(look.palette.ground)
        self._pad = max(round(0.8 * look.metrics.gap), 2)
        self._elided: dict[tuple[str, int], str] = {}

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """One cell."""
        box, state, column = option.rect, option.state, index.column()
        chosen = bool(state & CHOSEN)
        if chosen:
            painter.fillRect(box, self._ink)
        painter.setPen(self._ground if chosen else self._ink)
        painter.setFont(self._face)
        inner = box.adjusted(self._pad, 0, -self._pad, 0)
        words = self._fitting(self._model.cells(index.row())[column], inner.width())
        painter.drawText(inner, int(TO_THE_RIGHT if COLUMNS[column] in RIGHT else TO_THE_LEFT), words)
        if state & CURSOR:
            painter.drawRect(box.adjusted(0, 0, -1, -1))

    def _fitting(self, words: str, width: int) -> str:
        key = (words, width)
        found = self._elided.get(key)
        if found is None:
            if len(self._elided) > MOST_REMEMBERED:
                self._elided.clear()
            found = self._measures.elidedText(words, Qt.TextElideMode.ElideRight, width)
            self._elided[key] = found
        return found


class LogTable(QTableView):
    """The table; Enter opens the current set.

    Signals:
        opened: Enter on a row.
    """

    opened = Signal()

    def __init__(self, model: LogModel, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setModel(model)
        self.setItemDelegate(LogCells(model, look, self))
        self.setAccessibleName("session log, newest first")
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setTabKeyNavigation(False)  # Tab goes on to the next control
        self.setWordWrap(False)
        self.setShowGrid(False)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(look.metrics.mm(8.0))
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.horizontalHeader().setHighlightSections(False)
        self.horizontalHeader().setDefaultAlignment(TO_THE_LEFT)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter opens; everything else as in any table."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.opened.emit()
            return
        super().keyPressEvent(event)
