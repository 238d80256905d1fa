"""The check-in on a rack's own screen: opened under More between sets, kept by the worker, unseen at the rack."""

from __future__ import annotations

import asyncio
import gc
from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.commands.rack_command import open_rack
from station.screens.controls import TouchButton
from station.screens.page import Cover
from station.screens.rack_app import RackApp
from station.squad.athletes import Athlete
from station.squad.checkins import ITEM_KEYS, Pain
from station.store import checkins
from station.store.record import Record
from tests.screens.glance import lettered

LEFT = Qt.MouseButton.LeftButton
NOW = datetime(2026, 10, 14, 6, 0, tzinfo=UTC)


async def no_sensor(_hear: Callable[[Any], None]) -> None:
    await asyncio.Event().wait()


def rack_of(folder: Path, show: Show) -> Rack:
    record = Record(folder, "rack 1", lambda: NOW)
    if not record.athletes():
        record.add_athletes(
            [Athlete("a", "Aino Amsel", 7, "rack 1"), Athlete("b", "Bela Birkholz", 8, "rack 1")]
        )
        for key in ("a", "b"):
            checkins.give_consent(record, key, given=True)
    return open_rack(record, show)


def today() -> date:
    return datetime.now().astimezone().date()


def _on_the_page(app: RackApp, words: str) -> list[TouchButton]:
    return [b for b in app.window.drawer.buttons if b.isVisible() and b.words == words]


def test_an_athlete_checks_in_at_the_rack_and_the_mirror_is_blank_meanwhile(
    qtbot: QtBot, tmp_path: Path
) -> None:
    folder = tmp_path / "rack-1"
    with RackApp(partial(rack_of, folder), no_sensor, mirror_in=32.0) as app:
        qtbot.waitUntil(lambda: app.window.view is not None)
        qtbot.mouseClick(app.window.tiles.more, LEFT)
        if not _on_the_page(app, "Check-in"):
            qtbot.mouseClick(app.window.drawer.more_button, LEFT)
        (choice,) = _on_the_page(app, "Check-in")
        qtbot.mouseClick(choice, LEFT)
        kiosk = app.check_in
        assert kiosk is not None
        assert kiosk.geometry() == app.window.rect()
        qtbot.mouseClick(next(b for b in kiosk.who.names if b.words.endswith("Aino Amsel")), LEFT)
        assert app.window.mirror is not None
        assert len(app.window.mirror.findChildren(Cover)) == 1
        for item in ITEM_KEYS:
            qtbot.mouseClick(kiosk.items.answers[item, 2], LEFT)
        kiosk._hurts(Pain("hamstring", "left"))
        qtbot.mouseClick(kiosk.items.options["Done"], LEFT)
        qtbot.mouseClick(kiosk.sheet, LEFT)
        qtbot.waitUntil(lambda: app.window.mirror is not None and not app.window.mirror.findChildren(Cover))
        qtbot.mouseClick(kiosk.who.leave_key, LEFT)
        assert not kiosk.isVisible()
        seen = " ".join(line.text for line in lettered(app.window))
        assert "hamstring" not in seen
        assert "check-in" not in seen.lower()
        assert app.threads.faults == []
    record = Record(folder, "rack 1", lambda: NOW)
    with record.database.read() as connection:
        (kept,) = checkins.check_ins_since(connection, today())
        assert checkins.held_back(connection, today()) == {"a"}
    record.close()
    assert (kept.athlete_id, kept.total, kept.pains) == ("a", 10, (Pain("hamstring", "left"),))


def test_a_collection_does_not_walk_what_the_start_made(qtbot: QtBot, tmp_path: Path) -> None:
    with RackApp(partial(rack_of, tmp_path / "rack-1"), no_sensor) as app:
        qtbot.waitUntil(lambda: app.window.view is not None)
        assert gc.get_freeze_count() > len(gc.get_objects())
    assert gc.get_freeze_count() == 0
