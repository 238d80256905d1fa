"""The jump line's screen: paints a `JumpLineView`, passes touches on to `JumpActions`. No touch between jumps."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Signal, Slot
from PySide6.QtGui import QCloseEvent, QPainter, QResizeEvent, QShortcut

from station.capture.jump_view import JumpActions, JumpLineView
from station.screens.controls import TouchButton
from station.screens.jump_panes import JumpNumber, JumpScale
from station.screens.jump_queue_list import JumpQueueList
from station.screens.lettering import Align, Letterer
from station.screens.page import PageWindow
from station.screens.painted import Painted, plate
from station.screens.theme import ScreenGeometry, TextSize, ThemeName

LEFT_SHARE = 0.66
NUMBER_SHARE = 0.60
CAUTION = "Stop at pain; hurt or ill: ask a coach."


class JumpStrip(Painted):
    """Belts and day while all is well, trouble in plain words with what to do when not."""

    _view: JumpLineView | None = None

    def show_view(self, view: JumpLineView) -> None:
        """Paint this state of the line."""
        self._view = view
        self.setAccessibleName(self.words())
        self.update()

    def words(self) -> str:
        """What the strip says."""
        view = self._view
        if view is None:
            return ""
        if view.troubles:
            worst = sorted(view.troubles, key=lambda trouble: not trouble.serious)[0]
            return f"{worst.words} {worst.advice}"
        belts = [
            f"belt {n}: {sensor.link}" + (f", {sensor.battery_percent} %" if sensor.battery_percent else "")
            for n, sensor in enumerate(view.sensors, 1)
        ]
        proposed = [] if view.proposed_today else ["no jump line is proposed today"]
        return " · ".join([CAUTION, *belts, *proposed])

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """One line, on a plate when it is trouble."""
        view, palette, gap = self._view, self.look.palette, self.look.metrics.gap
        if view is None:
            return
        row = QRectF(self.rect())
        if view.troubles:
            plate(painter, row, self.look, fill=palette.ink)
            letter = Letterer(painter, self.look, ink=palette.ground, ground=palette.ink)
            row = row.adjusted(gap, 0, -gap, 0)
        elif view.data_note:
            letter.line(row, view.data_note, TextSize.COACH, align=Align.RIGHT, strong=True)
            row.setRight(row.right() - letter.width(view.data_note, TextSize.COACH, strong=True) - 2 * gap)
        letter.line(row, self.words(), TextSize.COACH, strong=bool(view.troubles))


class JumpLineWindow(PageWindow):
    """One jump line.

    Args:
        actions: carries out what people touch.
        theme, screen: as for every window.

    Signals:
        closed: the window is gone.
    """

    closed = Signal()

    def __init__(self, actions: JumpActions, theme: ThemeName, screen: ScreenGeometry) -> None:
        super().__init__(theme, screen)
        self._actions = actions
        self.view: JumpLineView | None = None
        self.strip = JumpStrip(self.look, self)
        self.number = JumpNumber(self.look, self)
        self.scale = JumpScale(self.look, self)
        self.queue = JumpQueueList(self.look, self)
        self.later = TouchButton("Later", self.look, self, key="L")
        self.strike = TouchButton("Strike last", self.look, self, key="S")
        self.undo = TouchButton("Undo", self.look, self, key="U")
        self.later.set_words("Later", "to the end")
        self.later.clicked.connect(actions.later)
        self.strike.clicked.connect(actions.strike_last)
        self.undo.clicked.connect(actions.undo)
        self.queue.chosen.connect(actions.jumps_now)
        for n in range(9):
            shortcut = QShortcut(f"F{n + 1}", self)
            shortcut.setProperty("place", n)
            shortcut.activated.connect(self._place_key)
        self.setWindowTitle("Jump line · bar-speed station")

    @Slot(object)
    def show_view(self, view: JumpLineView) -> None:
        """Paint this state of the line."""
        self.view = view
        for part in (self.strip, self.number, self.scale, self.queue):
            part.show_view(view)

    def _place_key(self) -> None:
        place = int(self.sender().property("place"))
        if self.view is not None and place < len(self.view.queue):
            self._actions.jumps_now(self.view.queue[place].athlete_id)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Strip at the top, number and scale at the left, the line at the right, keys at the foot."""
        metrics = self.look.metrics
        pad, gap = 2 * metrics.gap, metrics.gap
        width = self.width() - 2 * pad
        strip = metrics.line_px(TextSize.COACH) + 2 * gap
        self.strip.setGeometry(pad, gap, width, strip)
        top, foot = strip + 3 * gap, self.height() - pad // 2 - metrics.control_height
        split = round(width * LEFT_SHARE)
        number = round((foot - top) * NUMBER_SHARE)
        self.number.setGeometry(pad, top, split - 3 * gap, number)
        self.scale.setGeometry(pad, top + number + gap, split - 3 * gap, foot - top - number - 2 * gap)
        self.queue.setGeometry(pad + split, top, width - split, self.height() - pad // 2 - top)
        share = (split - 2 * gap) / 3
        for n, button in enumerate((self.later, self.strike, self.undo)):
            button.setGeometry(round(pad + n * share), foot, round(share - gap), metrics.control_height)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Say so."""
        super().closeEvent(event)
        self.closed.emit()
