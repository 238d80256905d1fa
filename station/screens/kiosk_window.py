"""The check-in screen: an empty list of names, five questions, thanks, and empty again.

Everything goes through a `CheckInDesk`; the window reads the time for it. While somebody answers, every mirrored
display is covered.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from datetime import date, datetime

from PySide6.QtCore import QTimer
from PySide6.QtGui import QCloseEvent, QKeyEvent, QResizeEvent, Qt
from PySide6.QtWidgets import QWidget

from station.capture.checkin import CheckInBook, CheckInDesk, Step
from station.screens.badge_reader import BadgeReader, types_a_badge
from station.screens.kiosk_items import KioskItems
from station.screens.kiosk_pages import KioskMore, KioskPain, KioskSheet
from station.screens.kiosk_who import MOST_DIGITS, KioskWho
from station.screens.page import Cover, PageWindow
from station.screens.theme import ScreenGeometry, ThemeName
from station.squad.athletes import Athlete
from station.squad.checkins import CAUTION, CONSENT_TEXT, Pain
from station.store.errors import WriteFailed

TICK_MS = 500


def local_day() -> date:
    """A day is the local day."""
    return datetime.now().astimezone().date()


class KioskWindow(PageWindow):
    """One check-in screen.

    Args:
        book: where check-ins go.
        theme, screen: as for every window.
        mirrors: displays that show what this machine shows; covered while somebody answers.
        today: the local day.
        leave: the word on the key that closes this screen, where it stands on another one; "" for none.
    """

    def __init__(
        self,
        book: CheckInBook,
        theme: ThemeName,
        screen: ScreenGeometry,
        mirrors: Sequence[QWidget] = (),
        today: Callable[[], date] = local_day,
        leave: str = "",
    ) -> None:
        super().__init__(theme, screen)
        self._today = today
        self.desk = CheckInDesk(book, today())
        self._mirrors, self._covers = list(mirrors), list[Cover]()
        self.who = KioskWho(self.look, self, leave)
        self.who.left.connect(self.close)
        self.items = KioskItems(self.look, self)
        self.pain = KioskPain(self.look, self)
        self.more = KioskMore(self.look, self)
        self.sheet = KioskSheet(self.look, self)
        self._candidates: list[Athlete] = []
        self._badges = BadgeReader(self)
        self.pages: tuple[QWidget, ...] = (self.who, self.items, self.pain, self.more, self.sheet)
        self._connect()
        self._timer = QTimer(self, interval=TICK_MS)
        self._timer.timeout.connect(self.tick)
        self._timer.start()
        self.setWindowTitle("Check-in · bar-speed station")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.show_step()

    def _connect(self) -> None:
        self.who.chosen.connect(self._begin)
        self.who.typed.connect(self._find)
        self._badges.badge.connect(self._badge)
        self._badges.single.connect(self._typed_alone)
        self.items.answered.connect(self._answer)
        self.items.option.connect(self._option)
        self.pain.hurts.connect(self._hurts)
        self.pain.back.connect(self._back)
        self.more.slept.connect(self._slept)
        self.more.wrote.connect(self._wrote)
        self.more.back.connect(self._back)
        self.sheet.chosen.connect(self._sheet)

    # -- who -----------------------------------------------------------------------------------------------------

    def _begin(self, athlete: Athlete) -> None:
        self._candidates = []
        self.desk.begin(athlete, _now())
        self.show_step()

    def _find(self, number: str) -> None:
        found = self.desk.wearing(int(number))
        if len(found) == 1:
            self._begin(found[0])
        elif found:
            self._candidates = found[:3]
            names = [a.name for a in self._candidates]
            self.sheet.show_words(f"Two wear {number}: who are you?", "", names)
            self._show(self.sheet)
        else:
            self.who.show_people(self.desk.people(), f"Nobody wears {number}. Touch your name, or try again.")

    def _badge(self, code: str) -> None:
        """Whoever's badge it is stands here; digits that are nobody's badge are a number typed fast."""
        holder = self.desk.holder(code)
        if holder is not None:
            self._begin(holder)
        elif code.isdigit() and len(code) <= MOST_DIGITS:
            self._find(code)
        else:
            words = "This badge is nobody's yet: a coach gives it at a rack. Touch your name."
            self.who.show_people(self.desk.people(), words)

    def _typed_alone(self, key: str) -> None:
        if key.isdigit():
            self.who.digit(key)

    # -- the form ------------------------------------------------------------------------------------------------

    def _answer(self, item: str, value: int) -> None:
        self.desk.answer(item, value, _now())
        self.show_step()

    def _option(self, name: str) -> None:
        now, words = _now(), ""
        match name:
            case "It hurts":
                self.desk.touched(now)
                self._show(self.pain)
                return
            case "Sleep, note":
                self.desk.touched(now)
                self._show(self.more)
                return
            case "I feel ill":
                self.desk.feels_ill(now)
            case "I want to talk":
                self.desk.wants_to_talk(now)
            case "Not today":
                words = self._kept(lambda: self.desk.skip(now))
            case _:
                words = self._kept(lambda: self.desk.finish(now)) or "Answer all five, or touch Not today."
        self.show_step(words)

    def _kept(self, keep: Callable[[], object]) -> str:
        """Keep the form; what to say when the disk refuses, with the form still there."""
        try:
            keep()
        except (WriteFailed, TimeoutError) as error:
            return f"Not saved: {error}. Tell staff; touch again to try once more."
        return ""

    def _hurts(self, pain: Pain) -> None:
        self.desk.hurts(pain, _now())
        if self.desk.form is not None:
            self.pain.show_form(self.desk.form)

    def _slept(self, hours: float) -> None:
        self.desk.slept(hours, _now())
        if self.desk.form is not None:
            self.more.show_form(self.desk.form)

    def _wrote(self, words: str) -> None:
        self.desk.write(words, _now())

    def _back(self) -> None:
        self.desk.touched(_now())
        self.show_step()

    def _sheet(self, index: int) -> None:
        if self._candidates:
            self._begin(self._candidates[index])
        elif self.desk.step is Step.CONSENT:
            if index == 0:
                self.desk.agree(_now())
            elif index == 1:
                self._kept(lambda: self.desk.decline(_now()))
            else:
                self.desk.leave()
            self.show_step()
        else:
            self.desk.leave()
            self.show_step()

    # -- time and pages --------------------------------------------------------------------------------------------

    def look_again(self, refresh: Callable[[], bool]) -> None:
        """While nobody stands here: who has joined, and who has answered at another screen meanwhile."""
        if self.desk.step is Step.WHO and self.who.isVisibleTo(self) and not self.who.typing and refresh():
            self.show_step()

    def tick(self, now_s: float | None = None) -> None:
        """Time passes: an abandoned form is forgotten."""
        if self.desk.tick(_now() if now_s is None else now_s, self._today()):
            self._candidates = []
            self.show_step()

    def show_step(self, words: str = "") -> None:
        """Show the page that the desk asks for."""
        desk, form = self.desk, self.desk.form
        if desk.step is Step.WHO:
            self.more.note.clear()
            self.who.show_people(desk.people(), words or desk.nobody_left())
            self._show(self.who)
        elif desk.step is Step.CONSENT and form is not None:
            keys = ("I agree", "No, do not ask me", "Back")
            self.sheet.show_words(f"{form.athlete.name}: may we ask?", CONSENT_TEXT, keys)
            self._show(self.sheet)
        elif desk.step is Step.ITEMS and form is not None:
            for page in (self.pain, self.more):
                page.show_form(form)
            self.items.show_form(form, words)
            self._show(self.items)
        else:
            self.sheet.show_words("Thank you." if not desk.caution else CAUTION, "Touch to close.", ())
            self._show(self.sheet)

    def _show(self, page: QWidget) -> None:
        for other in self.pages:
            other.setVisible(other is page)
        self._cover(covered=page is not self.who)
        self._lay_out()

    def _cover(self, *, covered: bool) -> None:
        if covered and not self._covers:
            self._covers = [Cover(self.look, mirror) for mirror in self._mirrors]
        elif not covered:
            for cover in self._covers:
                cover.hide()
                cover.deleteLater()
            self._covers = []

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Digits and Enter from a keyboard or a badge reader; on the questions they answer the next open item."""
        text = event.text()
        if event.key() == Qt.Key.Key_Escape and self.desk.step is not Step.WHO:
            self.desk.leave()
            self.show_step()
        elif self.who.isVisible() and types_a_badge(event):
            self._badges.key(text)
        elif self.who.isVisible() and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if not self._badges.enter():
                self.who.enter()
        elif self.items.isVisible() and text in ("1", "2", "3", "4", "5"):
            self._answer_next(int(text))
        elif self.items.isVisible() and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._option("Done")
        else:
            super().keyPressEvent(event)

    def _answer_next(self, value: int) -> None:
        form = self.desk.form
        open_items = [item for item, _ in self.items.answers if form and item not in form.answers]
        if open_items:
            self._answer(open_items[0], value)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """One page at a time, on the whole window."""
        self._lay_out()

    def _lay_out(self) -> None:
        pad = 2 * self.look.metrics.gap
        for page in self.pages:
            page.setGeometry(pad, pad, self.width() - 2 * pad, self.height() - 2 * pad)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop the clock with the window."""
        self._timer.stop()
        self._cover(covered=False)
        super().closeEvent(event)


def _now() -> float:
    return time.monotonic()
