"""Listening to one sensor from the command line: what an unknown one sends, and recording a known one."""

from __future__ import annotations

import asyncio
import sys
from collections import deque
from pathlib import Path

from rich.console import Console

from drivers.link import SensorLink
from drivers.link_events import LinkEvent, StateChanged
from drivers.profile import SensorProfile
from drivers.radio import Radio
from drivers.recording import RecordingWriter
from drivers.samples import SampleBlock, joined
from drivers.sniff import Offer, Sniffed, sniff
from station.commands.fail import fail
from station.commands.sensors_claim import the_named_one

FOREVER_S = 86_400.0
WRITE_EVERY_SAMPLES = 1000


class SniffPrinter:
    """Prints what a sensor offers and every notification, with its rate over the last second."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._recent: dict[str, deque[float]] = {}

    def offered(self, offers: list[Offer], information: dict[str, str]) -> None:
        """Say what the sensor offers and is."""
        for key, text in information.items():
            self._say(f"{key}: {text}")
        for one in offers:
            self._say(f"{one.service}  {one.characteristic}  {', '.join(one.properties)}  {one.description}")

    def received(self, packet: Sniffed) -> None:
        """Print one notification."""
        recent = self._recent.setdefault(packet.characteristic, deque())
        recent.append(packet.time_s)
        while packet.time_s - recent[0] > 1.0:
            recent.popleft()
        self._say(
            f"{packet.time_s:9.3f} s  {packet.characteristic}  {len(packet.payload):3} bytes  "
            f"{len(recent):3} a second  {packet.payload.hex(' ')}"
        )

    def _say(self, words: str) -> None:
        self._console.print(words, markup=False, highlight=False, soft_wrap=True)


async def sniff_live(transport: str | None, address: str, seconds: float | None) -> None:
    """Print what a sensor offers and sends.

    Raises:
        SniffError: it cannot be listened to.
    """
    printer = SniffPrinter(Console(emoji=False))
    async with Radio(transport) as radio:
        await sniff(radio, address, seconds or FOREVER_S, printer.offered, printer.received)


async def record_live(
    transport: str | None,
    profiles: tuple[SensorProfile, ...],
    named: str | None,
    file: Path,
    seconds: float | None,
) -> None:
    """Record one sensor until the time is over or the task is cancelled; what came is kept however it ends."""
    async with Radio(transport) as radio:
        sensor = await the_named_one(radio, profiles, named)
        assert sensor.profile is not None, "only sensors with a profile are chosen"
        recorder = _Recorder(file)
        link = SensorLink(
            radio,
            sensor.address,
            sensor.profile,
            recorder.add,
            _say_state,
            name=sensor.name or sensor.address,
        )
        try:
            async with link, asyncio.timeout(seconds):
                await asyncio.get_running_loop().create_future()
        except TimeoutError:
            pass
        finally:
            recorder.close()
        lost = link.statistics.lost_samples
    if not recorder.samples:
        fail(f"nothing was received from {sensor.name or sensor.address}; {file} was not written", status=1)
    Console(emoji=False).print(
        f"{recorder.samples} samples in {file}, {lost} lost", markup=False, highlight=False, soft_wrap=True
    )


class _Recorder:
    """Writes blocks in pieces of some seconds: a piece a packet would make the file many times larger."""

    def __init__(self, file: Path) -> None:
        self._writer = RecordingWriter(file)
        self._held: list[SampleBlock] = []
        self.samples = 0

    def add(self, block: SampleBlock) -> None:
        self._held.append(block)
        self.samples += len(block)
        if sum(map(len, self._held)) >= WRITE_EVERY_SAMPLES:
            self._write()

    def close(self) -> None:
        self._write()
        self._writer.close()

    def _write(self) -> None:
        if self._held:
            self._writer.write(joined(self._held))
            self._held = []


def _say_state(event: LinkEvent) -> None:
    if isinstance(event, StateChanged):
        sys.stderr.write(f"{event.words}\n")
