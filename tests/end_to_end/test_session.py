"""A whole session through the window, over the virtual radio: 4 athletes, 3 sets each, and what goes wrong in one.

One set under a wrong name, one without a name, one rep struck out, one load wrong for three sets, one link loss, one
suggestion overruled: by mouse, finger and key, while a simulated sensor streams in real time (85 s).
"""

from __future__ import annotations

import asyncio
import os
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest

pytest.importorskip("bumble")

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton
from pytestqt.qtbot import QtBot

from simulated_sensor.peripheral import SensorSettings, SimulatedSensor
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.serve import plug_in
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace
from simulated_sensor.virtual_controller import VirtualController
from simulated_sensor.virtual_radio import VirtualRadio
from station.capture.link_source import SensorChoice, listen_to_sensor
from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.capture.rack_view import Decision, RackView
from station.commands.rack_command import open_rack, utc_now
from station.screens.rack_app import RackApp
from station.screens.rack_window import RackWindow
from station.squad.athletes import Athlete
from station.store.record import Record
from station.store.rows import NewRep, NewSet
from tests.screens.test_touches import choose

LEFT = Qt.MouseButton.LeftButton
LIFT = "back squat"
NAMES = ("Aino", "Bela", "Cleo", "Dana")
BEFORE_LUNCH = (0.95, 0.92, 0.93, 0.90, 0.60, 0.58, 0.61, 0.59, 0.60)
AFTER = (0.58, 0.57, 0.60, 0.59)
SEED = 13  # leaves 2.5 s or more from the end of one rep to the next: time for what people touch
WAIT_MS = 40_000


def today() -> date:
    return datetime.now().astimezone().date()


def session_trace() -> SensorTrace:
    bouts = [PlannedSet(LIFT, speeds, 0.60, longest_pause_s=2.6) for speeds in (BEFORE_LUNCH, AFTER)]
    return make_session_trace(bouts, seed=SEED, rest_between_s=9.0)


def club_record(folder: Path) -> Record:
    """Four athletes with six weeks of history behind them."""
    record = Record(folder, "rack 1", utc_now)
    record.add_athletes([Athlete(name, name, n, "rack 1") for n, name in enumerate(NAMES, 7)])
    record.add_rows("staff", [{"name": "Coach Minke"}])
    for name in NAMES:
        plan = {"athlete_id": name, "lift": LIFT, "warmup_load_kg": 60.0, "planned_load_kg": 95.0}
        record.add_rows("plans", [plan | {"ceiling_kg": 100.0, "work_sets": 2, "stop_loss": 0.2}])
        for week in range(6, 0, -1):
            day, wobble = today() - timedelta(weeks=week), 0.02 if week % 2 else -0.02
            for load, kind, speed in ((60.0, "warm-up", 0.93), (95.0, "work", 0.59)):
                new = NewSet(name, True, day, 1, LIFT, load, kind, sensor="Bar sensor 1", bar_kg=20.0)
                rep = NewRep(1, "measured", 1, 2, 2.3, speed + wobble, 0.9, 1.4, 0.60, 0.01)
                record.add_rep(record.begin_set(new), rep)
    with record.database.write("the births") as connection:  # written now, lifted weeks ago
        connection.exec_driver_sql(
            "UPDATE sets SET born_at = ?", (datetime.now(UTC).replace(tzinfo=None) - timedelta(days=7),)
        )
    return record


class RadioInAThread:
    """A virtual radio with one sensor, in a loop of its own, that can be taken out of range from here."""

    def __init__(self, trace: SensorTrace) -> None:
        self._trace = trace
        self._up = threading.Event()
        self._loop = asyncio.new_event_loop()
        self._end = asyncio.Event()
        self._thread = threading.Thread(target=self._run, name="radio of the test")
        self.transport = ""

    def __enter__(self) -> RadioInAThread:
        self._thread.start()
        assert self._up.wait(20.0)
        return self

    def __exit__(self, *_: object) -> None:
        self._loop.call_soon_threadsafe(self._end.set)
        self._thread.join()
        self._loop.close()

    def _run(self) -> None:
        self._loop.run_until_complete(self._serve())

    async def _serve(self) -> None:
        async with VirtualRadio() as self.radio:
            sensor = SimulatedSensor(self._trace, SensorSettings())
            self.controller: VirtualController = await plug_in(sensor, self.radio)
            self.transport = await self.radio.open_port("station")
            self._up.set()
            await self._end.wait()
            await sensor.stop()

    def out_of_range(self) -> None:
        self._loop.call_soon_threadsafe(self.radio.link.move_out_of_range, self.controller)

    def into_range(self) -> None:
        self._loop.call_soon_threadsafe(self.radio.link.move_into_range, self.controller)


