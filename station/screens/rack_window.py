"""The rack screen: lays out athlete's part and coach's part, paints a `RackView`, passes touches on to `RackActions`.

Live in the Qt thread only. `show_view` and `add_trace` are its slots; nothing else comes in.
"""

from __future__ import annotations

from typing import Protocol

from PySide6.QtCore import QEvent, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QCloseEvent, QColor, QKeyEvent, QPalette, QResizeEvent, QShortcut
from PySide6.QtWidgets import QAbstractButton, QWidget

from station.capture.rack_view import LiveTrace, RackActions, RackView, ScreenSettings
from station.screens.athlete_tiles import TILES_ON_A_PAGE, AthleteTiles
from station.screens.badge_reader import types_a_badge
from station.screens.cautions_page import CautionsPage
from station.screens.coach_page import CoachPage
from station.screens.control_row import ControlRow, decision_pending
from station.screens.drawer import Drawer
from station.screens.everybody_page import EverybodyPage
from station.screens.keypad import Keypad
from station.screens.large_row import LargeRow
from station.screens.mirror_window import MirrorWindow
from station.screens.now_pane import NowPane
from station.screens.rack_touches import RackTouches
from station.screens.rack_typing import RackTyping
from station.screens.suggestion_card import SuggestionCard
from station.screens.theme import PALETTES, Look, Metrics, ScreenGeometry, ThemeName
from station.screens.tones import tone_due
from station.screens.trace_plot import TracePlot
from station.screens.trouble_strip import TroubleStrip
from station.screens.warmup_history import WarmupHistory

LEFT_SHARE = 0.69
HISTORY_SHARE = 0.46  # of the right column, above the suggestion
HISTORY_SHARE_ABOVE_TRACE = 0.56
NOTE_SHOWN_MS = 6000


class Part(Protocol):
    """What the window is made of."""

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""


