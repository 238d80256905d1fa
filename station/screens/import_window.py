"""An older history from a CSV file: which column is what, in which unit; what would be written; then, and not before,
it is written, and can be taken out again as a whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtGui import QPainter, QResizeEvent
from PySide6.QtWidgets import QComboBox, QFileDialog, QLineEdit, QWidget

from station.capture.history_desk import HistoryDesk, number_of, preview_words
from station.screens.desk_style import desk_style
from station.screens.kiosk_who import SmallButton
from station.screens.lettering import Letterer
from station.screens.page import PageWindow, in_a_row
from station.screens.painted import Painted
from station.screens.roster_panes import Paragraphs
from station.screens.theme import OTHER_CONTROL_MM, Look, ScreenGeometry, TextSize, ThemeName
from station.squad.history_source import COLUMNS, DAY_ORDERS, LENGTH_UNITS, LOAD_UNITS, VELOCITY_UNITS, Column
from station.squad.lifts import LIFTS
from station.squad.table_text import TableError
from station.store.errors import StoreError

NO_COLUMN = "no column"
ASK = "choose"
NO_IMPORT = "choose"
UNITS = {
    "load unit": ("load_unit", tuple(LOAD_UNITS)),
    "velocity unit": ("velocity_unit", tuple(VELOCITY_UNITS)),
    "length unit": ("length_unit", tuple(LENGTH_UNITS)),
    "order of a day": ("day_order", tuple(DAY_ORDERS)),
    "lift of all lines": ("lift", tuple(LIFTS)),
}
UNKNOWN = "what is this lift"
FROM = "where from"
SHORT = {"displacement": "bar's way up"}
KEYS = ("Choose file", "Write", "Take out")
FORM_SHARE, LABEL_SHARE = 0.66, 0.35


class _Label(Painted):
    """What a field is, to its left."""

    def __init__(self, words: str, look: Look, parent: QWidget) -> None:
        super().__init__(look, parent)
        self.words = words

    def say(self, words: str) -> None:
        """Change the words."""
        self.words = words
        self.update()

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """In the middle of its height, on two lines where it is long."""
        box = self.rect().toRectF()
        high = letter.height(self.words, box.width(), TextSize.COACH, 2)
        box.setTop(box.center().y() - high / 2)
        letter.block(box, self.words, TextSize.COACH, 2)


class ImportWindow(PageWindow):
    """The desk's import of an older history.

    Args:
        desk: reads the file, writes the record.
        staff: who signs what is written.
        unwell: how many entries of pain or illness are open, in words: every staff screen says so.
    """

    def __init__(
        self,
        desk: HistoryDesk,
        theme: ThemeName,
        screen: ScreenGeometry,
        staff: str = "",
        unwell: Callable[[], str] = lambda: "",
    ) -> None:
        super().__init__(theme, screen)
        self.desk, self._staff, self._unwell, self._note = desk, staff, unwell, ""
        self._asks_about = ""
        self.columns: dict[Column, QComboBox] = {column: QComboBox(self) for column in COLUMNS}
        self.units = {name: QComboBox(self) for name in UNITS}
        self.unknown = QComboBox(self)
        self.origin = QLineEdit(self)
        self.origin.setPlaceholderText("its name")
        self.origin.setAccessibleName("where it comes from")
        self.before = QComboBox(self)
        self.before.setAccessibleName("earlier imports")
        self._labels = {
            name: _Label(SHORT.get(name, name), self.look, self)
            for name in (*COLUMNS, *UNITS, UNKNOWN, FROM, "earlier imports")
        }
        self.pane = Paragraphs(self.look, self)
        self.keys = {name: SmallButton(name, self.look, self) for name in KEYS}
        self.setStyleSheet(desk_style(self.look))
        self._connect()
        self.setWindowTitle("Older history · bar-speed station")
        self._fill()

    def _connect(self) -> None:
        for column, box in self.columns.items():
            box.setAccessibleName(f"column of the {column}")
            box.activated.connect(self._chosen)
        for name, box in self.units.items():
            box.setAccessibleName(name)
            box.activated.connect(self._chosen)
        self.unknown.setAccessibleName(UNKNOWN)
        self.unknown.activated.connect(self._lift_named)
        self.keys["Choose file"].clicked.connect(self._ask_for_file)
        self.keys["Write"].clicked.connect(self.write)
        self.keys["Take out"].clicked.connect(self.take_out)
        self.before.activated.connect(self._show)

    # -- what it shows ---------------------------------------------------------------------------------------------

    def _fill(self) -> None:
        """The fields as the file is read now."""
        file, source = self.desk.file, self.desk.source
        heads = file.heads if file is not None else ()
        for column, box in self.columns.items():
            _fill(box, [NO_COLUMN, *heads], source.columns.get(column, NO_COLUMN))
        for name, box in self.units.items():
            field, choices = UNITS[name]
            _fill(box, [ASK, *choices], getattr(source, field) or ASK)
        unknown = self.desk.preview.unknown_lifts
        self._asks_about = unknown[0] if unknown else ""
        _fill(self.unknown, [ASK, *LIFTS], ASK)
        self._labels[UNKNOWN].say(f"“{self._asks_about}” is" if unknown else UNKNOWN)
        for widget in (*self.columns.values(), *self.units.values(), self.origin):
            widget.setEnabled(file is not None)
        self.unknown.setEnabled(bool(unknown))
        imports = self.desk.imports()
        _fill(
            self.before,
            [
                NO_IMPORT,
                *(
                    f"{one.label}, {one.first} to {one.last}{', out' if one.taken_out else ''}"
                    for one in imports
                ),
            ],
            self.before.currentText() if self.before.count() else NO_IMPORT,
        )
        self._show()

    def _show(self) -> None:
        preview, questions = self.desk.preview, self.desk.questions()
        if self.desk.file is None:
            said: tuple[str, ...] = (
                "Choose a CSV file with a line a rep, or a line a set. Nothing is written yet.",
            )
        elif questions:
            said = ("Nothing can be read yet:", *questions)
        else:
            wrong = tuple(f"× {error.in_words()}" for error in preview.errors)
            head, *more = preview_words(preview)
            said = (
                head,
                *(f"left out: {number_of(len(wrong), 'line')}" for _ in wrong[:1]),
                *wrong[:6],
                *more,
            )
        self.pane.say(*(part for part in (self._unwell(), self._note, *said) if part))
        self.keys["Write"].setEnabled(bool(preview.sets))
        self.keys["Write"].set_primary(bool(preview.sets))
        chosen = self.before.currentIndex() - 1
        imports = self.desk.imports() if chosen >= 0 else []
        self.keys["Take out"].setEnabled(0 <= chosen < len(imports))
        out = 0 <= chosen < len(imports) and imports[chosen].taken_out
        self.keys["Take out"].set_words("Bring back" if out else "Take out")

    # -- what people do --------------------------------------------------------------------------------------------

    def _ask_for_file(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, "Older history", "", "CSV (*.csv *.txt *.tsv)")
        if name:
            self.open_file(Path(name))

    def open_file(self, path: Path) -> None:
        """Look at a file; nothing is written."""
        try:
            self.desk.open(path)
            self._note = (
                f"{path.name}, {number_of(len(self.desk.file.rows) if self.desk.file else 0, 'line')}"
            )
        except TableError as error:
            self._note = str(error)
        self._fill()

    def _chosen(self) -> None:
        columns = {c: box.currentText() for c, box in self.columns.items() if box.currentIndex() > 0}
        said = {name: box.currentText() if box.currentIndex() > 0 else "" for name, box in self.units.items()}
        self._note = ""
        self.desk.use(
            replace(
                self.desk.source,
                columns=columns,
                load_unit=said["load unit"],
                velocity_unit=said["velocity unit"],
                length_unit=said["length unit"],
                day_order=said["order of a day"],
                lift=said["lift of all lines"],
            )
        )
        self._fill()

    def _lift_named(self) -> None:
        if self.unknown.currentIndex() > 0:
            self.desk.name_lift(self._asks_about, self.unknown.currentText())
        self._fill()

    def write(self) -> None:
        """Write what the preview says; lines that are wrong are left out."""
        if not self.desk.preview.sets:
            return
        try:
            written = self.desk.write(self.origin.text().strip(), self._staff)
            self._note = f"{number_of(written.new, 'set')} written, {written.known} there already"
        except StoreError as error:
            self._note = f"Not written: {error}"
        self._fill()

    def take_out(self) -> None:
        """Take the chosen import out as a whole, or bring it back."""
        imports, chosen = self.desk.imports(), self.before.currentIndex() - 1
        if not 0 <= chosen < len(imports):
            return
        one = imports[chosen]
        try:
            count = self.desk.take_out(one, self._staff)
            self._note = f"{one.label}: {'brought back' if one.taken_out else 'taken out'}, {count} reps"
        except StoreError as error:
            self._note = f"Not written: {error}"
        self._fill()
        self.before.setCurrentIndex(chosen + 1)
        self._show()

    # -- layout ----------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Columns at the left in two rows of fields, what would be written at the right."""
        metrics = self.look.metrics
        pad, gap, row = 2 * metrics.gap, metrics.gap, metrics.mm(OTHER_CONTROL_MM)
        width = self.width() - 2 * pad
        form = round(width * FORM_SHARE)
        fields: dict[str, QWidget] = {
            **{str(column): box for column, box in self.columns.items()},
            **self.units,
            UNKNOWN: self.unknown,
            FROM: self.origin,
            "earlier imports": self.before,
        }
        foot = self.height() - pad - row
        each = -(-len(fields) // 2)
        wide = form // 2
        step = min((foot - gap - pad) / each, row + 2 * gap)
        label = round(wide * LABEL_SHARE)
        for n, (name, field) in enumerate(fields.items()):
            left, top = pad + (n // each) * wide, round(pad + (n % each) * step)
            self._labels[name].setGeometry(left, top, label - gap, row)
            field.setGeometry(left + label, top, wide - label - 2 * gap, row)
        self.pane.setGeometry(pad + form + 2 * gap, pad, width - form - 2 * gap, foot - gap - pad)
        in_a_row(list(self.keys.values()), pad, foot, width, row, gap)


def _fill(box: QComboBox, items: list[str], chosen: str) -> None:
    """Offer these, with one chosen."""
    box.blockSignals(True)
    box.clear()
    box.addItems(items)
    box.setCurrentIndex(max(box.findText(chosen), 0))
    box.blockSignals(False)
