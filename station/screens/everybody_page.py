"""Everybody of the squad on one page over the whole screen: two touches reach anybody, also without a number."""

from __future__ import annotations

import math

from PySide6.QtCore import QEvent, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QWidget

from station.capture.rack_view import AthleteTile, RackView
from station.screens.controls import TouchButton
from station.screens.covering_page import CoveringPage
from station.screens.lettering import Align, Letterer
from station.screens.theme import OTHER_CONTROL_MM, TABULAR_DIGIT_EM, Look, TextSize

CLOSE, MORE = "Close", "More"
LEAST_DIGITS = 4.4  # a key is wide enough for so many
TABS = (Qt.Key.Key_Tab, Qt.Key.Key_Backtab)


def _by_number(athlete: AthleteTile) -> tuple[bool, int, str]:
    number = athlete.shirt_number
    return number is None, number or 0, athlete.name


class NameKey(TouchButton):
    """A name as large as there is room for, never smaller than a finger tip needs."""

    def event(self, event: QEvent) -> bool:
        """Tab is the page's."""
        tab = isinstance(event, QKeyEvent) and event.type() is QEvent.Type.KeyPress and event.key() in TABS
        page = self.parent()
        if tab and isinstance(event, QKeyEvent) and isinstance(page, EverybodyPage):
            page.step(event.key() == Qt.Key.Key_Tab)
            return True
        return super().event(event)

    def sizeHint(self) -> QSize:
        """12 mm, as for all that is not used in every set."""
        side = self.look.metrics.mm(OTHER_CONTROL_MM)
        return QSize(side, side)

    def _words(self, letter: Letterer, box: QRectF) -> None:
        """Two lines at most, shortened rather than broken: the keys of a squad of 120 are narrow."""
        metrics = self.look.metrics
        inner = box.adjusted(metrics.gap * 0.5, 0, -metrics.gap * 0.5, 0)
        cap, pitch = metrics.cap_px(TextSize.COACH), metrics.line_px(TextSize.COACH)
        two = bool(self.sub) and cap + pitch <= inner.height() - metrics.gap
        inner.setTop(box.center().y() - (cap + (pitch if two else 0)) / 2)
        words = self.words if two or not self.sub else f"{self.words} {self.sub}"
        letter.block(inner, self._short(letter, words, inner.width()), TextSize.COACH, 1, align=Align.CENTRE)
        if two:
            inner.setTop(inner.top() + pitch)
            below = self._short(letter, self.sub, inner.width())
            letter.block(inner, below, TextSize.COACH, 1, align=Align.CENTRE)

    @staticmethod
    def _short(letter: Letterer, words: str, width: float) -> str:
        """As many letters as fit, with a full stop where some are left out."""
        if letter.width(words, TextSize.COACH) <= width:
            return words
        shorter = (words[:n].rstrip() for n in range(len(words) - 1, 0, -1))
        fitting = (part if part.isdigit() else f"{part}." for part in shorter)
        return next((one for one in fitting if letter.width(one, TextSize.COACH) <= width), words[:1])


