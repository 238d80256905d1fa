"""The group at this rack as large tiles in lifting order: number, name, what is still to do; who is next."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QWidget

from station.capture.rack_view import AthleteTile, RackView
from station.screens.controls import TouchButton
from station.screens.lettering import Letterer
from station.screens.painted import plate
from station.screens.theme import Look, TextSize
from station.screens.wording import NO_BREAK

TILES_ON_A_PAGE = 6


class Tile(QAbstractButton):
    """One athlete. The current one is filled, a merely proposed one has a dashed outline."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.athlete: AthleteTile | None = None
        self._current = self._proposed = self._next = False
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def show_athlete(self, athlete: AthleteTile, *, current: bool, proposed: bool, is_next: bool) -> None:
        """Paint this athlete."""
        self.athlete, self._current, self._proposed, self._next = athlete, current, proposed, is_next
        state = (
            " (lifting, not confirmed)"
            if proposed
            else " (lifting)"
            if current
            else " (next)"
            if is_next
            else ""
        )
        shirt = f"shirt {athlete.shirt_number}, " if athlete.shirt_number is not None else ""
        self.setAccessibleName(f"{shirt}{athlete.name}, {athlete.to_do}{state}")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Plate, name over up to two lines, what is to do at the foot."""
        palette = self.look.palette
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(palette.ground))
        filled = self._current and not self._proposed
        fill = palette.ink if filled else palette.pressed if self.isDown() else palette.surface
        ink = palette.ground if filled else palette.ink
        box = QRectF(self.rect())
        plate(painter, box, self.look, fill=fill, outline=palette.ink if filled else palette.line)
        if self._proposed or self.hasFocus():
            self._dashed(painter, box, ink)
        self._words(Letterer(painter, self.look, ink=ink, ground=fill), box)
        if self._next:
            self._next_mark(painter, box)
        painter.end()

    def _words(self, letter: Letterer, box: QRectF) -> None:
        athlete, metrics = self.athlete, self.look.metrics
        if athlete is None:
            return
        pad = metrics.gap
        inner = box.adjusted(pad, pad * 1.2, -pad, -pad * 1.2)
        name = (
            athlete.name
            if athlete.shirt_number is None
            else f"{athlete.shirt_number}{NO_BREAK}{athlete.name}"
        )
        letter.block(inner, name, TextSize.COACH, 2, strong=True)
        foot = QRectF(inner)
        foot.setTop(inner.bottom() - metrics.cap_px(TextSize.COACH))
        if self._next:
            foot.setRight(foot.right() - metrics.gap * 2)
        words = self._foot(athlete)
        if self._next and letter.width(words, TextSize.COACH) > foot.width():
            words = "next"
        letter.block(foot, words, TextSize.COACH, 1)

    def _foot(self, athlete: AthleteTile) -> str:
        if self._proposed:
            return "touch to confirm"
        return f"next: {athlete.to_do}" if self._next else athlete.to_do

    def _dashed(self, painter: QPainter, box: QRectF, ink: str) -> None:
        inset, radius = self.look.metrics.stroke, self.look.metrics.gap * 0.6
        style = Qt.PenStyle.DashLine if self._proposed else Qt.PenStyle.DotLine
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(ink), self.look.metrics.hairline, style))
        painter.drawRoundedRect(box.adjusted(inset, inset, -inset, -inset), radius, radius)

    def _next_mark(self, painter: QPainter, box: QRectF) -> None:
        """A wedge at the lower right: this one is up."""
        gap = self.look.metrics.gap
        tip = box.bottomRight()
        tip.setX(tip.x() - gap)
        tip.setY(tip.y() - gap * 1.9)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self.look.palette.ink))
        back = gap * 1.3
        corners = [(0.0, 0.0), (-back, -back * 0.8), (-back, back * 0.8)]
        shape = QPolygonF()
        for dx, dy in corners:
            corner = box.bottomRight()
            corner.setX(tip.x() + dx)
            corner.setY(tip.y() + dy)
            shape.append(corner)
        painter.drawPolygon(shape)


class AthleteTiles(QWidget):
    """The row of tiles, with the button for everything else at its end."""

    touched = Signal(str)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self._group: tuple[AthleteTile, ...] = ()
        self._view: RackView | None = None
        self._page = 0
        self.tiles = [Tile(look, self) for _ in range(TILES_ON_A_PAGE)]
        for tile in self.tiles:
            tile.clicked.connect(self._tile_clicked)
        self.page_button = TouchButton("More names", look, self)
        self.page_button.clicked.connect(self._turn_page)
        self.more = TouchButton("More", look, self, key="M")

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        self.look = look
        for tile in self.tiles:
            tile.look = look
            tile.update()
        self.page_button.set_look(look)
        self.more.set_look(look)

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        if view.group != self._group:
            self._group, self._page = view.group, 0
        self._view = view
        self._fill()

    def _shown(self) -> tuple[AthleteTile, ...]:
        start = self._page * TILES_ON_A_PAGE
        return self._group[start : start + TILES_ON_A_PAGE]

    def _fill(self) -> None:
        view, shown = self._view, self._shown()
        if view is None:
            return
        current = view.athlete.athlete_id if view.athlete else None
        for index, tile in enumerate(self.tiles):
            tile.setVisible(index < len(shown))
            if index < len(shown):
                is_current = shown[index].athlete_id == current
                tile.show_athlete(
                    shown[index],
                    current=is_current,
                    proposed=is_current and not view.name_confirmed,
                    is_next=shown[index].athlete_id == view.next_athlete_id and not is_current,
                )
        self._lay_out()

    def _tile_clicked(self) -> None:
        tile = self.sender()
        if isinstance(tile, Tile) and tile.athlete is not None:
            self.touched.emit(tile.athlete.athlete_id)

    def touch_index(self, index: int) -> None:
        """As if the tile at this place of the shown page had been touched."""
        shown = self._shown()
        if index < len(shown):
            self.touched.emit(shown[index].athlete_id)

    def _turn_page(self) -> None:
        pages = -(-len(self._group) // TILES_ON_A_PAGE)
        self._page = (self._page + 1) % max(1, pages)
        self._fill()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the width out again."""
        self._lay_out()

    def _lay_out(self) -> None:
        gap, control, height = self.look.metrics.gap, self.look.metrics.control, self.height()
        width = self.width() - control - gap
        self.more.setGeometry(self.width() - control, 0, control, height)
        paged = len(self._group) > TILES_ON_A_PAGE
        self.page_button.setVisible(paged)
        if paged:
            width -= control + gap
            self.page_button.setGeometry(width + gap, 0, control, height)
        count = max(4, len(self._shown()))
        each = (width - (count - 1) * gap) / count
        for index, tile in enumerate(self.tiles):
            tile.setGeometry(round(index * (each + gap)), 0, round(each), height)
