"""The rack screen: lays out athlete's part and coach's part, paints a `RackView`, passes touches on to `RackActions`.

Live in the Qt thread only. `show_view` and `add_trace` are its slots; nothing else comes in.
"""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtGui import QCloseEvent, QColor, QKeyEvent, QPalette, QResizeEvent, QShortcut
from PySide6.QtWidgets import QAbstractButton, QWidget

from station.capture.rack_view import LiveTrace, RackActions, RackView
from station.screens.athlete_tiles import TILES_ON_A_PAGE, AthleteTiles
from station.screens.cautions_page import CautionsPage
from station.screens.control_row import ControlRow
from station.screens.drawer import Choice, Drawer
from station.screens.drawer_pages import shirt_words
from station.screens.keypad import Keypad
from station.screens.mirror_window import MirrorWindow
from station.screens.now_pane import NowPane
from station.screens.rack_touches import RackTouches
from station.screens.shirt_finder import ShirtFinder
from station.screens.suggestion_card import SuggestionCard
from station.screens.theme import PALETTES, Look, Metrics, ScreenGeometry, ThemeName
from station.screens.trace_plot import TracePlot
from station.screens.trouble_strip import TroubleStrip
from station.screens.warmup_history import WarmupHistory

LEFT_SHARE = 0.69
HISTORY_SHARE = 0.46  # of the right column, above the suggestion
HISTORY_SHARE_ABOVE_TRACE = 0.56
NOTE_SHOWN_MS = 6000


