"""The radio's side of a rack: holds on to this rack's sensor, keeps its book, and tells the rack in plain words.

Runs in the radio's asyncio loop. What it hears goes out through one function, which only queues; files are written
in another thread, so that no sample waits for a disk.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from drivers.link import SensorLink
from drivers.link_events import (
    AddressLearned,
    BatteryRead,
    LinkEvent,
    LinkReport,
    LinkState,
    StateChanged,
)
from drivers.profile import SensorProfile
from drivers.radio import Radio
from drivers.samples import SampleBlock
from drivers.statistics import LinkStatistics
from station.capture.link_clerk import LinkClerk
from station.capture.link_log import LinkLog
from station.capture.link_news import WAITING, LinkNews, SensorFacts
from station.capture.rack_view import SensorLine, TroubleLine
from station.capture.sensor_choice import Chosen, SensorChoice, choose_sensor
from station.capture.sensor_words import name_of, no_book
from station.store.errors import StoreError

__all__ = ["SensorChoice", "listen_to_sensor", "stream_quality"]

log = logging.getLogger(__name__)

NOTE_S = 15.0
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
    teller = _Teller(chosen, hear)
    clerk = LinkClerk(radio, choice, sensor, log_file, teller.book)

    def on_event(event: LinkEvent) -> None:
        teller.tell(event)
        clerk.hear(event)

    try:
        async with SensorLink(radio, sensor.address, sensor.profile, hear, on_event, name=name_of(sensor)):
            await clerk.work()
    finally:
        clerk.close()


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
        self._line = SensorLine(name_of(sensor), LinkState.IDLE.value, False, sensor.battery_percent)
        self._facts = _facts(sensor.profile)
        self._lost: TroubleLine | None = None
        self._quality: TroubleLine | None = None
        self._book: TroubleLine | None = None
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
        self._say()

    def book(self, error: StoreError | OSError | None) -> None:
        """Why the sensor book could not be written just now; None: it was."""
        line = no_book(error) if error is not None else None
        if line != self._book:
            self._book = line
            self._say()

    def _say(self) -> None:
        address = self._address if self._line.streaming else None
        self._hear(
            LinkNews(self._line, self._lost, address, self._facts, self._quality, self._note, self._book)
        )

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
