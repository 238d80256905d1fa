"""The page of one set: its reps, their curves, what was written about it, its raw samples and its link."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from station.capture.rack_view import Unit
from station.capture.review_set import RepLine, SetReview
from station.capture.see_again import SeenAgain
from station.readiness.plates import load_words
from station.screens.kiosk_who import SmallButton
from station.screens.page import in_a_row
from station.screens.review_plots import CourseInTime, OverlaidCurves, RawTrace
from station.screens.roster_panes import Paragraphs
from station.screens.theme import OTHER_CONTROL_MM, Look, TextSize

LEFT_SHARE = 0.46
BACK, BEFORE, AFTER, STRIKE, RESTORE, AGAIN, ATHLETE, UNSAY = (
    "Back",
    "Newer",
    "Older",
    "Strike",
    "Restore",
    "Measure again",
    "Athlete",
    "Take comment back",
)
KEYS = (BACK, BEFORE, AFTER, STRIKE, RESTORE, AGAIN, ATHLETE)
COLUMNS = ("Rep", "Mean m/s", "Peak m/s", "Range m", "Look at")
READING_RAW = "Reading the raw samples."


class RepTable(QTableWidget):
    """Reps as rows."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(0, len(COLUMNS), parent)
        self.setHorizontalHeaderLabels(list(COLUMNS))
        self.setAccessibleName("reps of the set")
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(look.metrics.mm(8.0))
        heads = self.horizontalHeader()
        heads.setHighlightSections(False)
        heads.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        heads.setSectionResizeMode(len(COLUMNS) - 1, QHeaderView.ResizeMode.Stretch)

    def show_reps(self, reps: tuple[RepLine, ...]) -> None:
        """Paint these; what was chosen by its id stays chosen."""
        kept = set(self.chosen())
        self.setRowCount(len(reps))
        for row, rep in enumerate(reps):
            for column, words in enumerate(_cells(rep)):
                item = QTableWidgetItem(words)
                item.setData(Qt.ItemDataRole.UserRole, rep.rep_id)
                item.setToolTip(words)
                face = item.font()
                face.setStrikeOut(rep.struck and column == 1)
                item.setFont(face)
                self.setItem(row, column, item)
        self.clearSelection()
        model = self.selectionModel()
        for row, rep in enumerate(reps):
            if rep.rep_id in kept:
                flags = model.SelectionFlag.Select | model.SelectionFlag.Rows
                model.select(self.model().index(row, 0), flags)

    def chosen(self) -> list[str]:
        """Ids of the reps that are chosen."""
        items = (self.item(index.row(), 0) for index in self.selectionModel().selectedRows())
        return [str(item.data(Qt.ItemDataRole.UserRole)) for item in items if item is not None]