class RackWindow(QWidget):
    """One rack's touch screen.

    Args:
        actions: carries out what people touch.
        theme: "dark" or "light".
        screen: the screen's resolution and diagonal; all sizes follow from it.
    """

    def __init__(self, actions: RackActions, theme: ThemeName, screen: ScreenGeometry) -> None:
        super().__init__()
        self.look = Look(PALETTES[theme], Metrics.for_touch(screen))
        self.view: RackView | None = None
        self.mirror: MirrorWindow | None = None
        self.strip = TroubleStrip(self.look, self)
        self.tiles = AthleteTiles(self.look, self)
        self.now = NowPane(self.look, self)
        self.history = WarmupHistory(self.look, self)
        self.trace = TracePlot(self.look, self)
        self.card = SuggestionCard(self.look, self)
        self.controls = ControlRow(self.look, self)
        self.cautions = CautionsPage(self.look, self)
        self.drawer = Drawer(self.look, self)
        self.keypad = Keypad(self.look, self)
        self.keypad.digit.connect(self._digit)
        self.keypad.entered.connect(self._find)
        self._finder = ShirtFinder()
        self._touches = RackTouches(self, actions)
        self._note_timer = QTimer(self, singleShot=True, interval=NOTE_SHOWN_MS)
        self._note_timer.timeout.connect(self._clear_note)
        self._shortcuts()
        self._paint_ground()
        self.setWindowTitle("Bar-speed station")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setFocus(Qt.FocusReason.OtherFocusReason)
        self.resize(screen.width_px, screen.height_px)

    @Slot(object)
    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        self.view = view
        for part in (self.strip, self.tiles, self.now, self.history, self.card, self.controls, self.cautions):
            part.show_view(view)
        if self.mirror is not None:
            self.mirror.show_view(view)
        under_way = view.set is not None and view.set.is_open
        self.card.setVisible(view.suggestion is not None and not under_way)
        self.trace.setVisible(not self.card.isVisibleTo(self))
        self.setWindowTitle(f"{view.rack_name} · bar-speed station")
        self._lay_out()

    def attach_mirror(self, mirror: MirrorWindow) -> None:
        """Show every view on this mirror as well; it closes with this window."""
        self.mirror = mirror
        if self.view is not None:
            mirror.show_view(self.view)

    @Slot(object)
    def add_trace(self, trace: LiveTrace) -> None:
        """Take a chunk of the live trace in."""
        self.trace.add(trace)

    def set_theme(self, theme: ThemeName) -> None:
        """Dark or light."""
        self.look = Look(PALETTES[theme], self.look.metrics)
        for part in (
            *(self.strip, self.tiles, self.now, self.history, self.trace),
            *(self.card, self.controls, self.cautions, self.drawer, self.keypad),
        ):
            part.set_look(self.look)
        self._paint_ground()
        if self.mirror is not None:
            self.mirror.set_theme(theme)

    def toggle_theme(self) -> None:
        """The other theme."""
        self.set_theme("light" if self.look.palette.name == "dark" else "dark")

    def toggle_full_screen(self) -> None:
        """With or without window frame."""
        if self.isFullScreen():
            self.showNormal()
        else:
            self.showFullScreen()

    def say(self, words: str) -> None:
        """A short answer to what somebody just did, in the strip."""
        self.strip.set_note(words)
        self._note_timer.start()
        self._lay_out()

    def _clear_note(self) -> None:
        self._finder.clear()
        self.strip.set_note("")
        self._lay_out()

    def _paint_ground(self) -> None:
        palette = self.palette()
        palette.setColor(QPalette.ColorRole.Window, QColor(self.look.palette.ground))
        self.setPalette(palette)

    def _shortcuts(self) -> None:
        for index in range(TILES_ON_A_PAGE):
            shortcut = QShortcut(f"F{index + 1}", self)
            shortcut.setProperty("tile", index)
            shortcut.activated.connect(self._tile_key)
        QShortcut("T", self).activated.connect(self.toggle_theme)
        QShortcut("F11", self).activated.connect(self.toggle_full_screen)

    def _tile_key(self) -> None:
        self.tiles.touch_index(int(self.sender().property("tile")))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Digits and Enter find an athlete by shirt number; Escape clears."""
        if event.text().isdigit() and event.text().isascii():
            self._digit(event.text())
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._enter()
        elif event.key() == Qt.Key.Key_Escape:
            self._clear_note()
        else:
            super().keyPressEvent(event)

    def open_keypad(self) -> None:
        """A number pad, for a screen without a keyboard."""
        self._finder.clear()
        self.keypad.show()
        self.keypad.raise_()
        self.say("Type a shirt number, then Enter")

    def _digit(self, digit: str) -> None:
        self._finder.add(digit)
        self.say(f"Shirt {self._finder.typed}, then Enter")

    def _enter(self) -> None:
        """A typed number first, else the focused control, else the cautions have been read."""
        focused = self.focusWidget()
        if self._finder.typed:
            self._find()
        elif isinstance(focused, QAbstractButton):
            focused.click()
        elif self.cautions.isVisible():
            self.cautions.mark_read()

    def _find(self) -> None:
        if self.view is None or not self._finder.typed:
            return
        found = self._finder.enter(self.view)
        self.say(found.words)
        if len(found.athletes) == 1:
            self._touches.athlete(found.athletes[0].athlete_id)
        elif found.athletes:
            choices = [
                Choice(f"athlete:{a.athlete_id}", a.name, shirt_words(a.shirt_number)) for a in found.athletes
            ]
            self.drawer.open_page("Who?", choices)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the window out again."""
        self._lay_out()

    def _lay_out(self) -> None:
        """Strip, tiles, middle, controls from the top; the middle is split into now and the right column."""
        gap, pad, row = self.look.metrics.gap, self.look.metrics.gap, self.look.metrics.control_height
        width, height = self.width() - 2 * pad, self.height()
        split = round(width * LEFT_SHARE)
        strip = self.strip.height_for(width)
        self.strip.setGeometry(pad, pad, width, strip)
        tiles_top = pad + strip + gap
        self.tiles.setGeometry(pad, tiles_top, width, row)
        foot = height - pad - row
        self.controls.split_px = split
        self.controls.setGeometry(pad, foot, width, row)
        top = tiles_top + row + round(1.5 * gap)
        middle = foot - round(1.2 * gap) - top
        self.now.setGeometry(pad, top, split - 3 * gap, middle)
        self.cautions.setGeometry(pad, top, split - 3 * gap, middle)
        right, right_width = pad + split, width - split
        above_card = self.card.isVisibleTo(self)
        history = round(middle * (HISTORY_SHARE if above_card else HISTORY_SHARE_ABOVE_TRACE))
        self.history.setGeometry(right, top, right_width, history)
        for panel in (self.trace, self.card):
            panel.setGeometry(right, top + history + gap, right_width, middle - history - gap)
        self.keypad.setGeometry(right, top, right_width, height - pad - top)
        self.drawer.setGeometry(right, top, right_width, height - pad - top)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop the timers with the window."""
        self._note_timer.stop()
        self.trace.stop()
        if self.mirror is not None:
            self.mirror.close()
        super().closeEvent(event)
