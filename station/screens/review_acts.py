"""What the keys of the review desk do: each puts an errand, says what became of it, and reads anew."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from PySide6.QtWidgets import QWidget

from station.capture.review_desk import Done, ReviewDesk, ReviewRefused
from station.readiness.plates import load_words
from station.screens.review_fields import CHANGE_LOAD, COMMENT, MOVE, NAME_LIFT
from station.screens.review_log_page import MOST_AT_ONCE
from station.screens.review_set_page import RESTORE, STRIKE, UNSAY
from station.squad.errors import UnknownLift
from station.store.errors import StoreError

if TYPE_CHECKING:
    from station.screens.review_window import ReviewWindow

R = TypeVar("R")
REFUSED = (ReviewRefused, StoreError, UnknownLift)
CHOOSE_SETS = "Choose sets first: click, or arrows; Shift or Ctrl for several."
CHOOSE_REPS = "Choose reps of the set first."


class ReviewActs:
    """Of one window."""

    def __init__(self, window: ReviewWindow) -> None:
        self._window = window

    # -- who -------------------------------------------------------------------------------------------------------

    def sign_in(self, staff: str, pin: str) -> None:
        """Everything from now on carries this name."""

        def signed(words: str) -> None:
            self._window.head.ask_pin(bool(words))
            self._window.head.say(words)

        self._ask(lambda desk: desk.signed.sign_in(staff or None, pin), signed)

    def lock_when_idle(self) -> None:
        """Sign out whoever has left."""

        def locked(anybody: bool) -> None:
            if anybody:
                self._window.head.signed_out()
                self._window.head.say("Signed out: nobody was here for five minutes.")

        self._ask(lambda desk: desk.signed.lock_when_idle(), locked)

    # -- corrections -----------------------------------------------------------------------------------------------

    def correct(self, key: str) -> None:
        """One key of the fields, for the open set or all that are chosen."""
        window, fields = self._window, self._window.fields
        set_ids = self._sets()
        if not set_ids:
            return
        why = fields.why.text()
        if key == MOVE:
            athlete_id, name = fields.athlete.currentData(), fields.athlete.currentText()
            if athlete_id is None:
                self._missing(fields.athlete, "Choose to whom.")
            else:
                self._do(lambda desk: desk.move(set_ids, athlete_id, name, why))
        elif key == NAME_LIFT:
            lift = fields.lift.currentData()
            if lift is None:
                self._missing(fields.lift, "Choose which lift it was.")
            else:
                self._do(lambda desk: desk.relabel(set_ids, lift, why))
        elif key == CHANGE_LOAD:
            load_kg = fields.load_kg()
            if load_kg is None:
                self._missing(fields.load, f"Type the load in {window.unit}.")
            else:
                words = load_words(load_kg, window.unit)
                self._do(lambda desk: desk.change_load(set_ids, load_kg, words, why))
        elif key == COMMENT:
            self._do(lambda desk: desk.comment(set_ids, why))

    def of_the_set(self, key: str) -> None:
        """One key of the open set."""
        window, why = self._window, self._window.fields.why.text()
        review, rep_ids = window.set.review, window.set.reps.chosen()
        if review is None:
            return
        set_id = review.line.set_id
        if key in (STRIKE, RESTORE):
            if not rep_ids:
                window.head.say(CHOOSE_REPS)
            else:
                self._do(lambda desk: desk.strike(rep_ids, set_id, key == STRIKE, why))
        elif key == UNSAY:
            comment_id = review.comments[-1][0]
            self._do(lambda desk: desk.unsay(comment_id, why))

    def accept(self, why: str) -> None:
        """The new measurement of the open set holds."""
        window, beside = self._window, self._window.compare.beside
        if beside is None:
            return
        self._do(
            lambda desk: desk.accept(beside.set_id, beside.seen.reps, why),
            lambda: window.show_page(window.set),
        )

    def undo(self) -> None:
        """Take back what was done last."""
        self._do(lambda desk: desk.undo())

    def failed(self, error: Exception) -> None:
        """Say why something was not done; what nobody foresaw is raised."""
        if not isinstance(error, REFUSED):
            raise error
        self._window.head.say(f"Not saved: {error}" if isinstance(error, StoreError) else str(error))

    # -- how -------------------------------------------------------------------------------------------------------

    def _sets(self) -> list[str]:
        window = self._window
        if window.open_set_id:
            return [window.open_set_id]
        rows = window.log.chosen_rows()
        lines = window.log.chosen()
        if not rows:
            window.head.say(CHOOSE_SETS)
        elif len(rows) > MOST_AT_ONCE:
            window.head.say(f"Choose at most {MOST_AT_ONCE} sets at once.")
        elif len(lines) < len(rows):
            window.head.say("Some of these sets are still being read; try again.")
        else:
            return [line.set_id for line in lines]
        return []

    def _missing(self, field: QWidget, words: str) -> None:
        self._window.head.say(words)
        field.setFocus()

    def _do(self, act: Callable[[ReviewDesk], Done], then: Callable[[], None] = lambda: None) -> None:
        def done(what: Done) -> None:
            self._window.head.say(what.words)
            self._window.head.show_undo(what.undo)
            self._window.fields.clear()
            then()
            self._window.read_again()

        self._ask(act, done)

    def _ask(self, question: Callable[[ReviewDesk], R], then: Callable[[R], None]) -> None:
        self._window.office.desk.ask(question, then, self.failed)