class Coach:
    """Eyes and fingers at the rack."""

    def __init__(self, qtbot: QtBot, window: RackWindow) -> None:
        self.qtbot, self.window = qtbot, window
        self.finger = QTest.createTouchDevice()
        self.seen: list[str] = []  # the ids of all reps that were painted, in order

    @property
    def view(self) -> RackView:
        assert self.window.view is not None
        return self.window.view

    def painted(self, view: RackView) -> None:
        reps = view.set.reps if view.set is not None else ()
        self.seen += [r.rep_id for r in reps if r.rep_id not in self.seen]

    def until_reps(self, count: int) -> None:
        self.qtbot.waitUntil(lambda: len(self.seen) >= count, timeout=WAIT_MS)
        assert len(self.seen) == count, "the coach was too slow for the lifters"

    def until_lifter(self, name: str | None) -> None:
        def named() -> bool:
            now = self.view.athlete.name if self.view.athlete else None
            return now == name

        self.qtbot.waitUntil(named, timeout=WAIT_MS)

    def touch(self, button: QAbstractButton) -> None:
        at = button.mapTo(self.window, button.rect().center())
        QTest.touchEvent(self.window, self.finger).press(0, at, self.window).commit()
        QTest.touchEvent(self.window, self.finger).release(0, at, self.window).commit()

    def hand_over(self, name: str) -> None:
        self.touch(self.window.tiles.tiles[NAMES.index(name)])
        self.until_lifter(name)

    def choose(self, button: QAbstractButton, *words: str) -> None:
        self.qtbot.mouseClick(button, LEFT)
        for word in words:
            choose(self.qtbot, self.window, word)


@pytest.fixture
def radio() -> Iterator[RadioInAThread]:
    with RadioInAThread(session_trace()) as running:
        yield running


