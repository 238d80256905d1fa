"""Jumps end to end: a belt in a process of its own, Bluetooth LE, bleak, engine, record, window; no touch."""

from __future__ import annotations

import os
from datetime import date, datetime
from functools import partial
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from pytestqt.qtbot import QtBot

from simulated_sensor.jump_path import PlannedJump
from simulated_sensor.jumps import make_jump_trace, make_turns_trace
from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource
from station.capture.belt_source import listen_to_belts
from station.capture.jump_line import Show
from station.capture.jump_view import JumpLineView, Turn
from station.capture.link_source import SensorChoice
from station.commands.jumps_command import open_line
from station.screens.jump_line_app import JumpLineApp
from station.screens.theme import ScreenGeometry
from station.squad.athletes import Athlete
from station.squad.jumps import JumpTrial
from station.store import jumps
from station.store.record import Record

WAIT_MS = 90_000
HEIGHTS_M = (0.32, 0.36, 0.34, 0.28)


def today() -> date:
    return datetime.now().astimezone().date()


NAMES = {"a": "Aino Amsel", "b": "Bela Birkholz", "c": "Ciro Carstam"}


def squad(folder: Path, ids: str = "ab") -> None:
    record = Record(folder, "jump line", datetime.now().astimezone)
    record.add_athletes([Athlete(key, NAMES[key], n, "rack 1") for n, key in enumerate(ids, 7)])
    record.close()


def kept_trials(folder: Path) -> list[JumpTrial]:
    record = Record(folder, "jump line", datetime.now().astimezone)
    with record.database.read() as connection:
        kept = jumps.trials_since(connection, today())
    record.close()
    return kept


@pytest.mark.timeout(180)
def test_a_turn_of_three_and_the_next_athletes_jump_are_in_the_record_and_on_the_screen(
    qtbot: QtBot, tmp_path: Path
) -> None:
    squad(tmp_path / "jump-line")
    trace, truth = make_jump_trace([PlannedJump(h, 0.3, pitch_deg=20.0) for h in HEIGHTS_M], seed=31)
    views: list[JumpLineView] = []
    with SensorProcess([(SensorSource("", "Belt 1"), trace)]) as process:
        source = partial(listen_to_belts, [SensorChoice("Belt 1", transport=process.transport)])

        def make(show: Show):  # type: ignore[no-untyped-def]
            return open_line(tmp_path / "jump-line", "jump line", 1, show)

        with JumpLineApp(make, source, "dark", ScreenGeometry(1280, 800, 10.0)) as app:
            app.painted.connect(views.append)
            app.window.show()
            qtbot.waitUntil(lambda: bool(views) and views[-1].sensors[0].streaming, timeout=WAIT_MS)
            qtbot.waitUntil(lambda: _through(views[-1]), timeout=WAIT_MS)
            assert app.threads.faults == []
    kept = kept_trials(tmp_path / "jump-line")
    assert [t.athlete_id for t in kept] == ["a", "a", "a", "b"]
    assert all(t.valid for t in kept)
    assert [t.height_m for t in kept] == pytest.approx([t.height_m for t in truth], abs=0.015)
    assert views[-1].current is not None
    assert views[-1].current.name == "Bela Birkholz"


def _through(view: JumpLineView) -> bool:
    """The first athlete is done, and the second has jumped."""
    turns = {tile.athlete_id: tile.turn for tile in view.queue}
    return (
        turns["a"] is Turn.DONE
        and view.current is not None
        and view.current.athlete_id == "b"
        and bool(view.trials)
    )


def turns(view: JumpLineView) -> dict[str, Turn]:
    return {tile.athlete_id: tile.turn for tile in view.queue}


@pytest.mark.timeout(240)
def test_two_belts_go_along_the_line_in_turn_one_put_on_while_the_other_jumps(
    qtbot: QtBot, tmp_path: Path
) -> None:
    """Belt 1: the first athlete, then the third; belt 2: the second. Nobody touches anything."""
    folder = tmp_path / "jump-line"
    squad(folder, "abc")
    first, truth_1 = make_turns_trace(
        [[PlannedJump(0.32), PlannedJump(0.36)], [PlannedJump(0.28)]], [4, 17], seed=41
    )
    second, truth_2 = make_turns_trace([[PlannedJump(0.41), PlannedJump(0.44)]], [17], seed=42)
    views: list[JumpLineView] = []
    with SensorProcess(
        [(SensorSource("", "Belt 1"), first), (SensorSource("", "Belt 2"), second)]
    ) as process:
        belts = [SensorChoice(name, transport=process.transport) for name in ("Belt 1", "Belt 2")]

        def make(show: Show):  # type: ignore[no-untyped-def]
            return open_line(folder, "jump line", 2, show)

        with JumpLineApp(
            make, partial(listen_to_belts, belts), "dark", ScreenGeometry(1280, 800, 10.0)
        ) as app:
            app.painted.connect(views.append)
            app.window.show()
            qtbot.waitUntil(
                lambda: bool(views) and all(s.streaming for s in views[-1].sensors), timeout=WAIT_MS
            )
            qtbot.waitUntil(
                lambda: len(views[-1].trials) == 1 and _current(views[-1]) == "c", timeout=WAIT_MS
            )
            assert app.threads.faults == []
    kept = kept_trials(folder)
    assert [t.athlete_id for t in kept] == ["a", "a", "b", "b", "c"]
    assert all(t.valid for t in kept)  # putting a belt on gave nothing
    heights = [truth_1[0], truth_1[1], truth_2[0], truth_2[1], truth_1[2]]
    assert [t.height_m for t in kept] == pytest.approx([t.height_m for t in heights], abs=0.015)
    # When the second belt jumped, the first went to the third athlete, who put it on meanwhile.
    handed_over = next(view for view in views if _current(view) == "b")
    assert turns(handed_over) == {"a": Turn.DONE, "b": Turn.JUMPING, "c": Turn.WEARING}
    assert len(list((folder / "raw").glob("*.parquet"))) == 5


def _current(view: JumpLineView) -> str | None:
    return view.current.athlete_id if view.current is not None and view.trials else None
