"""The review desk: session log, a set open, old beside new; who is signed in, undo, and what was just done."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QStackedWidget, QWidget

from station.capture.rack_view import Unit
from station.capture.review_log import LogAsked, LogChoices
from station.capture.review_office import ReviewOffice
from station.screens.desk_style import review_style
from station.screens.page import PageWindow
from station.screens.review_acts import CHOOSE_SETS, ReviewActs
from station.screens.review_athlete_page import ReviewAthletePage
from station.screens.review_compare import ReviewCompare
from station.screens.review_fields import OF_THE_LOG, OPEN, PRINT_DAY, CorrectionFields
from station.screens.review_head import ReviewHead
from station.screens.review_log_page import ReviewLogPage
from station.screens.review_prints import ReviewPrints
from station.screens.review_reading import ReviewReading
from station.screens.review_set_page import AFTER, AGAIN, ATHLETE, BACK, BEFORE, PRINT, ReviewSetPage
from station.screens.theme import ScreenGeometry, ThemeName
from station.store.record import Record
from station.store.session_log import LogIndex

LOOK_EVERY_MS = 5000


class ReviewWindow(PageWindow):
    """The staff's screen.

    Args:
        record: the desk's own; nobody else uses it while the window is open.
        now: local date and time.
    """

    _woken = Signal()

    def __init__(
        self, record: Record, now: Callable[[], datetime], theme: ThemeName, screen: ScreenGeometry
    ) -> None:
        super().__init__(theme, screen)
        self._woken.connect(self._drain, Qt.ConnectionType.QueuedConnection)
        self.office = ReviewOffice(record, now, self._woken.emit)
        self.folder, self.now = record.database.folder, now
        self.index: LogIndex | None = None
        self.unit: Unit = "kg"
        self.head = ReviewHead(self.look, self)
        self.pages = QStackedWidget(self)
        self.log, self.set = ReviewLogPage(self.look), ReviewSetPage(self.look)
        self.compare, self.athlete = ReviewCompare(self.look), ReviewAthletePage(self.look)
        for page in (self.log, self.set, self.compare, self.athlete):
            self.pages.addWidget(page)
        self.fields = CorrectionFields(self.look, self)
        self.acts, self.reading, self.prints = ReviewActs(self), ReviewReading(self), ReviewPrints(self)
        self.setStyleSheet(review_style(self.look))
        self._connect()
        self._timer = QTimer(self, interval=LOOK_EVERY_MS)
        self._timer.timeout.connect(self.look_again)
        self._timer.start()
        self.setWindowTitle("Review · bar-speed station")
        self.show_page(self.log)
        self.read_again()
        self.look_again()

    def _connect(self) -> None:
        self.head.signed.connect(self.acts.sign_in)
        self.head.undo.clicked.connect(self.acts.undo)
        self.head.unit.clicked.connect(self._other_unit)
        self.log.asked.connect(self.ask_log)
        self.log.set_opened.connect(self.open_set)
        self.log.selection_changed.connect(self._say_chosen)
        self.log.model.page_wanted.connect(self._fetch)
        self.set.wanted.connect(self._of_the_set)
        self.fields.wanted.connect(self._of_the_fields)
        self.compare.accepted.connect(self.acts.accept)
        self.compare.left.connect(lambda: self.show_page(self.set))
        self.athlete.left.connect(lambda: self.show_page(self.set if self.reading.set_id else self.log))
        self.athlete.lift_wanted.connect(self._other_lift)
        self.athlete.print_wanted.connect(self.prints.season)
        for key, act in (("Ctrl+Z", self.acts.undo), ("Ctrl+F", self._search), ("F5", self.look_again)):
            QShortcut(QKeySequence(key), self).activated.connect(act)

    # -- reading ---------------------------------------------------------------------------------------------------

    def look_again(self) -> None:
        """Take over what the racks hold, and read anew what has changed; sign out whoever has left."""
        self.acts.lock_when_idle()
        self.office.desk.ask(lambda desk: desk.look_around(), self._looked, self.acts.failed)
        self.office.desk.ask(lambda desk: desk.open_unwell(), self.head.show_unwell, self.acts.failed)

    def _looked(self, anything: bool) -> None:
        if anything:
            self.read_again()

    def read_again(self) -> None:
        """Everything that is shown, as the record has it now."""
        self.office.reader.ask(lambda reader: reader.log.choices(), self._show_choices, self.acts.failed)
        self.ask_log(self.log.wanted())
        if self.reading.set_id:
            self.reading.read_set()

    def ask_log(self, asked: LogAsked) -> None:
        """Other sets."""
        self.office.reader.ask(lambda reader: reader.log.index(asked), self._show_index, self.acts.failed)

    def _show_index(self, index: LogIndex) -> None:
        self.index = index
        self.log.show_index(index)
        self._say_chosen()

    def _fetch(self, page: int) -> None:
        index = self.log.model.index_shown
        if index is not None:
            self.office.reader.ask(
                lambda reader: reader.log.page(index, page),
                lambda lines: self.log.model.put_page(index, page, lines),
                self.acts.failed,
            )

    def _show_choices(self, choices: LogChoices) -> None:
        self.head.show_staff(choices.staff)
        self.log.show_choices(choices)
        self.fields.show_choices(choices)

    # -- one set, one athlete ----------------------------------------------------------------------------------------

    def open_set(self, set_id: str) -> None:
        """Show this set, then its raw samples."""
        self.reading.open_set(set_id)

    def open_athlete(self, athlete_id: str, lift: str | None = None) -> None:
        """Show this athlete's season."""
        self.reading.open_athlete(athlete_id, lift)

    def _of_the_set(self, key: str) -> None:
        if key == BACK:
            self.reading.set_id = ""
            self.show_page(self.log)
        elif key in (BEFORE, AFTER):
            other = self.log.neighbour(self.reading.set_id, -1 if key == BEFORE else 1)
            if other is not None:
                self.open_set(other)
        elif key == AGAIN:
            self.reading.measure_again()
        elif key == PRINT:
            if self.set.review is not None:
                self.prints.session(self.set.review.line, alone=True)
        elif key == ATHLETE:
            line = self.set.review.line if self.set.review is not None else None
            if line is not None and line.athlete_id is not None:
                self.open_athlete(line.athlete_id, line.lift)
        else:
            self.acts.of_the_set(key)

    def _of_the_fields(self, key: str) -> None:
        line = self.log.current()
        if key not in OF_THE_LOG:
            self.acts.correct(key)
        elif line is None:
            self.head.say(CHOOSE_SETS)
        elif key == OPEN:
            self.open_set(line.set_id)
        elif key == PRINT_DAY:
            self.prints.session(line, alone=False)
        elif line.athlete_id is None:
            self.head.say("Nobody is named: move the set to its athlete first.")
        else:
            self.open_athlete(line.athlete_id, line.lift)

    def _other_lift(self, lift: str) -> None:
        if self.athlete.season is not None and lift:
            self.open_athlete(self.athlete.season.athlete_id, lift)

    # -- what stands where -----------------------------------------------------------------------------------------

    def show_page(self, page: QWidget) -> None:
        """This page."""
        self.pages.setCurrentWidget(page)
        self.fields.setVisible(page in (self.log, self.set))
        self.fields.for_the_log(page is self.log)
        if page is self.log:
            self.log.table.setFocus()
        self._say_chosen()
        self._lay_out()

    @property
    def open_set_id(self) -> str:
        """The set that is open, or ""."""
        return self.reading.set_id

    def _say_chosen(self) -> None:
        if self.index is None:
            self.head.count("Reading the session log.")
        elif self.pages.currentWidget() is self.log:
            chosen = len(self.log.chosen_rows())
            words = f"{self.index.sets} sets" + (f", {chosen} chosen" if chosen > 1 else "")
            self.head.count(words)
        else:
            self.head.count("")

    def _search(self) -> None:
        self.show_page(self.log)
        self.log.search.setFocus()
        self.log.search.selectAll()

    def _other_unit(self) -> None:
        self.unit = "lb" if self.unit == "kg" else "kg"
        self.head.show_unit(self.unit)
        self.log.show_unit(self.unit)
        self.fields.show_unit(self.unit)
        if self.reading.set_id:
            self.reading.read_set()
        if self.athlete.season is not None:
            self.athlete.show_season(self.athlete.season, self.unit)

    def _drain(self) -> None:
        self.office.drain()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the window out again."""
        self._lay_out()

    def _lay_out(self) -> None:
        pad, gap = 2 * self.look.metrics.gap, self.look.metrics.gap
        width = self.width() - 2 * pad
        head = self.head.height_needed()
        self.head.setGeometry(pad, gap, width, head)
        top, foot = 2 * gap + head, self.height() - gap
        if self.fields.isVisibleTo(self):
            foot -= self.fields.height_needed()
            self.fields.setGeometry(pad, foot, width, self.fields.height_needed())
            foot -= gap
        self.pages.setGeometry(pad, top, width, foot - top)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop looking with the window, when everything asked is answered."""
        self._timer.stop()
        self.office.stop()
        super().closeEvent(event)
