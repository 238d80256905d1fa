"""What the command `jumps` does: the jump line's record, its belts, one window."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from station.capture.belt_source import listen_to_belts
from station.capture.jump_line import JumpLine, Show
from station.capture.link_source import SensorChoice
from station.commands.beside import chores_beside
from station.commands.folders import data_folder, data_root
from station.commands.rack_command import local_day, utc_now
from station.commands.rack_program import Look
from station.commands.window_program import run_window
from station.store.nearby import take_over
from station.store.record import Record
from station.store.sensor_book import SensorBook
from station.store.sharing import Role

if TYPE_CHECKING:
    from PySide6.QtWidgets import QWidget

    from station.screens.theme import ScreenGeometry


def run_jumps(
    name: str, data: Path | None, sensors: Sequence[str], look: Look, transport: str | None = None
) -> None:
    """The jump line until its window is closed.

    Args:
        sensors: name or address of each belt, in the order in which they go along the line.

    Raises:
        StoreError: the record cannot be opened.
    """
    book = SensorBook(data_root(data), utc_now)
    choices = [
        SensorChoice(sensor, (), transport, f"{name}, belt {n}", book) for n, sensor in enumerate(sensors, 1)
    ]
    make_line = partial(open_line, data_folder(data, name), name, len(choices))

    def make(screen: ScreenGeometry) -> QWidget:
        from station.screens.jump_line_app import JumpLineApp

        app = JumpLineApp(make_line, partial(listen_to_belts, choices), look.theme, screen)
        app.start()
        return app.window

    with chores_beside(data_folder(data, name), Role.RACK, raw=True):
        run_window(make, look)


def open_line(folder: Path, name: str, belts: int, show: Show, data_note: str = "") -> JumpLine:
    """The jump line of a record, with the roster of this machine's other records."""
    record = Record(folder, name, utc_now)
    try:
        take_over(record)
        return JumpLine(record, belts, show, local_day, data_note)
    except BaseException:
        record.close()
        raise
