"""Old beside new: a set as it was measured, and as today's engine measures it, before somebody accepts."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from station.capture.review_beside import OldBesideNew, PairLine
from station.screens.kiosk_who import SmallButton
from station.screens.page import in_a_row
from station.screens.roster_panes import Paragraphs
from station.screens.theme import OTHER_CONTROL_MM, Look, TextSize

ACCEPT, LEAVE = "Accept the new", "Leave as it is"
COLUMNS = ("Rep", "Then m/s", "Now m/s", "Difference", "Then", "Now")
STAYS = "Accepting writes a record; what was measured then stays in it, and Undo brings it back."


class ReviewCompare(QWidget):
    """The page of both measurements.

    Signals:
        accepted: the new one is to hold, with why.
        left: nothing is to change.
    """

    accepted = Signal(str)
    left = Signal()

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.beside: OldBesideNew | None = None
        self.head = Paragraphs(look, self)
        self.table = QTableWidget(0, len(COLUMNS), self)
        self.table.setHorizontalHeaderLabels(list(COLUMNS))
        self.table.setAccessibleName("reps as measured then and now")
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setTabKeyNavigation(False)
        self.table.setShowGrid(False)
        self.table.verticalHeader().hide()
        self.table.verticalHeader().setDefaultSectionSize(look.metrics.mm(8.0))
        heads = self.table.horizontalHeader()
        heads.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        heads.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        for column in (len(COLUMNS) - 2, len(COLUMNS) - 1):
            heads.setSectionResizeMode(column, QHeaderView.ResizeMode.Stretch)
        self.why = QLineEdit(self)
        self.why.setPlaceholderText("why")
        self.why.setAccessibleName("why the new measurement is accepted")
        self.accept, self.leave = SmallButton(ACCEPT, look, self), SmallButton(LEAVE, look, self)
        self.accept.set_primary(True)
        self.accept.clicked.connect(self._accepted)
        self.leave.clicked.connect(self.left)
        shortcut = QShortcut(QKeySequence("Esc"), self)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.activated.connect(self.leave.click)

    def show_beside(self, beside: OldBesideNew) -> None:
        """Paint both."""
        self.beside = beside
        self.head.say(*_sentences(beside))
        self.table.setRowCount(len(beside.pairs))
        for row, pair in enumerate(beside.pairs):
            for column, words in enumerate(_cells(pair)):
                self.table.setItem(row, column, QTableWidgetItem(words))
        self.accept.setEnabled(not beside.holds_already and bool(beside.seen.reps))
        self.why.clear()
        self.table.setFocus()

    def _accepted(self) -> None:
        self.accepted.emit(self.why.text())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Words, table, keys."""
        metrics = self.look.metrics
        row, gap = metrics.mm(OTHER_CONTROL_MM), metrics.gap
        words = round(7.5 * metrics.line_px(TextSize.COACH))
        self.head.setGeometry(0, 0, self.width(), words)
        foot = self.height() - row
        self.table.setGeometry(0, words, self.width(), foot - gap - words)
        in_a_row([self.leave, self.accept, self.why], 0, foot, self.width(), row, gap, last=2.0)


def _sentences(beside: OldBesideNew) -> list[str]:
    if beside.seen.trouble:
        return [beside.seen.trouble]
    if beside.holds_already:
        return ["What today's engine finds holds already.", STAYS]
    found = "finds the same" if beside.same else "finds other figures"
    best = f"Fastest counted rep: {_speed(beside.best_then_m_s)} then, {_speed(beside.best_now_m_s)} now."
    return [f"Today's engine {found}: {len(beside.seen.reps)} reps.", best, STAYS]


def _speed(velocity_m_s: float | None) -> str:
    return "none" if velocity_m_s is None else f"{velocity_m_s:.2f} m/s"


def _cells(pair: PairLine) -> tuple[str, ...]:
    then, now = pair.then_m_s, pair.now_m_s
    difference = "" if then is None or now is None else f"{now - then:+.3f}".replace("-", "−")
    return (
        pair.then_name or "new",
        "–" if then is None else f"{then:.3f}",
        "–" if now is None else f"{now:.3f}",
        difference,
        pair.then_words,
        pair.now_words,
    )
