"""What is typed at a rack: shirt numbers, PINs, badges, and the letters of the controls."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtGui import QShortcut
from PySide6.QtWidgets import QWidget

from station.screens.badge_reader import BadgeReader
from station.screens.drawer import Choice
from station.screens.drawer_pages import shirt_words
from station.screens.rack_touches import RackTouches
from station.screens.shirt_finder import MOST_DIGITS, ShirtFinder

if TYPE_CHECKING:
    from station.screens.rack_window import RackWindow


class RackTyping(QObject):
    """Tells a badge reader from a person's keys, and a PIN from a shirt number.

    Args:
        window: whose keys they are; its note line says what was understood.
        touches: what a found person leads to.
    """

    def __init__(self, window: RackWindow, touches: RackTouches) -> None:
        super().__init__(window)
        self._window, self._touches = window, touches
        self._finder = ShirtFinder()
        self._pin_of: str | None = None
        self._pin = ""
        self._badges = BadgeReader(self)
        self._badges.single.connect(self._typed_alone)
        self._badges.badge.connect(self._badge)
        window.keypad.digit.connect(self._digit)
        window.keypad.entered.connect(self._find)

    def key(self, text: str) -> None:
        """A letter or digit, from whatever types."""
        self._badges.key(text)

    def enter(self) -> bool:
        """Enter: a badge or what was typed is looked up; False when nothing was typed."""
        if self._badges.enter():
            return True
        if self._finder.typed or self._pin_of is not None:
            self._find()
            return True
        return False

    def forget(self) -> None:
        """What was typed of a shirt number so far is forgotten."""
        self._finder.clear()

    def open_keypad(self) -> None:
        """A number pad, for a screen without a keyboard."""
        self._pin_of = None
        self._finder.clear()
        self._window.keypad.show()
        self._window.keypad.raise_()
        self._window.say("Type a shirt number, then Enter")

    def ask_pin(self, staff: str) -> None:
        """The number pad for a PIN: of this person, or a new one of whoever is signed in ("")."""
        self.open_keypad()
        self._pin_of, self._pin = staff, ""
        self._window.say(
            f"PIN of {staff}, then Enter" if staff else "New PIN, four digits or more, then Enter"
        )

    def _typed_alone(self, text: str) -> None:
        """A key of its own: a digit of a shirt number, or a control's letter."""
        if text.isdigit():
            self._digit(text)
            return
        for shortcut in self._window.findChildren(QShortcut):
            parent = shortcut.parent()
            usable = not isinstance(parent, QWidget) or (parent.isVisible() and parent.isEnabled())
            if shortcut.key().toString() == text.upper() and usable:
                shortcut.activated.emit()
                return

    def _badge(self, code: str) -> None:
        """Whoever's badge it is lifts now; a badge that is nobody's is given to somebody."""
        if self._pin_of is not None and code.isdigit():
            self._pin += code  # typed fast, or by a reader of cards that carry a PIN
            self._find()
            return
        view = self._window.view
        if view is None:
            return
        holder = dict(view.badges).get(code)
        if holder is not None:
            self._touches.athlete(holder)
        elif code.isdigit() and len(code) <= MOST_DIGITS:
            self._finder.clear()
            for digit in code:
                self._finder.add(digit)
            self._find()
        else:
            self._window.say("This badge is nobody's yet. Whose is it?")
            self._touches.open(f"badge/{code}")

    def _digit(self, digit: str) -> None:
        if self._pin_of is not None and self._window.keypad.isVisible():
            self._pin += digit
            self._window.say("PIN " + "•" * len(self._pin))
            return
        self._finder.add(digit)
        self._window.say(f"Shirt {self._finder.typed}, then Enter")

    def _find(self) -> None:
        if self._pin_of is not None:
            self._pin_is_typed(self._pin_of)
            return
        view = self._window.view
        if view is None or not self._finder.typed:
            return
        found = self._finder.enter(view)
        self._window.say(found.words)
        if len(found.athletes) == 1:
            self._touches.athlete(found.athletes[0].athlete_id)
        elif found.athletes:
            choices = [
                Choice(f"athlete:{a.athlete_id}", a.name, shirt_words(a.shirt_number)) for a in found.athletes
            ]
            self._window.drawer.open_page("Who?", choices)

    def _pin_is_typed(self, staff: str) -> None:
        self._pin_of = None
        self._window.keypad.hide()
        self._window.clear_note()
        self._touches.pin_typed(staff, self._pin)
