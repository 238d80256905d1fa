"""The radio's side of a rack: holds on to this rack's sensor, keeps its book, and tells the rack in plain words.

Runs in the radio's asyncio loop. What it hears goes out through one function, which only queues; files are written
in another thread, so that no sample waits for a disk.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from drivers.link import SensorLink
from drivers.link_events import (
    AddressLearned,
    BatteryRead,
    LinkEvent,
    LinkReport,
    LinkState,
    SensorIdentified,
    StateChanged,
)
from drivers.profile import SensorProfile
from drivers.radio import Radio
from drivers.samples import SampleBlock
from drivers.scan import SensorInRange
from drivers.statistics import LinkStatistics
from station.capture.link_log import LinkLog, log_record
from station.capture.link_news import WAITING, LinkNews, SensorFacts
from station.capture.rack_view import SensorLine, TroubleLine
from station.capture.sensor_choice import Chosen, SensorChoice, choose_sensor
from station.store.errors import StoreError

__all__ = ["SensorChoice", "listen_to_sensor", "stream_quality"]

log = logging.getLogger(__name__)

LOOK_AT_BOOK_S = 2.0
NOTE_S = 15.0
LOOK_ELSEWHERE_S = 30.0  # a set has ended by then, and the link has had its chances
BONDS_FILE = "bonds.json"
# In one report, about a second: less is everyday radio and marked on the reps it touches.
WORTH_SAYING_LOSS = 0.05
WORTH_SAYING_PACKETS = 3

Hear = Callable[[SampleBlock | LinkNews], None]


async def listen_to_sensor(choice: SensorChoice, hear: Hear, log_folder: Path | None = None) -> None:
    """Find the sensor and pass on what it sends, until cancelled; then let it go.

    Args:
        choice: which sensor.
        hear: takes samples and news.
        log_folder: where the link's log is kept, and bonds that the radio does not keep itself; None: nowhere.
    """
    hear(LinkNews(WAITING))
    log_file = LinkLog(log_folder) if log_folder is not None else None
    try:
        bonds = log_folder / BONDS_FILE if log_folder is not None else None
        async with Radio(choice.transport, bonds=bonds) as radio:
            while True:
                chosen = await choose_sensor(radio, choice, hear)
                await _hold(radio, choice, chosen, hear, log_file)
                choice = replace(choice, wanted=None)  # the book was changed since: it holds now
    finally:
        if log_file is not None:
            log_file.close()


async def _hold(
    radio: Radio, choice: SensorChoice, chosen: Chosen, hear: Hear, log_file: LinkLog | None
) -> None:
    """Receive from the sensor until the book gives this rack another one."""
    sensor = chosen.sensor
    assert sensor.profile is not None, "only sensors with a profile are chosen"
    clerk = _Clerk(choice, sensor, log_file)
    teller = _Teller(chosen, hear)

    def on_event(event: LinkEvent) -> None:
        teller.tell(event)
        clerk.hear(event)

    name = sensor.name or sensor.address
    async with SensorLink(radio, sensor.address, sensor.profile, hear, on_event, name=name):
        await clerk.work()


class _Clerk:
    """Writes down what a link tells: serial number and battery into the book, reports into the log."""

    def __init__(self, choice: SensorChoice, sensor: SensorInRange, log_file: LinkLog | None) -> None:
        self._choice, self._sensor, self._log_file = choice, sensor, log_file
        self._events: asyncio.Queue[tuple[LinkEvent, datetime]] = asyncio.Queue()
        self._missed_since_s: float | None = None
        self._has_serial = False

    def hear(self, event: LinkEvent) -> None:
        """Called in the radio's loop; only queues."""
        self._events.put_nowait((event, datetime.now(UTC)))
        if isinstance(event, StateChanged):
            if event.state is LinkState.STREAMING:
                self._missed_since_s = None
            elif self._missed_since_s is None:
                self._missed_since_s = event.time_s

    async def work(self) -> None:
        """Write until this rack's sensor is another one, or has to be looked for under another address."""
        while not (self._choice.asked.is_set() or self._has_another_address()):
            try:
                async with asyncio.timeout(LOOK_AT_BOOK_S):
                    event = await self._events.get()
            except TimeoutError:
                event = None
            try:
                if await asyncio.to_thread(self._write, event):
                    return
            except (StoreError, OSError) as error:
                log.warning("what the sensor told could not be written down: %s", error)

    def _has_another_address(self) -> bool:
        """Whether it may have: it has been missed for long, though it says its serial number to whoever asks."""
        missed = self._missed_since_s
        return self._has_serial and missed is not None and time.monotonic() - missed > LOOK_ELSEWHERE_S

    def _write(self, heard: tuple[LinkEvent, datetime] | None) -> bool:
        """Write one event down; whether this rack's sensor is another one by now."""
        book, rack, sensor = self._choice.book, self._choice.rack, self._sensor
        event = None
        if heard is not None:
            event, at = heard
            record = log_record(event, sensor.name, sensor.address, at)
            if record is not None and self._log_file is not None:
                self._log_file.write({"rack": rack} | record)
        if book is None:
            return False
        if isinstance(event, SensorIdentified):
            known = book.identified(sensor.address, sensor.name, event.serial)
            self._has_serial = bool(event.serial)
            if known.rack != rack and self._choice.wanted is not None:  # a person named it
                book.claim(sensor.address, sensor.name, rack, take_over=True)
        elif isinstance(event, BatteryRead):
            book.battery(sensor.address, event.percent)
        elif isinstance(event, AddressLearned):
            book.moved(event.before, event.address)
            self._sensor = sensor = replace(sensor, address=event.address)
        mine = book.claimed_by(rack)
        if mine is None and getattr(book.of(sensor.address), "rack", None) is None:  # the book was lost
            book.claim(sensor.address, sensor.name, rack)
            return False
        return mine is None or mine.address != sensor.address


