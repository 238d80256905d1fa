"""Holding on to one sensor: the link's states, in one place.

    idle -> scanning -> connecting -> negotiating -> subscribing -> streaming <-> stalled
                ^                                                        |
                +------------------- waiting <----------- lost <---------+        any -> closed

It never gives up by itself. A rack that is in use wants its sensor back, however long that takes.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import time
from collections.abc import Callable

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.exc import BleakError

from drivers.conversation import Conversation, LinkLostError, connect, release, words
from drivers.decode import DecodeError, Decoder
from drivers.link_events import AddressLearned, LinkEvent, LinkState, SensorIdentified, StateChanged
from drivers.link_report import LinkReporter
from drivers.profile import SensorProfile
from drivers.radio import Radio, RadioError
from drivers.samples import SampleBlock
from drivers.scan import find
from drivers.statistics import LinkStatistics

log = logging.getLogger(__name__)

SCAN_SLICE_S = 3.0  # then the adapter is left to others for a moment
FIRST_RETRY_S = 0.2
LONGEST_RETRY_S = 1.0
RECONNECT_AFTER_STALL_S = 5.0
CLOSE_WITHIN_S = 8.0


class SensorLink:
    """Keeps one sensor's stream coming.

    All callbacks run in the radio's event loop and must be quick. Arrival is stamped in bleak's own callback.

    Args:
        radio: the radio to use.
        address: the sensor.
        profile: how to read it.
        on_samples: called with every block of new samples.
        on_event: called with changes of state, battery readings and reports.
        name: what to call the sensor in words; its address by default.
        stall_after_s: silence on a standing link that counts as a stall; by default 0.5 s or ten packets' time.
    """

    def __init__(
        self,
        radio: Radio,
        address: str,
        profile: SensorProfile,
        on_samples: Callable[[SampleBlock], None],
        on_event: Callable[[LinkEvent], None],
        *,
        name: str | None = None,
        stall_after_s: float = 0.5,
    ) -> None:
        self.address, self.profile, self.name = address, profile, name or address
        self._radio, self._on_samples, self._on_event = radio, on_samples, on_event
        self._stall_after_s = max(stall_after_s, 10.0 / profile.rate_hz)
        self._state = LinkState.IDLE
        self._decoder = Decoder(profile)
        self._reporter = LinkReporter(self.name)
        self._task: asyncio.Task[None] | None = None
        self._closing = False
        self._attempt = 0

    @property
    def state(self) -> LinkState:
        """Where the link stands."""
        return self._state

    @property
    def statistics(self) -> LinkStatistics:
        """What was received and lost since the link was started."""
        return self._decoder.statistics

    async def __aenter__(self) -> SensorLink:
        self.start()
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.close()

    def start(self) -> None:
        """Begin to look for the sensor; returns at once."""
        if self._task is None:
            self._closing = False
            self._task = asyncio.create_task(self._run(), name=f"link to {self.address}")
            self._task.add_done_callback(self._on_task_end)

    async def close(self) -> None:
        """Stop the stream and let the sensor go."""
        if self._task is not None:
            self._closing = True
            self._task.cancel()
            await asyncio.wait({self._task}, timeout=CLOSE_WITHIN_S)  # a radio stack may never answer
            self._task = None
        self._to(LinkState.CLOSED, f"{self.name} was let go.")

    def _on_task_end(self, task: asyncio.Task[None]) -> None:
        if not task.cancelled() and (error := task.exception()) is not None:  # a fault of the program itself
            self._to(LinkState.LOST, f"The link to {self.name} failed and has stopped: {words(error)}")

    async def _run(self) -> None:
        while not self._closing:  # asked too, since a stack below may swallow the cancellation
            self._attempt += 1
            try:
                await self._attempt_once()
            except LinkLostError as lost:
                self._to(LinkState.LOST, str(lost))
            except Exception as error:  # whatever a stack below throws, the rack wants its sensor back
                log.warning("the link to %s failed", self.name, exc_info=error)
                self._to(LinkState.LOST, f"The link to {self.name} failed: {words(error)}.")
            delay_s = retry_delay_s(self._attempt)
            self._to(LinkState.WAITING, f"Trying {self.name} again in {delay_s:.1f} s.")
            await asyncio.sleep(delay_s)

    async def _attempt_once(self) -> None:
        """One way from scanning to the end of the stream; ends with an error that says why."""
        ended = asyncio.Event()
        client: BleakClient | None = None
        try:
            async with self._radio.alone():
                client = await self._reach(ended)
            sensor = Conversation(client, ended, self.name)
            streams = await self._negotiate(sensor)
            await self._subscribe(sensor, streams)
            self._learn(client.address)
            await self._stay(sensor)
        except (BleakError, RadioError, OSError, TimeoutError) as error:
            raise LinkLostError(f"The radio failed: {words(error)}") from error
        finally:
            self._reporter.streaming_since_s = None
            if client is not None:
                await release(client, self.profile.stop)

    async def _reach(self, ended: asyncio.Event) -> BleakClient:
        self._to(LinkState.SCANNING, f"Looking for {self.name}.")
        found = await find(self._radio, self.address, SCAN_SLICE_S)
        if found is None:
            raise LinkLostError(
                f"{self.name} is not in range. Is it switched on and charged? Bring it closer to the station."
            )
        device, signal_dbm = found
        self._reporter.heard(signal_dbm)
        self._to(LinkState.CONNECTING, f"Connecting to {self.name}.")
        return await connect(self._radio, device, self.name, ended)

    async def _negotiate(self, sensor: Conversation) -> list[BleakGATTCharacteristic]:
        """Check that the sensor has what the profile reads, read its battery and make its settings."""
        self._to(LinkState.NEGOTIATING, f"Asking {self.name} what it offers.")
        streams = sensor.streams(self.profile)
        if not self._reporter.streams:  # once: on a slow radio every question takes its time
            self._on_event(SensorIdentified(*await sensor.identity(), time.monotonic()))
        await self._read_battery(sensor)
        await sensor.settings(self.profile.start)
        return streams

    async def _subscribe(self, sensor: Conversation, streams: list[BleakGATTCharacteristic]) -> None:
        self._to(LinkState.SUBSCRIBING, f"Starting the stream of {self.name}.")
        if self._reporter.streams:
            self._decoder.relink()
        self._reporter.stream_asked_for(time.monotonic())
        await sensor.subscribe(streams, self._received)

    def _learn(self, address: str) -> None:
        if address.lower() != self.address.lower():
            before, self.address = self.address, address
            self._on_event(AddressLearned(address, before, time.monotonic()))

    def _received(self, characteristic: BleakGATTCharacteristic, payload: bytearray) -> None:
        """bleak's own callback: stamp first, then read."""
        now_s = time.monotonic()
        self._reporter.watch.packet(now_s)
        try:
            block = self._decoder.decode(characteristic.uuid, payload, now_s)
        except DecodeError:
            return  # counted by the decoder
        if self._state is not LinkState.STREAMING:
            self._now_streaming(now_s)
        if block is not None:
            self._on_samples(block)

    def _now_streaming(self, now_s: float) -> None:
        reporter = self._reporter
        if reporter.streaming_since_s is None:
            reporter.streams += 1
            reporter.streaming_since_s = now_s
            said = f"Receiving from {self.name}." if reporter.streams == 1 else f"{self.name} is back."
        else:
            said = f"{self.name} sends again."
        self._attempt = 0
        self._to(LinkState.STREAMING, said)

    async def _stay(self, sensor: Conversation) -> None:
        """Watch the stream until it ends."""
        while True:
            # Not wait_for: up to Python 3.11 it swallows a cancellation that arrives together with the event.
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(self._stall_after_s / 4):
                    await sensor.ended.wait()
            if sensor.ended.is_set():
                raise LinkLostError(
                    f"The connection to {self.name} was lost. Is it out of range, or its battery empty?"
                )
            now_s = time.monotonic()
            silent_s = self._reporter.watch.silent_s(now_s)
            if silent_s > RECONNECT_AFTER_STALL_S:
                raise LinkLostError(f"{self.name} has sent nothing for {silent_s:.0f} s; connecting anew.")
            if silent_s > self._stall_after_s and self._state is not LinkState.STALLED:
                self._to(LinkState.STALLED, f"{self.name} is connected but sends nothing.")
            if (report := self._reporter.report(self._decoder.statistics, now_s)) is not None:
                self._on_event(report)
            if self._reporter.battery_due(now_s):
                await self._read_battery(sensor)

    async def _read_battery(self, sensor: Conversation) -> None:
        percent = await sensor.battery_percent(self.profile.battery)
        if percent is not None:
            self._on_event(self._reporter.battery(percent))

    def _to(self, state: LinkState, said: str) -> None:
        if state is not self._state:
            before, self._state = self._state, state
            self._on_event(StateChanged(state, before, said, time.monotonic(), self._attempt))


def retry_delay_s(attempts: int) -> float:
    """How long to wait after so many attempts in vain: short at first, never long."""
    return min(FIRST_RETRY_S * 2.0 ** min(max(attempts - 1, 0), 10), LONGEST_RETRY_S)
