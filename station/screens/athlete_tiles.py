"""The group at this rack as large tiles in lifting order: number, name, what is still to do; who is next.

At the end of the row the key for anybody else of the squad, and the one for everything else.
"""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from station.capture.rack_view import AthleteTile, RackView
from station.screens.controls import TouchButton
from station.screens.theme import Look
from station.screens.tile import Tile

TILES_ON_A_PAGE = 6


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
        self.anybody = TouchButton("Who?", look, self, key="A")
        self.anybody.set_words("Who?", spoken="all names of the squad")
        self.more = TouchButton("More", look, self, key="M")

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        self.look = look
        for tile in self.tiles:
            tile.look = look
            tile.update()
        self.page_button.set_look(look)
        self.anybody.set_look(look)
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
        width = self.width() - 2 * (control + gap)
        self.more.setGeometry(self.width() - control, 0, control, height)
        self.anybody.setGeometry(width + gap, 0, control, height)
        paged = len(self._group) > TILES_ON_A_PAGE
        self.page_button.setVisible(paged)
        if paged:
            width -= control + gap
            self.page_button.setGeometry(width + gap, 0, control, height)
        count = max(4, len(self._shown()))
        each = (width - (count - 1) * gap) / count
        for index, tile in enumerate(self.tiles):
            tile.setGeometry(round(index * (each + gap)), 0, round(each), height)