class EverybodyPage(CoveringPage):
    """Emits `chosen(athlete_id)` and closes; Escape closes without a choice."""

    chosen = Signal(str)

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(look, parent)
        self._squad: tuple[AthleteTile, ...] = ()
        self._page = 0
        self.keys: list[NameKey] = []
        self.close_button = NameKey(CLOSE, look, self)
        self.close_button.clicked.connect(self.close_page)
        self.more_button = NameKey(MORE, look, self)
        self.more_button.clicked.connect(self._turn_page)

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        self.look = look
        for key in (*self.keys, self.close_button, self.more_button):
            key.set_look(look)
            key.setMinimumSize(key.sizeHint())
        if not self.isHidden():
            self._lay_out()

    def show_view(self, view: RackView) -> None:
        """Take the squad of this state, by shirt number."""
        known = {a.athlete_id: a for a in (*view.squad, *view.group)}
        squad = tuple(sorted(known.values(), key=_by_number))
        if squad != self._squad:
            self._squad, self._page = squad, 0
            if self.isVisible():
                self._lay_out()

    def open_page(self, title: str) -> None:
        """Show everybody; `title` says what the touch is for."""
        self.setAccessibleName(title)
        self.close_button.set_words(CLOSE, spoken=f"close: {title}")
        self._page = 0
        self.show()
        self._lay_out()
        self.raise_()
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    def _grid(self) -> tuple[int, int]:
        """Columns and rows: as wide keys as twelve millimetres of height allow, all names on one page if they fit."""
        metrics = self.look.metrics
        gap, least = metrics.gap, metrics.mm(OTHER_CONTROL_MM)
        two_lines = round(metrics.cap_px(TextSize.COACH) + metrics.line_px(TextSize.COACH) + 2 * gap)
        most_rows = max(1, (self.height() + gap) // (max(least, two_lines) + gap))
        digits = round(LEAST_DIGITS * TABULAR_DIGIT_EM * metrics.font_px(TextSize.COACH)) + gap
        most_columns = max(2, (self.width() + gap) // (max(least, digits) + gap))
        wanted = len(self._squad) + 1
        columns = min(max(2, math.ceil(wanted / most_rows)), most_columns)
        return columns, min(most_rows, math.ceil(wanted / columns))

    def _lay_out(self) -> None:
        columns, rows = self._grid()
        everybody_fits = columns * rows > len(self._squad)
        on_a_page = len(self._squad) if everybody_fits else columns * rows - 2
        shown = self._squad[self._page * on_a_page : (self._page + 1) * on_a_page]
        while len(self.keys) < len(shown):
            key = NameKey("", self.look, self)
            key.clicked.connect(self._key_clicked)
            key.show()
            self.keys.append(key)
        for index, key in enumerate(self.keys):
            key.setVisible(index < len(shown))
            if index < len(shown):
                self._name(key, shown[index])
        self.more_button.setVisible(not everybody_fits)
        feet = [self.close_button] if everybody_fits else [self.more_button, self.close_button]
        places = [*enumerate(self.keys[: len(shown)])]
        places += [(columns * rows - len(feet) + n, foot) for n, foot in enumerate(feet)]
        self._place(places, columns, rows)

    @staticmethod
    def _name(key: NameKey, athlete: AthleteTile) -> None:
        """The number with the given name on the first line, the rest of the name below it."""
        first, _, rest = athlete.name.partition(" ")
        number = "" if athlete.shirt_number is None else f"{athlete.shirt_number} "
        first = first if rest else ""
        rest = rest or athlete.name
        shirt = "" if athlete.shirt_number is None else f"shirt {athlete.shirt_number}, "
        key.set_words(
            f"{number}{first}".strip() or rest,
            rest if number or first else "",
            spoken=f"{shirt}{athlete.name}",
        )
        key.setProperty("athlete", athlete.athlete_id)

    def _place(self, places: list[tuple[int, NameKey]], columns: int, rows: int) -> None:
        gap = self.look.metrics.gap
        width = (self.width() - (columns - 1) * gap) / columns
        height = (self.height() - (rows - 1) * gap) / rows
        for index, key in places:
            row, column = divmod(index, columns)
            left, top = round(column * (width + gap)), round(row * (height + gap))
            key.setGeometry(left, top, int(width), int(height))

    def _key_clicked(self) -> None:
        key = self.sender()
        if isinstance(key, NameKey):
            self.close_page()
            self.chosen.emit(str(key.property("athlete")))

    def _turn_page(self) -> None:
        columns, rows = self._grid()
        pages = math.ceil(len(self._squad) / max(1, columns * rows - 2))
        self._page = (self._page + 1) % max(1, pages)
        self._lay_out()

    def step(self, forward: bool) -> None:
        """Tab goes round on this page: what lies below it cannot be seen."""
        keys = [*self.keys, self.more_button, self.close_button]
        ring = [key for key in keys if key.isVisible()]
        focused = [n for n, key in enumerate(ring) if key.hasFocus()]
        now = focused[0] if focused else -1 if forward else 0
        ring[(now + (1 if forward else -1)) % len(ring)].setFocus(Qt.FocusReason.TabFocusReason)

    def event(self, event: QEvent) -> bool:
        """Tab before Qt moves on to what lies below."""
        if isinstance(event, QKeyEvent) and event.type() is QEvent.Type.KeyPress and event.key() in TABS:
            self.step(event.key() == Qt.Key.Key_Tab)
            return True
        return super().event(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the page out again; keys that are made while it is hidden would stay unpainted."""
        if not self.isHidden():
            self._lay_out()