@pytest.mark.timeout(240)
def test_a_session_with_all_that_goes_wrong_is_in_the_record_as_it_was(
    qtbot: QtBot, tmp_path: Path, radio: RadioInAThread
) -> None:
    folder = tmp_path / "club" / "rack-1"
    club_record(folder).close()

    def make_rack(show: Show) -> Rack:
        return open_rack(Record(folder, "rack 1", utc_now), show)

    source = partial(listen_to_sensor, SensorChoice("Bar sensor 1", transport=radio.transport))
    with RackApp(make_rack, source) as app:
        window = app.window
        coach = Coach(qtbot, window)
        app.painter.painted.connect(coach.painted)
        qtbot.waitUntil(lambda: window.view is not None and window.view.sensor.streaming, timeout=WAIT_MS)
        qtbot.mouseClick(window.cautions.button, LEFT)
        coach.choose(window.tiles.more, "Sign in", "Coach Minke")
        # Round 1. Aino, whose suggestion is overruled.
        coach.hand_over("Aino")
        coach.until_reps(1)
        qtbot.keyClick(window, Qt.Key.Key_E)
        qtbot.waitUntil(lambda: window.controls.change.isVisible(), timeout=WAIT_MS)
        coach.choose(window.controls.change, "92.5 kg")
        qtbot.waitUntil(lambda: coach.view.decision is Decision.CHANGE, timeout=WAIT_MS)
        # Bela lifts though nobody touched his name: it is only proposed.
        coach.until_reps(2)
        assert coach.view.athlete is not None
        assert (coach.view.athlete.name, coach.view.name_confirmed) == ("Bela", False)
        # Cleo's tile is touched, but Dana lifts: the wrong name.
        coach.hand_over("Cleo")
        coach.until_reps(3)
        coach.choose(window.controls.this_set, "Whose set?", "Dana")
        coach.until_lifter("Dana")
        # A set without a name, named afterwards.
        coach.choose(window.tiles.more, "No name")
        coach.until_lifter(None)
        coach.until_reps(4)
        coach.hand_over("Cleo")
        # Round 2. Aino lifts two, the first is struck out.
        coach.hand_over("Aino")
        coach.until_reps(6)
        assert coach.view.set is not None
        struck = coach.view.set.reps[0]
        coach.choose(window.controls.this_set, f"Rep 1 {struck.mean_velocity_m_s:.2f}")
        qtbot.waitUntil(
            lambda: coach.view.set is not None and coach.view.set.reps[0].status == "struck out",
            timeout=WAIT_MS,
        )
        for name, count in (("Bela", 7), ("Cleo", 8), ("Dana", 9)):
            coach.hand_over(name)
            coach.until_reps(count)
        # The bar is racked; the sensor goes away and comes back.
        qtbot.waitUntil(lambda: coach.view.set is not None and not coach.view.set.is_open, timeout=WAIT_MS)
        radio.out_of_range()
        qtbot.waitUntil(lambda: any(t.serious for t in coach.view.troubles), timeout=WAIT_MS)
        assert not coach.view.sensor.streaming
        radio.into_range()
        qtbot.waitUntil(lambda: coach.view.sensor.streaming, timeout=WAIT_MS)
        # The bar held 97.5 for the last three sets: said once.
        wrong = coach.view.session_sets[-3]
        coach.choose(window.tiles.more, "Several sets", f"{wrong.clock} {wrong.athlete}", "97.5 kg")
        qtbot.waitUntil(lambda: coach.view.session_sets[-1].load_kg == 97.5, timeout=WAIT_MS)
        # Round 3.
        for name, count in (("Aino", 10), ("Bela", 11), ("Cleo", 12), ("Dana", 13)):
            coach.hand_over(name)
            coach.until_reps(count)
        qtbot.keyClick(window, Qt.Key.Key_E)
        qtbot.waitUntil(lambda: coach.view.set is not None and not coach.view.set.is_open, timeout=WAIT_MS)
        assert app.threads.faults == []
    check_the_record(folder, coach.seen, struck.rep_id)


def check_the_record(folder: Path, painted: list[str], struck: str) -> None:
    """Twelve sets under the right names with the right loads, and every rep that was painted."""
    record = Record(folder, "rack 1", utc_now)
    rows = record.sets_on(today())
    order = ["Aino", "Bela", "Dana", "Cleo", "Aino", "Bela", "Cleo", "Dana", "Aino", "Bela", "Cleo", "Dana"]
    assert [row.athlete_id for row in rows] == order
    assert [row.load_kg for row in rows] == [60.0] * 4 + [92.5] + [97.5] * 3 + [92.5] + [95.0] * 3
    assert [row.name_confirmed for row in rows] == [True, False] + [True] * 10
    reps = [rep for row in rows for rep in record.reps_of(row.set_id)]
    assert [rep.rep_id for rep in reps] == painted
    assert [rep.rep_id for rep in reps if rep.struck] == [struck]
    truth = [t.mean_velocity_m_s for t in session_trace().truth]
    assert [rep.mean_velocity_m_s for rep in reps] == pytest.approx(truth, abs=0.03)
    today_of_dana = [o for o in record.observations("Dana", LIFT) if o.day == today()]
    assert [o.load_kg for o in today_of_dana] == [60.0, 97.5, 95.0]
    with record.database.read() as connection:
        decided = connection.exec_driver_sql("SELECT decision, load_kg, staff FROM decisions").all()
        by = connection.exec_driver_sql("SELECT DISTINCT staff FROM corrections").all()
    assert [tuple(row) for row in decided] == [("change", 92.5, "Coach Minke")]
    assert [tuple(row) for row in by] == [("Coach Minke",)]
    raw = list((folder / "raw").glob("*.parquet"))
    assert len(raw) == len(rows)
    record.close()
