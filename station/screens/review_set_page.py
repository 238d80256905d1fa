"""The page of one set: its reps, their curves, what was written about it, its raw samples and its link."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QPlainTextEdit,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from station.capture.rack_view import Unit
from station.capture.review_set import RepLine, SetReview
from station.capture.see_again import SeenAgain
from station.readiness.plates import load_words
from station.screens.kiosk_who import SmallButton
from station.screens.page import in_a_row
from station.screens.review_plots import CourseInTime, OverlaidCurves, RawTrace, ReviewPlot
from station.screens.roster_panes import Paragraphs
from station.screens.theme import OTHER_CONTROL_MM, Look, TextSize

LEFT_SHARE = 0.46
BACK, BEFORE, AFTER, STRIKE, RESTORE, AGAIN, ATHLETE, PRINT, UNSAY = (
    "Back",
    "Newer",
    "Older",
    "Strike",
    "Restore",
    "Measure again",
    "Athlete",
    "Print session",
    "Take back comment",
)
KEYS = (BACK, BEFORE, AFTER, STRIKE, RESTORE, AGAIN, ATHLETE, PRINT, UNSAY)
OTHER_PLOT = "Other plot"
# Lower plots than this are shown one at a time.
LEAST_PLOT_MM = 31.0
LEAST_TABLE_MM = 110.0
LEFT_OUT = (2, 3)  # columns of a narrower table
COLUMNS = ("Rep", "Mean m/s", "Peak m/s", "Range m", "Look at")
READING_RAW = "Reading the raw samples."
FETCHING_RAW = "Fetching the raw samples from the shared database."


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
        heads.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
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
        self._raw_there = False
        self.head = Paragraphs(look, self)
        self.reps = RepTable(look, self)
        self.story = QPlainTextEdit(self)  # as long as it may be: it scrolls
        self.story.setReadOnly(True)
        self.story.setTabChangesFocus(True)
        self.story.setAccessibleName("comments and what was corrected, newest first")
        self.overlaid = OverlaidCurves("velocity of every rep", look, self)
        self.course = CourseInTime("velocity in time", look, self)
        self.raw = RawTrace("raw acceleration", look, self)
        self.link = Paragraphs(look, self)
        self.link.first_strong = False
        self.keys = {name: SmallButton(name, look, self) for name in KEYS}
        for name, button in self.keys.items():
            button.setProperty("name", name)
            button.clicked.connect(self._touched)
        self.other = SmallButton(OTHER_PLOT, look, self)
        self.other.clicked.connect(self._other_plot)
        self._plot = 0
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
        )
        said = [f"“{words}” – {who}" for _, words, who in reversed(review.comments)]
        self.story.setPlainText("\n".join((*said, review.measured, *reversed(review.history))))
        self.reps.show_reps(review.reps)
        self.keys[AGAIN].setEnabled(review.raw.kept is not None)
        self.keys[ATHLETE].setEnabled(line.athlete_id is not None)
        self.keys[UNSAY].setEnabled(bool(review.comments))
        self._chosen_changed()
        if another:
            self.show_raw(None)
        self._lay_out()

    def show_raw(self, seen: SeenAgain | None) -> None:
        """The raw samples have come, or why they have not."""
        review = self.review
        if review is None:
            return
        why = _on_the_way(review) if seen is None else seen.trouble
        there = seen is not None and not why
        self._raw_there = there
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
            if not self._raw_there:
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
        self.head.setGeometry(0, top, left - gap, round(5.2 * line))
        below = top + self.head.height()
        rows = self.reps.rowCount() + 1.5
        high = min(round(rows * metrics.mm(8.0)), round((self.height() - below) * 0.6))
        for column in LEFT_OUT:
            self.reps.setColumnHidden(column, left < metrics.mm(LEAST_TABLE_MM))
        self.reps.setGeometry(0, below, left - gap, high)
        below += high + gap
        self.story.setGeometry(0, below, left - gap, self.height() - below)
        words = round(2.6 * line)
        self._lay_out_plots(left, top, self.width() - left, self.height() - top - words)
        self.link.setGeometry(left, self.height() - words, self.width() - left, words)

    def _lay_out_plots(self, left: int, top: int, width: int, height: int) -> None:
        """Below each other, or one at a time where they would be too low."""
        metrics = self.look.metrics
        plots: list[ReviewPlot] = [self.overlaid, self.course]
        if self._raw_there:
            plots.append(self.raw)
        self._plot %= len(plots)
        one_by_one = height / len(plots) < metrics.mm(LEAST_PLOT_MM)
        self.other.setVisible(one_by_one)
        shown = [plots[self._plot]] if one_by_one else plots
        if one_by_one:
            row = metrics.mm(OTHER_CONTROL_MM)
            height -= row
            self.other.setGeometry(left, top + height, width, row)
        for plot in (self.overlaid, self.course, self.raw):
            plot.setVisible(any(plot is one for one in shown))
        for n, one in enumerate(shown):
            one.setGeometry(left, top + n * height // len(shown), width, height // len(shown))

    def _other_plot(self) -> None:
        self._plot += 1
        self._lay_out()


def _on_the_way(review: SetReview) -> str:
    """Of raw samples that have not been read: why."""
    if review.raw.kept is not None:
        return READING_RAW
    return FETCHING_RAW if review.raw.elsewhere else review.raw.why_not


def _cells(rep: RepLine) -> tuple[str, ...]:
    unsure = "" if rep.uncertainty_m_s is None else f" ± {rep.uncertainty_m_s:.2f}"
    speed = "–" if rep.mean_velocity_m_s is None else f"{rep.mean_velocity_m_s:.2f}{unsure}"
    peak = "–" if rep.peak_velocity_m_s is None else f"{rep.peak_velocity_m_s:.2f}"
    range_m = "–" if rep.displacement_m is None else f"{rep.displacement_m:.2f}"
    words = rep.words or ("" if rep.status == "measured" else rep.status)
    return rep.name, speed, peak, range_m, words
