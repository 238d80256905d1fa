"""A rack on a link, without window and threads: radio, link, clock, engine and record in one loop."""

from __future__ import annotations

import asyncio
import time
from pathlib import Path

from drivers.samples import SampleBlock
from station.capture.link_news import LinkNews
from station.capture.link_source import SensorChoice, listen_to_sensor
from station.capture.rack_view import LiveTrace, RackView
from station.commands.rack_command import local_day, open_rack, utc_now
from station.store.record import Record
from station.store.rows import RepRow
from tests.reps_since import reps_since

TICK_S = 0.1


class Station:
    """A rack on a link, both in this loop, with the record read back afterwards."""

    def __init__(self, folder: Path, transport: str) -> None:
        self._day = local_day()
        self._record = Record(folder / "rack-1", "rack 1", utc_now)
        self.views: list[RackView] = []
        self._rack = open_rack(self._record, self._show)
        self._first_s: asyncio.Future[float] = asyncio.get_running_loop().create_future()
        self._first_seq = self._next_seq = 0
        self._came = asyncio.Event()
        source = listen_to_sensor(SensorChoice("Bar sensor 1", transport=transport), self._hear)
        self._tasks = [asyncio.create_task(source), asyncio.create_task(self._tick())]

    async def until(self, time_s: float) -> None:
        """Wait until the sensor's own time is this."""
        began_s = await self._first_s
        await asyncio.sleep(began_s + time_s - time.monotonic())

    @property
    def heard(self) -> int:
        """How many samples have gone through since the sensor's time began."""
        return self._next_seq - self._first_seq

    async def until_heard(self, samples: int) -> None:
        """Wait until so many samples have gone through clock and engine since the sensor's time began."""
        await self._first_s
        while self.heard < samples:
            self._came.clear()
            await self._came.wait()

    async def until_lost(self) -> None:
        """Wait until the rack says that its sensor does not stream."""
        while self.views[-1].sensor.streaming:
            await asyncio.sleep(TICK_S)  # a picture is looked at, as a person would

    async def close(self) -> list[list[RepRow]]:
        """Let everything go; the reps of each set."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._rack.close()
        reps = reps_since(self._record, self._day)
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
            self._first_seq = int(item.seq[0])
        self._next_seq = int(item.seq[-1]) + 1
        self._rack.samples(item)
        self._came.set()

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(TICK_S)
            self._rack.tick(time.monotonic())

    def _show(self, item: RackView | LiveTrace) -> None:
        if isinstance(item, RackView):
            self.views.append(item)
