"""Roster, plans, calendar, who played: type, paste, import; see what will change; then write it, from a date on."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import date
from pathlib import Path

from PySide6.QtCore import QModelIndex, QTimer, Signal
from PySide6.QtGui import QGuiApplication, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QFileDialog, QHeaderView, QLineEdit, QTableView

from station.capture.roster_desk import COLUMNS, AnyPreview, RosterDesk, TableKind
from station.screens.desk_style import desk_style
from station.screens.kiosk_who import SmallButton
from station.screens.page import PageWindow, in_a_row
from station.screens.roster_panes import CHOOSE as CHOOSE
from station.screens.roster_panes import NOTHING as NOTHING
from station.screens.roster_panes import PreviewPane, WarmupPane
from station.screens.table_model import TableModel
from station.screens.theme import OTHER_CONTROL_MM, ScreenGeometry, TextSize, ThemeName
from station.squad.table_text import Preview, TableError, read_table
from station.store.errors import StoreError

TABLE_SHARE = 0.60
KEYS = ("Paste", "Import file", "Older history", "Start over", "Write")
WARMUP_LINES = 6


class RosterWindow(PageWindow):
    """The desk's tables.

    Args:
        desk: reads and writes the record.
        staff: who signs what is written.
        unwell: how many entries of pain or illness are open, in words: every staff screen says so.

    Signals:
        history_wanted: somebody wants to import an older history.
    """

    history_wanted = Signal()

    def __init__(
        self,
        desk: RosterDesk,
        theme: ThemeName,
        screen: ScreenGeometry,
        staff: str = "",
        unwell: Callable[[], str] = lambda: "",
    ) -> None:
        super().__init__(theme, screen)
        self.desk, self._staff, self._unwell = desk, staff, unwell
        self.kind = TableKind.ROSTER
        self.preview: AnyPreview = Preview()
        self._from_file: AnyPreview | None = None
        self._row = -1
        self.model = TableModel()
        self.table = QTableView(self)
        self.table.setModel(self.model)
        self.table.setAccessibleName("table")
        heads = self.table.horizontalHeader()
        heads.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.table.verticalHeader().setDefaultSectionSize(self.look.metrics.mm(8.0))
        self.pane = PreviewPane(self.look, self)
        self.warmup = WarmupPane(self.look, self)
        self.from_day = QLineEdit(desk.today.isoformat(), self)
        self.from_day.setAccessibleName("from day")
        self.kinds = {kind: SmallButton(kind.value.capitalize(), self.look, self) for kind in TableKind}
        self.keys = {name: SmallButton(name, self.look, self) for name in KEYS}
        self.keys["Write"].set_primary(True)
        self.setStyleSheet(desk_style(self.look))
        self._soon = QTimer(self, singleShot=True, interval=0)
        self._soon.timeout.connect(self._look_over)
        self._connect()
        self.setWindowTitle("Roster, plans, calendar · bar-speed station")
        self.show_table(TableKind.ROSTER)

    def _connect(self) -> None:
        for kind, button in self.kinds.items():
            button.setCheckable(True)
            button.setProperty("kind", kind.value)
            button.clicked.connect(self._kind_clicked)
        self.keys["Paste"].clicked.connect(self.paste)
        self.keys["Import file"].clicked.connect(self._ask_for_file)
        self.keys["Older history"].clicked.connect(self.history_wanted)
        self.keys["Start over"].clicked.connect(self._start_over)
        self.keys["Write"].clicked.connect(self.write)
        QShortcut(QKeySequence(QKeySequence.StandardKey.Paste), self.table).activated.connect(self.paste)
        self.model.modelReset.connect(self._soon.start)
        self.table.selectionModel().currentRowChanged.connect(self._row_chosen)
        self.from_day.textChanged.connect(self._look_over)

    # -- what it shows ---------------------------------------------------------------------------------------------

    def show_table(self, kind: TableKind, note: str = "") -> None:
        """Show one table as the record has it."""
        self.kind, self._from_file, self._row = kind, None, -1
        for other, button in self.kinds.items():
            button.setChecked(other is kind)
        self.model.load(COLUMNS[kind], self.desk.rows(kind))
        self.table.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.warmup.setVisible(kind is TableKind.PLANS)
        self._lay_out()
        self._look_over(note)

    def _look_over(self, note: object = "") -> None:
        """What the table would change, as it stands."""
        day = self._day()
        if self._from_file is not None:
            self.preview = self._from_file
        elif day is None:
            self.preview = Preview()
            note = "From which day? Type a date such as 2026-10-14."
        else:
            self.preview = self.desk.preview(self.kind, self.model.rows(), day)
        said = " · ".join(part for part in (str(note or ""), self._unwell()) if part)
        self.pane.show_preview(self.preview, said)
        self._show_warmup()

    def _row_chosen(self, index: QModelIndex) -> None:
        if index.isValid():  # typing resets the table: what was chosen stays
            self._row = index.row()
            self._show_warmup()

    def _show_warmup(self) -> None:
        """Of the chosen line alone: everybody's would take seconds."""
        if self.kind is not TableKind.PLANS:
            return
        row = next((row for row in self.model.rows() if row.line == self._row + 1), None)
        words = () if row is None else self.desk.warmup_words(row)
        self.warmup.say(*(words or (CHOOSE,)))

    def _day(self) -> date | None:
        try:
            return date.fromisoformat(self.from_day.text().strip())
        except ValueError:
            return None

    def _kind_clicked(self) -> None:
        self.show_table(TableKind(self.sender().property("kind")))

    def _start_over(self) -> None:
        self.show_table(self.kind)

    # -- bringing lines in -----------------------------------------------------------------------------------------

    def paste(self) -> None:
        """Cells from the clipboard, from the chosen cell on; a whole table with its heads anywhere."""
        text = QGuiApplication.clipboard().text()
        index = self.table.currentIndex()
        first = COLUMNS[self.kind][0]
        heads = text.splitlines()[0].lower().replace(" ", "_") if text.strip() else ""
        if index.isValid() and first not in heads.split("\t"):
            self.model.paste(index.row(), index.column(), list(csv.reader(io.StringIO(text), delimiter="\t")))
            return
        self._take(text)

    def _ask_for_file(self) -> None:
        wanted = "iCalendar or CSV (*.ics *.csv)" if self.kind is TableKind.CALENDAR else "CSV (*.csv *.txt)"
        name, _ = QFileDialog.getOpenFileName(self, "Import", "", wanted)
        if name:
            self.import_file(Path(name))

    def import_file(self, file: Path) -> None:
        """A CSV file into the table, or an iCalendar file into the preview; nothing is written yet."""
        try:
            content = file.read_bytes()
        except OSError as error:
            self._look_over(f"{file.name} cannot be read: {error.strerror}")
            return
        if file.suffix.lower() == ".ics":
            self._take_calendar(content, file.name)
            return
        try:
            self._take(content.decode("utf-8-sig"))
        except UnicodeDecodeError:
            self._look_over(f"{file.name} is not UTF-8 text; save it as CSV UTF-8")

    def _take(self, text: str) -> None:
        try:
            rows = read_table(text, COLUMNS[self.kind])
        except TableError as error:
            self._look_over(str(error))
            return
        self.model.put(rows, COLUMNS[self.kind][0])

    def _take_calendar(self, content: bytes, name: str) -> None:
        self.show_table(TableKind.CALENDAR)
        try:
            self._from_file = self.desk.preview_calendar_file(content)
            self._look_over(f"From {name}")
        except TableError as error:
            self._look_over(f"{name}: {error}")

    # -- writing ---------------------------------------------------------------------------------------------------

    def write(self) -> None:
        """Write what the preview says; lines that cannot be used are left out, and stay to be mended."""
        self._soon.stop()
        self._look_over()
        day = self._day()
        if day is None or self.preview.empty:
            return
        try:
            count = self.desk.apply(self.kind, self.preview, day, self._staff)
        except StoreError as error:
            self._look_over(f"Not written: {error}")
            return
        note = f"{count} changes written"
        if self.preview.errors and self._from_file is None:
            self._look_over(f"{note}; {len(self.preview.errors)} lines are still to be mended")
        else:
            self.show_table(self.kind, note)

    # -- layout ----------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the window out again."""
        self._lay_out()

    def _lay_out(self) -> None:
        """Tables to choose at the top, the table at the left, what will change at the right."""
        metrics = self.look.metrics
        pad, gap, row = 2 * metrics.gap, metrics.gap, metrics.mm(OTHER_CONTROL_MM)
        width = self.width() - 2 * pad
        in_a_row([*self.kinds.values(), self.from_day], pad, pad, width, row, gap)
        top, foot = pad + row + gap, self.height() - pad - row
        split = round(width * TABLE_SHARE)
        below = round(WARMUP_LINES * metrics.line_px(TextSize.COACH)) if self.kind is TableKind.PLANS else 0
        self.table.setGeometry(pad, top, split - 2 * gap, foot - gap - top - below)
        self.warmup.setGeometry(pad, foot - gap - below, split - 2 * gap, below)
        self.pane.setGeometry(pad + split, top, width - split, foot - gap - top)
        in_a_row(list(self.keys.values()), pad, foot, width, row, gap)
