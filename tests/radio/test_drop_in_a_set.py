"""A connection that drops in the middle of a set, through the whole capture: radio, link, clock, engine, record."""

from __future__ import annotations

import asyncio
import time
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("bumble")

from drivers.samples import SampleBlock
from simulated_sensor.lifts import PlannedSet
from simulated_sensor.peripheral import SensorSettings, SimulatedSensor
from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource, plug_in
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace
from simulated_sensor.virtual_radio import VirtualRadio
from station.capture.link_news import LinkNews
from station.capture.link_source import SensorChoice, listen_to_sensor
from station.capture.rack_view import LiveTrace, RackView, RepStatus
from station.commands.rack_command import local_day, open_rack, utc_now
from station.store.record import Record
from station.store.rows import RepRow

DROP_S = 2.0
TICK_S = 0.1
NEAR_S = 0.3
SETTLED_S = 2.5  # after a rep the engine has decided about it


class Station:
    """A rack on a link, both in this loop, with the record read back afterwards."""

    def __init__(self, folder: Path, transport: str) -> None:
        self._record = Record(folder, "rack 1", utc_now)
        self.views: list[RackView] = []
        self._rack = open_rack(self._record, self._show)
        self._first_s: asyncio.Future[float] = asyncio.get_running_loop().create_future()
        source = listen_to_sensor(SensorChoice("Bar sensor 1", transport=transport), self._hear)
        self._tasks = [asyncio.create_task(source), asyncio.create_task(self._tick())]

    async def until(self, time_s: float) -> None:
        """Wait until the sensor's own time is this."""
        began_s = await self._first_s
        await asyncio.sleep(began_s + time_s - time.monotonic())

    async def close(self) -> list[list[RepRow]]:
        """Let everything go; the reps of each set."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._rack.close()
        reps = [self._record.reps_of(row.set_id) for row in self._record.sets_on(local_day())]
        self._record.close()
        return reps

    def begin_anew(self) -> None:
        """The sensor's time begins anew with the next sample."""
        self._first_s = asyncio.get_running_loop().create_future()

    def _hear(self, item: SampleBlock | LinkNews) -> None:
        if isinstance(item, LinkNews):
            self._rack.link(item)
            return
        if not self._first_s.done():
            self._first_s.set_result(time.monotonic())
        self._rack.samples(item)

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(TICK_S)
            self._rack.tick(time.monotonic())

    def _show(self, item: RackView | LiveTrace) -> None:
        if isinstance(item, RackView):
            self.views.append(item)


@pytest.fixture(autouse=True)
def _virtual_only(request: pytest.FixtureRequest) -> None:
    if request.config.getoption("--radio", default="bumble") != "bumble":
        pytest.skip("too slow for the emulated guest; its links have their own tests")


def trace_of(*speeds_m_s: float, pause_s: float) -> SensorTrace:
    one = PlannedSet("back squat", speeds_m_s, 0.6, longest_pause_s=pause_s)
    return make_session_trace([one], seed=1)


@pytest.mark.timeout(120)
async def test_after_a_drop_in_a_set_capture_goes_on_and_the_rep_in_the_hole_is_not_measured(
    tmp_path: Path,
) -> None:
    trace = trace_of(0.7, 0.7, 0.7, 0.7, pause_s=4.0)
    hidden, after = trace.truth[1], trace.truth[2]
    drop_at_s = hidden.start_time_s + 0.3
    assert after.start_time_s > drop_at_s + DROP_S + 1.0
    async with VirtualRadio() as radio:
        sensor = SimulatedSensor(trace, SensorSettings())
        controller = await plug_in(sensor, radio)
        station = Station(tmp_path, await radio.open_port("station"))
        await station.until(drop_at_s)
        radio.link.move_out_of_range(controller)
        await station.until(drop_at_s + DROP_S)
        radio.link.move_into_range(controller)
        await station.until(trace.truth[-1].end_time_s + SETTLED_S)
        (reps,) = await station.close()  # one set
        await sensor.stop()
    assert [rep.number for rep in reps] == [1, 2, 3, 4]
    for rep, true in zip(reps, trace.truth, strict=True):
        if true is hidden:
            assert rep.status == RepStatus.NOT_MEASURED
            assert rep.mean_velocity_m_s is None
            assert "lost" in rep.why
        else:
            assert abs(rep.start_time_s - true.start_time_s) < NEAR_S
            assert rep.mean_velocity_m_s == pytest.approx(true.mean_velocity_m_s, abs=0.03)
    said = {trouble.words for view in station.views for trouble in view.troubles}
    assert any("of this set were not received" in words for words in said)
    assert not any("zeros" in words for words in said)


@pytest.mark.timeout(180)
async def test_a_sensor_killed_and_restarted_in_a_session_invents_no_rep_and_loses_no_completed_one(
    tmp_path: Path,
) -> None:
    trace = trace_of(0.8, 0.7, pause_s=1.0)
    source = (SensorSource("", address="C4:11:22:33:44:55"), trace)
    lives = 2
    async with VirtualRadio() as radio:
        port = await radio.open_port("sensor")
        station = Station(tmp_path, await radio.open_port("station"))
        for _ in range(lives):
            station.begin_anew()
            process = SensorProcess([source], [port])
            await asyncio.to_thread(process.start)
            await station.until(trace.truth[-1].end_time_s + SETTLED_S)
            await asyncio.to_thread(process.kill)
        sets = await station.close()
    speeds = [rep.mean_velocity_m_s for reps in sets for rep in reps]
    wanted: list[Any] = [pytest.approx(true.mean_velocity_m_s, abs=0.03) for true in trace.truth] * lives
    assert speeds == wanted
