"""What the rack is told of its sensor: in words, with what to do, and quiet again once it is well."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

from drivers.statistics import LinkStatistics
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource
from simulated_sensor.sessions import make_set_trace
from station.capture.link_source import SensorChoice, listen_to_sensor, stream_quality
from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.capture.rack_threads import RackThreads
from station.capture.rack_view import RackView
from station.commands.rack_command import open_rack, utc_now
from station.store.record import Record

WAIT_S = 40.0
TRACE = make_set_trace(PlannedSet("back squat", (0.8,), 0.6), seed=3)


class Screen:
    """Follows the views of a rack until one fits."""

    def __init__(self) -> None:
        self.woken = threading.Event()
        self.view: RackView | None = None

    def until(self, threads: RackThreads, fits: Callable[[RackView], bool]) -> RackView:
        while True:
            assert self.woken.wait(WAIT_S), f"never shown; last was {self.view}"
            self.woken.clear()
            for item in threads.drain():
                if isinstance(item, RackView):
                    self.view = item
                    if fits(item):
                        return item


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[[SensorChoice, Screen], RackThreads]]:
    made: list[RackThreads] = []

    def make_rack(show: Show) -> Rack:
        return open_rack(Record(tmp_path / "rack-1", "rack 1", utc_now), show)

    def begin(choice: SensorChoice, screen: Screen) -> RackThreads:
        made.append(RackThreads(make_rack, partial(listen_to_sensor, choice), screen.woken.set))
        made[-1].start()
        return made[-1]

    yield begin
    for threads in made:
        threads.stop()


Start = Callable[[SensorChoice, Screen], RackThreads]


def test_a_sensor_that_streams_is_named_with_its_battery_and_claimed(start: Start, tmp_path: Path) -> None:
    screen = Screen()
    with SensorProcess([(SensorSource("", "Bar sensor 1", battery_percent=15), TRACE)]) as process:
        threads = start(SensorChoice("Bar sensor 1", transport=process.transport), screen)
        view = screen.until(threads, lambda v: v.sensor.streaming and v.sensor.battery_percent is not None)
        assert view.sensor.name == "Bar sensor 1"
        assert any(t.kind == "battery" and "15 %" in t.words for t in view.troubles)
        threads.stop()
    record = Record(tmp_path / "rack-1", "rack 1", utc_now)
    assert record.claimed_sensor() == ("Bar sensor 1", process.addresses[0])
    record.close()


def test_a_sensor_that_vanishes_is_said_with_what_to_do(start: Start) -> None:
    screen = Screen()
    with SensorProcess([(SensorSource("", "Bar sensor 1"), TRACE)]) as process:
        threads = start(SensorChoice("Bar sensor 1", transport=process.transport), screen)
        screen.until(threads, lambda v: v.sensor.streaming)
        process.kill()
        view = screen.until(threads, lambda v: any(t.kind == "link" for t in v.troubles))
    (trouble,) = (t for t in view.troubles if t.kind == "link")
    assert trouble.serious
    assert "not measured" in trouble.advice
    assert not view.sensor.streaming
    assert threads.faults == []


def test_a_wanted_sensor_that_is_not_there_is_named(start: Start) -> None:
    screen = Screen()
    with SensorProcess([(SensorSource("", "Bar sensor 1"), TRACE)]) as process:
        threads = start(SensorChoice("Bar sensor 7", transport=process.transport), screen)
        view = screen.until(threads, lambda v: bool(v.troubles))
        threads.stop()
    assert "Bar sensor 7 is not in range" in view.troubles[0].words


def test_everyday_losses_are_not_said_and_bad_ones_are() -> None:
    before = LinkStatistics(packets=10, samples=1000)
    assert stream_quality(before, before.plus(samples=196, lost_samples=4)) is None
    said = stream_quality(before, before.plus(samples=180, lost_samples=20))
    assert said is not None
    assert "10 %" in said.words


def test_packets_that_do_not_fit_the_profile_are_said() -> None:
    before = LinkStatistics(packets=10, samples=1000)
    said = stream_quality(before, before.plus(malformed=5))
    assert said is not None
    assert "do not fit" in said.words


def test_a_silent_second_is_no_quality_trouble() -> None:
    assert stream_quality(LinkStatistics(), LinkStatistics()) is None
