"""Writes down what a link tells: serial number and battery into the sensor book, reports into the log.

Files are written in another thread, so that no sample waits for a disk.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

from filelock import BaseFileLock

from drivers.link_events import (
    AddressLearned,
    BatteryRead,
    LinkEvent,
    LinkState,
    SensorIdentified,
    StateChanged,
)
from drivers.radio import Radio
from drivers.scan import SensorInRange
from station.capture.link_log import LinkLog, log_record
from station.capture.sensor_choice import SensorChoice
from station.capture.sensor_identity import hears_the_other
from station.store.errors import StoreError
from station.store.sensor_book import SensorBook

log = logging.getLogger(__name__)

LOOK_AT_BOOK_S = 2.0
LISTEN_AGAIN_S = 30.0  # when it could not be heard
LOOK_ELSEWHERE_S = 30.0  # a set has ended by then, and the link has had its chances
_CONNECTED = (LinkState.NEGOTIATING, LinkState.SUBSCRIBING, LinkState.STREAMING, LinkState.STALLED)
_FOR_THE_BOOK = (SensorIdentified, BatteryRead, AddressLearned)


class LinkClerk:
    """One sensor's clerk, for as long as a rack holds on to it.

    Args:
        radio: the radio it is heard on.
        choice: which sensor this rack wants, and the book.
        sensor: the sensor that was chosen.
        log_file: where reports are kept; None: nowhere.
        say: told why the book could not be written, and None once it could.
    """

    def __init__(
        self,
        radio: Radio,
        choice: SensorChoice,
        sensor: SensorInRange,
        log_file: LinkLog | None,
        say: Callable[[StoreError | OSError | None], None],
    ) -> None:
        self._radio, self._choice, self._sensor, self._log_file = radio, choice, sensor, log_file
        self._say = say
        self._events: asyncio.Queue[tuple[LinkEvent, datetime]] = asyncio.Queue()
        self._missed_since_s: float | None = None
        self._has_serial = False
        self._hold: BaseFileLock | None = None
        self._closed = False
        self._unwritten: list[LinkEvent] = []  # what the book is still to know
        self._other_is_alive: bool | None = None  # of the number that was told; None: not known
        self._listen_from_s = float("-inf")

    def hear(self, event: LinkEvent) -> None:
        """Called in the radio's loop; only queues."""
        self._events.put_nowait((event, datetime.now(UTC)))
        if isinstance(event, StateChanged):
            if event.state is LinkState.STREAMING:
                self._missed_since_s = None
            elif self._missed_since_s is None:
                self._missed_since_s = event.time_s

    async def work(self) -> None:
        """Write until this rack's sensor is another one, or has to be looked for under another address.

        A book that cannot be written ends nothing: that is said, and what it is to know is kept and tried again.
        """
        while not (self._choice.asked.is_set() or self._has_another_address()):
            heard = await self._next()
            try:
                await asyncio.to_thread(self._note, heard)
                await self._listen()
                if await asyncio.to_thread(self._write):
                    return
                self._say(None)
            except (StoreError, OSError) as error:
                log.warning("what the sensor told could not be written down: %s", error)
                self._say(error)

    def close(self) -> None:
        """The sensor is let go."""
        self._closed = True
        self._release()

    async def _next(self) -> list[tuple[LinkEvent, datetime]]:
        """All that was heard since, after a while nothing: a book that is waited for holds up no other file."""
        heard = []
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(LOOK_AT_BOOK_S):
                heard.append(await self._events.get())
        while not self._events.empty():
            heard.append(self._events.get_nowait())
        return heard

    async def _listen(self) -> None:
        """Find out whether the older sensor of a number that was told is there, too; asked again where that fails."""
        told = next((event for event in self._unwritten if isinstance(event, SensorIdentified)), None)
        book, now_s = self._choice.book, time.monotonic()
        if book is None or told is None or self._other_is_alive is not None or now_s < self._listen_from_s:
            return
        self._other_is_alive = await hears_the_other(self._radio, book, told.serial, self._sensor.address)
        if self._other_is_alive is None:
            self._listen_from_s = now_s + LISTEN_AGAIN_S

    def _keep_hold(self, book: SensorBook, event: LinkEvent) -> None:
        """Every station of the machine is to know while the sensor is connected, and at which address."""
        if isinstance(event, StateChanged) and event.state not in _CONNECTED:
            self._release()
        elif isinstance(event, AddressLearned):
            self._release()
            self._hold = book.hold(event.address)
        elif isinstance(event, StateChanged) and self._hold is None:
            self._hold = book.hold(self._sensor.address)
        if self._closed:  # meanwhile, in the radio's thread
            self._release()

    def _release(self) -> None:
        hold, self._hold = self._hold, None
        if hold is not None:
            hold.release()

    def _has_another_address(self) -> bool:
        """Whether it may have: it has been missed for long, though it says its serial number to whoever asks."""
        missed = self._missed_since_s
        return self._has_serial and missed is not None and time.monotonic() - missed > LOOK_ELSEWHERE_S

    def _note(self, heard: list[tuple[LinkEvent, datetime]]) -> None:
        """Log what was heard, keep what the book is to know, and say whether the sensor is connected."""
        for event, at in heard:
            record = log_record(event, self._sensor.name, self._sensor.address, at)
            if record is not None and self._log_file is not None:
                self._log_file.write({"rack": self._choice.rack} | record)
        if self._choice.book is not None:
            self._unwritten += [event for event, _ in heard if isinstance(event, _FOR_THE_BOOK)]
            for event, _ in heard:
                self._keep_hold(self._choice.book, event)

    def _write(self) -> bool:
        """Tell the book what it does not know yet; whether this rack's sensor is another one by now."""
        book, rack = self._choice.book, self._choice.rack
        if book is None:
            return False
        for event in list(self._unwritten):
            if self._tell(book, event):
                self._unwritten.remove(event)
        mine, sensor = book.claimed_by(rack), self._sensor
        if mine is None and getattr(book.of(sensor.address), "rack", None) is None:  # the book was lost
            book.claim(sensor.address, sensor.name, rack)
            return False
        return mine is None or mine.address != sensor.address

    def _tell(self, book: SensorBook, event: LinkEvent) -> bool:
        """Tell the book; whether it knows then."""
        rack, sensor = self._choice.rack, self._sensor
        if isinstance(event, SensorIdentified):
            if self._other_is_alive is None:
                return False  # taken for the older one, it would take its calibration and its rack away
            known = book.identified(
                sensor.address, sensor.name, event.serial, other_is_alive=self._other_is_alive
            )
            self._has_serial = bool(event.serial) and not known.serial_is_shared
            if known.rack != rack and self._choice.wanted is not None:  # a person named it
                book.claim(sensor.address, sensor.name, rack, take_over=True)
            self._other_is_alive = None
        elif isinstance(event, BatteryRead):
            book.battery(sensor.address, event.percent)
        elif isinstance(event, AddressLearned):
            book.moved(event.before, event.address)
            self._sensor = replace(sensor, address=event.address)
        return True