class ReviewSetPage(QWidget):
    """One set.

    Signals:
        wanted: a key was touched, by its word.
    """

    wanted = Signal(str)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.unit: Unit = "kg"
        self.review: SetReview | None = None
        self.head = Paragraphs(look, self)
        self.reps = RepTable(look, self)
        self.story = Paragraphs(look, self)
        self.story.first_strong = False
        self.overlaid = OverlaidCurves("velocity of every rep", look, self)
        self.course = CourseInTime("velocity in time", look, self)
        self.raw = RawTrace("raw acceleration", look, self)
        self.link = Paragraphs(look, self)
        self.link.first_strong = False
        self.keys = {name: SmallButton(name, look, self) for name in (*KEYS, UNSAY)}
        for name, button in self.keys.items():
            button.setProperty("name", name)
            button.clicked.connect(self._touched)
        for key, name in (("Esc", BACK), ("PgUp", BEFORE), ("PgDown", AFTER), ("Del", STRIKE)):
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(self.keys[name].click)
        self.reps.itemSelectionChanged.connect(self._chosen_changed)

    # -- what it shows ---------------------------------------------------------------------------------------------

    def show_set(self, review: SetReview, unit: Unit) -> None:
        """Paint this set; its raw samples come later."""
        another = self.review is None or self.review.line.set_id != review.line.set_id
        self.review, self.unit = review, unit
        line = review.line
        self.head.say(
            f"{line.athlete} · {line.lift} · {load_words(line.load_kg, unit)} · {line.kind}",
            f"{line.day:%A %d %B %Y}, {line.at:%H:%M} · {line.rack} · session {line.session}"
            + (f" · {', '.join(line.marks)}" if line.marks else ""),
            review.measured,
        )
        said = [f"“{words}” – {who}" for _, words, who in reversed(review.comments)]
        self.story.say(*said, *reversed(review.history))
        self.reps.show_reps(review.reps)
        self.keys[AGAIN].setEnabled(review.raw.kept is not None)
        self.keys[ATHLETE].setEnabled(line.athlete_id is not None)
        self.keys[UNSAY].setVisible(bool(review.comments))
        self._chosen_changed()
        if another:
            self.show_raw(None)
        self._lay_out()

    def show_raw(self, seen: SeenAgain | None) -> None:
        """The raw samples have come, or why they have not."""
        review = self.review
        if review is None:
            return
        why = (
            review.raw.why_not
            if review.raw.kept is None
            else seen.trouble
            if seen is not None
            else READING_RAW
        )
        there = seen is not None and not why
        self.raw.setVisible(there)
        if there and seen is not None:
            self.course.show_seen(seen)
            self.raw.show_seen(seen)
            self.link.say(seen.quality.in_words() if seen.quality is not None else "")
        else:
            self.course.show_reps(review.reps, self.reps.chosen())
            self.link.say(why)
        self._lay_out()

    def _chosen_changed(self) -> None:
        if self.review is not None:
            self.overlaid.show_reps(self.review.reps, self.reps.chosen())
            if not self.raw.isVisibleTo(self):
                self.course.show_reps(self.review.reps, self.reps.chosen())

    def _touched(self) -> None:
        self.wanted.emit(str(self.sender().property("name")))

    # -- layout ----------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the page out again."""
        self._lay_out()

    def _lay_out(self) -> None:
        metrics = self.look.metrics
        row, gap, line = metrics.mm(OTHER_CONTROL_MM), metrics.gap, metrics.line_px(TextSize.COACH)
        in_a_row([self.keys[name] for name in KEYS], 0, 0, self.width(), row, gap)
        top, left = row + gap, round(self.width() * LEFT_SHARE)
        self.head.setGeometry(0, top, left - gap, round(5.6 * line))
        below = top + self.head.height()
        rows = self.reps.rowCount() + 1.3
        high = min(round(rows * metrics.mm(8.0)), round((self.height() - below) * 0.6))
        self.reps.setGeometry(0, below, left - gap, high)
        below += high
        if self.keys[UNSAY].isVisibleTo(self):
            self.keys[UNSAY].setGeometry(0, self.height() - row, left - gap, row)
            self.story.setGeometry(0, below, left - gap, self.height() - below - row - gap)
        else:
            self.story.setGeometry(0, below, left - gap, self.height() - below)
        words = round(2.6 * line)
        plots = [self.overlaid, self.course, *([self.raw] if self.raw.isVisibleTo(self) else [])]
        each = (self.height() - top - words) // len(plots)
        for n, plot in enumerate(plots):
            plot.setGeometry(left, top + n * each, self.width() - left, each)
        self.link.setGeometry(left, self.height() - words, self.width() - left, words)


def _cells(rep: RepLine) -> tuple[str, ...]:
    unsure = "" if rep.uncertainty_m_s is None else f" ± {rep.uncertainty_m_s:.2f}"
    speed = "–" if rep.mean_velocity_m_s is None else f"{rep.mean_velocity_m_s:.2f}{unsure}"
    peak = "–" if rep.peak_velocity_m_s is None else f"{rep.peak_velocity_m_s:.2f}"
    range_m = "–" if rep.displacement_m is None else f"{rep.displacement_m:.2f}"
    words = rep.words or ("" if rep.status == "measured" else rep.status)
    return rep.name, speed, peak, range_m, words