class RackWindow(QWidget):
    """One rack's touch screen.

    Args:
        actions: carries out what people touch.
        theme: "dark" or "light".
        screen: the screen's resolution and diagonal; all sizes follow from it.
    """

    tone_due = Signal(object)
    check_in_wanted = Signal()

    def __init__(self, actions: RackActions, theme: ThemeName, screen: ScreenGeometry) -> None:
        super().__init__()
        self._screen = screen
        self.look = Look(PALETTES[theme], Metrics.for_touch(screen))
        self._settings = ScreenSettings()
        self.view: RackView | None = None
        self.mirror: MirrorWindow | None = None
        self.strip = TroubleStrip(self.look, self)
        self.tiles = AthleteTiles(self.look, self)
        self.now = NowPane(self.look, self)
        self.history = WarmupHistory(self.look, self)
        self.trace = TracePlot(self.look, self)
        self.card = SuggestionCard(self.look, self)
        self.controls = ControlRow(self.look, self)
        self.large_row = LargeRow(self.look, self)
        self.cautions = CautionsPage(self.look, self)
        self.cautions.read.connect(self._cautions_changed)
        self.cautions.shown.connect(self._cautions_changed)
        self.coach = CoachPage(self.look, self)
        self.drawer = Drawer(self.look, self)
        self.keypad = Keypad(self.look, self)
        self.everybody = EverybodyPage(self.look, self)
        self._touches = RackTouches(self, actions)
        self.typing = RackTyping(self, self._touches)
        self._note_timer = QTimer(self, singleShot=True, interval=NOTE_SHOWN_MS)
        self._note_timer.timeout.connect(self.clear_note)
        self._shortcuts()
        self._paint_ground()
        self.setWindowTitle("Bar-speed station")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setFocus(Qt.FocusReason.OtherFocusReason)
        self.resize(screen.width_px, screen.height_px)

    @property
    def large_print(self) -> bool:
        """Whether one thing is shown at a time, since text is large."""
        return self.look.metrics.large_print

    def _parts(self) -> tuple[Part, ...]:
        """Everything that paints a view."""
        return (
            *(self.strip, self.tiles, self.now, self.history, self.card),
            *(self.controls, self.large_row, self.cautions, self.coach, self.everybody),
        )

    @Slot(object)
    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        before, self.view = self.view, view
        self._follow_settings(view.settings)
        panes = [self.now, *([self.mirror.now] if self.mirror is not None else [])]
        if _last_rep(view) != (_last_rep(before) if before is not None else None):
            for pane in panes:
                pane.show_number(view)
        for part in self._parts():
            part.show_view(view)
        if self.mirror is not None:
            self.mirror.show_view(view)
        self._show_what_fits(view)
        if view.pin_words and (before is None or before.pin_words != view.pin_words):
            self.say(view.pin_words)
        self._touches.refresh()
        tone = tone_due(before, view)
        if tone is not None:
            self.tone_due.emit(tone)
        self.setWindowTitle(f"{view.rack_name} · bar-speed station")
        self._lay_out()

    def _show_what_fits(self, view: RackView) -> None:
        """Side by side: history, and below it the suggestion or the trace. In large print, one thing at a time."""
        under_way = view.set is not None and view.set.is_open
        large = self.large_print
        waits = view.suggestion is not None and not under_way
        self.card.setVisible(waits and (not large or decision_pending(view)))
        self.trace.setVisible(not large and not self.card.isVisibleTo(self))
        self.history.setVisible(not large)
        self.tiles.setVisible(not large)
        self.controls.setVisible(not large)
        self.large_row.setVisible(large)
        covered = self.cautions.isVisibleTo(self) or (large and self.card.isVisibleTo(self))
        self.now.setVisible(not (large and covered))

    def _cautions_changed(self) -> None:
        if self.view is not None:
            self._show_what_fits(self.view)

    def _follow_settings(self, settings: ScreenSettings) -> None:
        """Size and theme as they are kept; the theme only when that changed: a key may have been quicker."""
        before, self._settings = self._settings, settings
        if settings.scale_percent != before.scale_percent:
            self._use_look(Look(self.look.palette, Metrics.for_touch(self._screen, settings.scale_percent)))
        if settings.theme is not None and settings.theme != before.theme:
            self.set_theme(settings.theme)

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
        self._use_look(Look(PALETTES[theme], self.look.metrics))
        if self.mirror is not None:
            self.mirror.set_theme(theme)

    def _use_look(self, look: Look) -> None:
        self.look = look
        for part in self._parts():
            part.set_look(look)
        for other in (self.trace, self.drawer, self.keypad):
            other.set_look(look)
        self._paint_ground()

    def toggle_theme(self) -> None:
        """The other theme, also for the next start."""
        self.set_theme("light" if self.look.palette.name == "dark" else "dark")
        self._touches.keep_theme()

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

    def clear_note(self) -> None:
        """Nothing is said any more, and what was typed so far is forgotten."""
        self.typing.forget()
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

    def event(self, event: QEvent) -> bool:
        """Letters and digits come as keys and not as shortcuts at once: they may be a badge."""
        if (
            event.type() is QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and types_a_badge(event)
        ):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """A badge, a shortcut, or digits and Enter for a shirt number; Escape clears."""
        if types_a_badge(event):
            self.typing.key(event.text())
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if not self.typing.enter():
                self._touch_what_has_focus()
        elif event.key() == Qt.Key.Key_Escape:
            self.coach.hide()
            self.keypad.hide()
            self.clear_note()
        else:
            super().keyPressEvent(event)

    def _touch_what_has_focus(self) -> None:
        """Enter with nothing typed: the focused control, else the cautions have been read."""
        focused = self.focusWidget()
        if isinstance(focused, QAbstractButton):
            focused.click()
        elif self.cautions.isVisible():
            self.cautions.mark_read()

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
        self.everybody.setGeometry(pad, pad, width, height - 2 * pad)
        foot = height - pad - row
        self.controls.split_px = split
        self.controls.setGeometry(pad, foot, width, row)
        top = tiles_top + row + round(1.5 * gap)
        middle = foot - round(1.2 * gap) - top
        if self.large_print:
            self._lay_out_large(pad + strip + gap, foot)
            return
        self.large_row.setGeometry(pad, foot, width, row)
        self.now.setGeometry(pad, top, split - 3 * gap, middle)
        self.cautions.setGeometry(pad, top, split - 3 * gap, middle)
        right, right_width = pad + split, width - split
        above_card = self.card.isVisibleTo(self)
        history = round(middle * (HISTORY_SHARE if above_card else HISTORY_SHARE_ABOVE_TRACE))
        self.history.setGeometry(right, top, right_width, history)
        for panel in (self.trace, self.card):
            panel.setGeometry(right, top + history + gap, right_width, middle - history - gap)
        for over in (self.keypad, self.drawer, self.coach):
            over.setGeometry(right, top, right_width, height - pad - top)

    def _lay_out_large(self, top: int, foot: int) -> None:
        """The number or what stands in its place over the whole width, four words below it."""
        gap = self.look.metrics.gap
        width = self.width() - 2 * gap
        self.large_row.setGeometry(gap, foot, width, self.height() - gap - foot)
        for part in (self.now, self.cautions, self.card):
            part.setGeometry(gap, top, width, foot - gap - top)
        for over in (self.keypad, self.drawer, self.coach):
            over.setGeometry(gap, top, width, self.height() - gap - top)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop the timers with the window."""
        self._note_timer.stop()
        self.trace.stop()
        if self.mirror is not None:
            self.mirror.close()
        super().closeEvent(event)


def _last_rep(view: RackView) -> str | None:
    return view.set.reps[-1].rep_id if view.set is not None and view.set.reps else None
