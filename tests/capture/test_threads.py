"""The thread crossing: nothing measured is lost between radio, worker and painter; a fault does not end capture."""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from drivers.samples import SampleBlock
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from station.capture.link_news import WAITING, LinkNews
from station.capture.measurement import Measurement
from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.capture.rack_setup import setup_from_record
from station.capture.rack_threads import RackThreads
from station.capture.rack_view import LiveTrace, RackView
from station.capture.raw_keeper import RawKeeper
from station.capture.threads import Hear
from station.squad.lifts import LIFTS
from station.store.errors import FolderInUse
from station.store.record import Record
from tests.capture.bench import blocks

DAY = date(2026, 10, 14)
SET = PlannedSet("back squat", (0.8, 0.78), 0.6, longest_pause_s=0.5)
WAIT_S = 30.0


def make_rack_in(folder: Path, show: Show) -> Rack:
    record = Record(folder, "rack 1", lambda: datetime.now(UTC))
    raw = RawKeeper(folder / "raw")
    return Rack(record, setup_from_record(record), Measurement(LIFTS["back squat"]), raw, show, lambda: DAY)


class Sender:
    """A source that sends a trace as fast as it can, then stays until it is cancelled."""

    def __init__(self) -> None:
        self.blocks = list(blocks(make_session_trace([SET], seed=5), time.monotonic()))
        self.released = threading.Event()
        self.all_sent = threading.Event()

    async def __call__(self, hear: Hear) -> None:
        try:
            hear(LinkNews(WAITING))
            for block in self.blocks:
                hear(block)
                await asyncio.sleep(0)
            self.all_sent.set()
            await asyncio.get_running_loop().create_future()
        finally:
            self.released.set()


class Watcher:
    """Stands for the painter: is woken, drains on its own thread."""

    def __init__(self) -> None:
        self.woken = threading.Event()
        self.views: list[RackView] = []
        self.traces = 0

    def until_reps(self, threads: RackThreads, count: int) -> RackView:
        while True:
            assert self.woken.wait(WAIT_S), "nothing was shown"
            self.woken.clear()
            for item in threads.drain():
                if isinstance(item, LiveTrace):
                    self.traces += 1
                    continue
                self.views.append(item)
                if item.set is not None and len(item.set.reps) >= count:
                    return item


@pytest.fixture
def watcher() -> Watcher:
    return Watcher()


Make = Callable[..., RackThreads]


@pytest.fixture
def threads_for(tmp_path: Path) -> Iterator[Make]:
    """Makes the threads of a rack in this test's folder; all are stopped in the end, whatever happens."""
    made: list[RackThreads] = []

    def make(source: Sender, wake: Callable[[], object] = lambda: None) -> RackThreads:
        made.append(RackThreads(lambda show: make_rack_in(tmp_path, show), source, wake))
        return made[-1]

    yield make
    for threads in made:
        threads.stop()


@pytest.fixture
def running(threads_for: Make, watcher: Watcher) -> RackThreads:
    threads = threads_for(Sender(), watcher.woken.set)
    threads.start()
    return threads


def test_every_rep_comes_through_to_the_painter(running: RackThreads, watcher: Watcher) -> None:
    view = watcher.until_reps(running, 2)
    assert view.set is not None
    assert [r.number for r in view.set.reps] == [1, 2]
    assert watcher.traces > 0
    assert running.faults == []
    assert running.dropped_blocks == 0


def test_stopping_lets_the_sensor_go_and_keeps_everything_queued(
    tmp_path: Path, threads_for: Make, watcher: Watcher
) -> None:
    sender = Sender()
    threads = threads_for(sender, watcher.woken.set)
    threads.start()
    assert sender.all_sent.wait(WAIT_S)
    threads.stop()
    assert sender.released.is_set()
    record = Record(tmp_path, "rack 1", lambda: datetime.now(UTC))
    (row,) = record.sets_on(DAY)
    assert len(record.reps_of(row.set_id)) == 2
    record.close()


class Idle:
    """A source that waits to be cancelled, and swallows the first so many cancellations."""

    def __init__(self, swallows: int = 0) -> None:
        self.swallows, self.ended = swallows, threading.Event()
        self.began = threading.Event()

    async def __call__(self, hear: Hear) -> None:
        self.began.set()
        try:
            for _ in range(self.swallows):
                with contextlib.suppress(asyncio.CancelledError):
                    await asyncio.get_running_loop().create_future()
            await asyncio.get_running_loop().create_future()
        finally:
            self.ended.set()


def radio_threads() -> list[threading.Thread]:
    return [one for one in threading.enumerate() if one.name == "radio loop"]


def test_a_station_stopped_as_soon_as_it_has_started_leaves_no_thread(threads_for: Make) -> None:
    for _ in range(20):
        threads = threads_for(Idle())
        threads.start()
        threads.stop()
        assert radio_threads() == []


def test_a_radio_stack_that_swallows_one_cancellation_is_asked_again(
    threads_for: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.capture.threads.STOP_WAIT_S", 3.0)
    source = Idle(swallows=1)
    threads = threads_for(source)
    threads.start()
    assert source.began.wait(WAIT_S)
    threads.stop()
    assert source.ended.wait(WAIT_S)
    assert radio_threads() == []


def test_what_people_touch_is_carried_out_in_order(running: RackThreads, watcher: Watcher) -> None:
    watcher.until_reps(running, 2)
    running.sign_in("Coach")
    running.set_load(82.5)
    running.set_lift("deadlift")
    running.undo()
    running.set_load(100.0)
    while not watcher.views or watcher.views[-1].load_kg != 100.0:
        assert watcher.woken.wait(WAIT_S)
        watcher.woken.clear()
        watcher.views += [v for v in running.drain() if isinstance(v, RackView)]
    assert watcher.views[-1].staff == "Coach"


def test_a_rack_that_cannot_start_says_why_to_whoever_starts_it(tmp_path: Path, threads_for: Make) -> None:
    holder = Record(tmp_path, "rack 1", lambda: datetime.now(UTC))
    threads = threads_for(Sender())
    with pytest.raises(FolderInUse):
        threads.start()
    holder.close()


def test_a_fault_in_the_worker_is_said_and_capture_goes_on(
    threads_for: Make, watcher: Watcher, caplog: pytest.LogCaptureFixture
) -> None:
    sender = Sender()
    threads = threads_for(sender, watcher.woken.set)

    def broken(_rack: Rack) -> None:
        raise ArithmeticError("one and one is three")

    threads.touch(broken)
    threads.start()
    view = watcher.until_reps(threads, 2)
    assert any("one and one is three" in t.words for t in view.troubles)
    threads.stop()
    assert "one and one is three" in caplog.text


def test_a_painter_that_sleeps_gets_the_newest_picture(threads_for: Make) -> None:
    sender = Sender()
    threads = threads_for(sender)
    threads.start()
    assert sender.all_sent.wait(WAIT_S)
    threads.stop()
    views = [item for item in threads.drain() if isinstance(item, RackView)]
    assert len(views) == 1
    assert views[0].set is not None
    assert len(views[0].set.reps) == 2


def test_blocks_that_find_the_queue_full_are_counted_not_waited_for(
    threads_for: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.capture.threads.INBOX_SIZE", 3)
    threads = threads_for(Sender())
    heard: list[SampleBlock] = Sender().blocks[:10]
    for block in heard:
        threads._hear(block)
    assert threads.dropped_blocks == 7