def stream_quality(before: LinkStatistics, now: LinkStatistics) -> TroubleLine | None:
    """What of the stream since the last report is worth saying: nonsense first, then losses."""
    malformed = now.malformed - before.malformed
    if malformed >= WORTH_SAYING_PACKETS:
        return TroubleLine(
            "quality",
            "The sensor sends packets that do not fit its profile",
            "Check that the profile belongs to this sensor; switch it off and on.",
        )
    lost = now.lost_samples - before.lost_samples
    expected = lost + now.samples - before.samples
    if expected and lost / expected >= WORTH_SAYING_LOSS:
        return TroubleLine(
            "quality",
            f"{round(100 * lost / expected)} % of the sensor's samples are lost",
            "Bring station and sensor closer together, out of the way of bodies and steel.",
        )
    return None


class _Teller:
    """Puts the link's events into the rack's words."""

    def __init__(self, chosen: Chosen, hear: Hear) -> None:
        sensor = chosen.sensor
        self._hear = hear
        self._address = sensor.address
        name = sensor.name or sensor.address
        self._line = SensorLine(name, LinkState.IDLE.value, False, sensor.battery_percent)
        self._facts = _facts(sensor.profile)
        self._lost: TroubleLine | None = None
        self._quality: TroubleLine | None = None
        self._note = chosen.note
        self._noted_at_s: float | None = None
        self._before = LinkStatistics()

    def tell(self, event: LinkEvent) -> None:
        """Called in the radio's loop; only queues."""
        if isinstance(event, AddressLearned):
            self._address = event.address
        elif isinstance(event, BatteryRead):
            self._line = replace(self._line, battery_percent=event.percent)
        elif isinstance(event, StateChanged):
            self._state(event)
        elif not (isinstance(event, LinkReport) and self._report(event)):
            return
        address = self._address if self._line.streaming else None
        self._hear(LinkNews(self._line, self._lost, address, self._facts, self._quality, self._note))

    def _report(self, event: LinkReport) -> bool:
        """Take a report in; whether it changes what is said."""
        quality = stream_quality(self._before, event.statistics)
        self._before = event.statistics
        changed = quality != self._quality
        self._quality = quality
        if self._note is not None:
            self._noted_at_s = event.time_s if self._noted_at_s is None else self._noted_at_s
            if event.time_s - self._noted_at_s > NOTE_S:
                self._note, changed = None, True
        return changed

    def _state(self, event: StateChanged) -> None:
        streaming = event.state is LinkState.STREAMING
        self._line = replace(self._line, link=event.state.value, streaming=streaming)
        if streaming or event.state is LinkState.CLOSED:
            self._lost = None
        elif event.state in (LinkState.LOST, LinkState.STALLED):
            # Kept while the link tries again, so that the words do not flicker.
            self._lost = TroubleLine(
                "link", event.words, "The station keeps trying; reps meanwhile are not measured.", True
            )


def _facts(profile: SensorProfile | None) -> SensorFacts | None:
    return None if profile is None else SensorFacts(profile.rate_hz, profile.acceleration.limit)
