"""Writes down what a link tells: serial number and battery into the sensor book, reports into the log.

Files are written in another thread, so that no sample waits for a disk.
"""

from __future__ import annotations

import asyncio
import logging
import time
from dataclasses import replace
from datetime import UTC, datetime

from bleak.exc import BleakError
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
from drivers.scan import SensorInRange, find
from station.capture.link_log import LinkLog, log_record
from station.capture.sensor_choice import SensorChoice
from station.store.errors import StoreError
from station.store.sensor_book import SensorBook

log = logging.getLogger(__name__)

LOOK_AT_BOOK_S = 2.0
LISTEN_S = 3.0  # an advertiser that is there is heard in this time
LOOK_ELSEWHERE_S = 30.0  # a set has ended by then, and the link has had its chances
_CONNECTED = (LinkState.NEGOTIATING, LinkState.SUBSCRIBING, LinkState.STREAMING, LinkState.STALLED)


class LinkClerk:
    """One sensor's clerk, for as long as a rack holds on to it.

    Args:
        radio: the radio it is heard on.
        choice: which sensor this rack wants, and the book.
        sensor: the sensor that was chosen.
        log_file: where reports are kept; None: nowhere.
    """

    def __init__(
        self, radio: Radio, choice: SensorChoice, sensor: SensorInRange, log_file: LinkLog | None
    ) -> None:
        self._radio, self._choice, self._sensor, self._log_file = radio, choice, sensor, log_file
        self._events: asyncio.Queue[tuple[LinkEvent, datetime]] = asyncio.Queue()
        self._missed_since_s: float | None = None
        self._has_serial = False
        self._hold: BaseFileLock | None = None
        self._closed = False
        self._other_is_alive = False

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
                if event is not None and isinstance(event[0], SensorIdentified):
                    self._other_is_alive = await self._hears_the_other(event[0].serial)
                if await asyncio.to_thread(self._write, event):
                    return
            except (StoreError, OSError) as error:
                log.warning("what the sensor told could not be written down: %s", error)

    def close(self) -> None:
        """The sensor is let go."""
        self._closed = True
        self._release()

    async def _hears_the_other(self, serial: str) -> bool:
        """Whether the address that had this serial number is on the air while this sensor is connected."""
        if (book := self._choice.book) is None:
            return False
        other = await asyncio.to_thread(lambda: book.of_serial(serial, but=self._sensor.address))
        if other is None:
            return False
        try:
            async with self._radio.alone():
                return await find(self._radio, other.address, LISTEN_S) is not None
        except (BleakError, EOFError) as error:
            log.warning("whether %s is in range could not be heard: %s", other.address, error)
            return False

    def _keep_hold(self, book: SensorBook, event: LinkEvent | None) -> None:
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
        self._keep_hold(book, event)
        if isinstance(event, SensorIdentified):
            known = book.identified(
                sensor.address, sensor.name, event.serial, other_is_alive=self._other_is_alive
            )
            self._has_serial = bool(event.serial) and not known.serial_is_shared
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
