"""The main job end to end: a sensor in a process of its own, Bluetooth LE, bleak, engine, record, real window."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import date, datetime
from functools import partial
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from simulated_sensor.club import make_club
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace
from station.capture.link_source import SensorChoice, listen_to_sensor
from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.commands.demo_club import DATA_NOTE, fill_record
from station.commands.rack_command import open_rack, utc_now
from station.screens.rack_app import RackApp
from station.store.record import Record

LEFT = Qt.MouseButton.LeftButton
WAIT_MS = 60_000
LIFT = "back squat"


def today() -> date:
    return datetime.now().astimezone().date()


def two_sets() -> SensorTrace:
    """A warm-up set of two athletes, three and two reps."""
    club = make_club(today())
    sets = [
        PlannedSet(LIFT, (a.today_m_s(a.warmup_load_kg),) * reps, a.range_of_motion_m, longest_pause_s=0.5)
        for a, reps in zip(club.athletes[:2], (3, 2), strict=True)
    ]
    return make_session_trace(sets, seed=11, rest_between_s=4.0)


def club_rack(folder: Path, show: Show) -> Rack:
    record = Record(folder, "rack 1", utc_now)
    fill_record(record, make_club(today()))
    return open_rack(record, show, DATA_NOTE)


@pytest.fixture
def sensor() -> Iterator[tuple[SensorProcess, SensorTrace]]:
    trace = two_sets()
    with SensorProcess([(SensorSource("", "Bar sensor 1"), trace)]) as process:
        yield process, trace


@pytest.mark.timeout(180)
def test_two_athletes_lift_and_every_rep_is_in_the_record_and_on_the_screen(
    qtbot: QtBot, tmp_path: Path, sensor: tuple[SensorProcess, SensorTrace]
) -> None:
    process, trace = sensor
    source = partial(listen_to_sensor, SensorChoice("Bar sensor 1", transport=process.transport))
    painted: list[tuple[str, int, float]] = []
    with RackApp(partial(club_rack, tmp_path / "rack-1"), source) as app:
        window = app.window

        def note_painted_reps() -> None:
            view = window.view
            if view is not None and view.set is not None and view.athlete is not None:
                for rep in view.set.reps:
                    assert rep.mean_velocity_m_s is not None
                    mark = (view.athlete.name, rep.number, rep.mean_velocity_m_s)
                    if mark not in painted:
                        painted.append(mark)

        app.painter.painted.connect(note_painted_reps)
        qtbot.waitUntil(lambda: window.view is not None and window.view.sensor.streaming, timeout=WAIT_MS)
        assert window.view is not None
        first, second = window.view.group[:2]
        qtbot.mouseClick(window.tiles.tiles[0], LEFT)
        qtbot.waitUntil(lambda: window.view is not None and window.view.name_confirmed, timeout=WAIT_MS)
        qtbot.waitUntil(
            lambda: window.view is not None and window.view.suggestion is not None, timeout=WAIT_MS
        )
        assert window.view.today is not None
        assert window.view.data_note == "demo data"
        qtbot.mouseClick(window.tiles.tiles[1], LEFT)

        def second_set_is_over() -> bool:
            view = window.view
            return view is not None and view.athlete == second_tile() and view.suggestion is not None

        def second_tile() -> object:
            assert window.view is not None
            return window.view.group[1]

        qtbot.waitUntil(second_set_is_over, timeout=WAIT_MS)
        assert app.threads.faults == []
    assert [(name, n) for name, n, _ in painted] == [
        *((first.name, n) for n in (1, 2, 3)),
        *((second.name, n) for n in (1, 2)),
    ]
    assert [v for _, _, v in painted] == pytest.approx([t.mean_velocity_m_s for t in trace.truth], abs=0.03)
    record = Record(tmp_path / "rack-1", "rack 1", utc_now)
    names = {a.athlete_id: a.name for a in record.athletes()}
    stored = [
        (names[row.athlete_id or ""], rep.number, rep.mean_velocity_m_s)
        for row in record.sets_on(today())
        for rep in record.reps_of(row.set_id)
    ]
    assert stored == painted
    assert all(row.name_confirmed for row in record.sets_on(today()))
    record.close()
