"""What a link tells comes into the sensor book, also when the book is held or the older sensor cannot be heard."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path
from typing import Any

import pytest
from bleak.exc import BleakError
from filelock import FileLock

from drivers.link_events import AddressLearned, BatteryRead, LinkState, SensorIdentified, StateChanged
from drivers.profile import shipped_profiles
from drivers.radio import RadioError
from drivers.scan import SensorInRange
from station.capture.link_clerk import LinkClerk
from station.capture.sensor_choice import SensorChoice
from station.store.errors import SensorBookHeld, StoreError
from station.store.known_sensor import KnownSensor
from station.store.sensor_book import SensorBook
from tests.radio.conftest import PATIENCE_S

ONE, TWO, THREE = (f"F0:00:00:00:00:0{n}" for n in (1, 2, 3))
CALIBRATION = {"bias": 0.1}
TOLD = SensorIdentified("SN-0", "", "", 0.0)
BATTERY = BatteryRead(55, False, "", 1.0)
FAILURES = [BleakError("busy"), RadioError("gone"), OSError("gone"), TimeoutError(), EOFError()]


class Ear:
    """A radio whose scans find, miss or fail as they are told; the last answer holds from then on."""

    def __init__(self, *answers: bool | Exception) -> None:
        self.answers, self.asked = list(answers), asyncio.Event()

    @asynccontextmanager
    async def alone(self) -> AsyncIterator[None]:
        yield

    async def find(self, _radio: object, _address: str, _seconds: float) -> object:
        self.asked.set()
        answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
        if isinstance(answer, Exception):
            raise answer
        return object() if answer else None


class Clerk:
    """Rack 2's clerk for the sensor at address TWO, at work, and what it says."""

    def __init__(self, book: SensorBook, radio: Ear) -> None:
        self._said: asyncio.Queue[StoreError | OSError | None] = asyncio.Queue()
        any_radio: Any = radio
        sensor = SensorInRange(TWO, "Bar sensor", shipped_profiles()[0], -60, (), None)
        choice = SensorChoice(rack="rack 2", book=book)
        self.clerk = LinkClerk(any_radio, choice, sensor, None, self._said.put_nowait)
        self.work = asyncio.create_task(self.clerk.work())

    async def says_next(self) -> StoreError | OSError | None:
        """What it says once it has written, or could not."""
        async with asyncio.timeout(PATIENCE_S):
            return await self._said.get()

    async def after(self, *events: Any) -> StoreError | OSError | None:
        """What it says after these have come: what it says first may be of before."""
        while not self._said.empty():
            self._said.get_nowait()
        for event in events:
            self.clerk.hear(event)
        await self.says_next()
        return await self.says_next()


@pytest.fixture
def book(tmp_path: Path) -> SensorBook:
    """Rack 1's sensor is calibrated and has number SN-0; rack 2's is new."""
    book = SensorBook(tmp_path)
    book.claim(ONE, "Bar sensor", "rack 1")
    book.identified(ONE, "Bar sensor", "SN-0")
    book.calibrated(ONE, "Bar sensor", CALIBRATION)
    book.claim(TWO, "Bar sensor", "rack 2")
    return book


@asynccontextmanager
async def at_work(book: SensorBook, radio: Ear, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Clerk]:
    monkeypatch.setattr("station.capture.sensor_identity.find", radio.find)
    monkeypatch.setattr("station.capture.link_clerk.LOOK_AT_BOOK_S", 0.02)
    clerk = Clerk(book, radio)
    try:
        yield clerk
    finally:
        clerk.work.cancel()
        await asyncio.wait({clerk.work})
        clerk.clerk.close()


@contextmanager
def held(book: SensorBook, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Another program holds the book."""
    monkeypatch.setattr("station.store.sensor_book.LOCK_WAIT_S", 0.0)
    with FileLock(book.path.with_suffix(".lock")):
        yield


def at(book: SensorBook, address: str) -> KnownSensor:
    known = book.of(address)
    assert known is not None
    return known


@pytest.mark.parametrize("failure", FAILURES, ids=lambda failure: type(failure).__name__)
async def test_a_newcomer_is_not_taken_for_the_older_sensor_while_that_cannot_be_heard(
    failure: Exception, book: SensorBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, radio = book.sensors(), Ear(failure)
    async with at_work(book, radio, monkeypatch) as clerk:
        assert await clerk.after(TOLD) is None
        assert radio.asked.is_set()
        assert book.sensors() == before
        assert await clerk.after(BATTERY) is None  # the rest is written all the same
        assert at(book, TWO).battery_percent == 55
        assert not clerk.work.done()


async def test_an_older_sensor_that_could_not_be_heard_is_listened_for_again_and_keeps_its_own(
    book: SensorBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.capture.link_clerk.LISTEN_AGAIN_S", 0.0)
    async with at_work(book, Ear(BleakError("busy"), BleakError("busy"), True), monkeypatch) as clerk:
        clerk.clerk.hear(TOLD)
        async with asyncio.timeout(PATIENCE_S):
            while not at(book, TWO).serial:
                await clerk.says_next()
    one, two = at(book, ONE), at(book, TWO)
    assert (one.rack, one.calibration, one.serial_is_shared) == ("rack 1", CALIBRATION, True)
    assert (two.rack, two.calibration, two.serial_is_shared) == ("rack 2", None, True)


async def test_a_sensor_that_is_heard_nowhere_else_later_is_the_older_one_under_a_new_address(
    book: SensorBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.capture.link_clerk.LISTEN_AGAIN_S", 0.0)
    async with at_work(book, Ear(BleakError("busy"), False), monkeypatch) as clerk:
        clerk.clerk.hear(TOLD)
        await asyncio.wait({clerk.work}, timeout=PATIENCE_S)
        assert clerk.work.done(), "it is rack 1's sensor, and was let go"
    assert book.of(ONE) is None
    assert (at(book, TWO).rack, at(book, TWO).calibration) == ("rack 1", CALIBRATION)


async def test_a_radio_that_failed_is_not_listened_on_at_every_turn(
    book: SensorBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    radio = Ear(BleakError("busy"))
    async with at_work(book, radio, monkeypatch) as clerk:
        await clerk.after(TOLD)
        radio.asked.clear()
        for _ in range(3):
            await clerk.says_next()
        assert not radio.asked.is_set()


async def test_a_clerk_that_is_to_stop_stops_though_its_radio_fails_meanwhile(
    book: SensorBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    class FailsWhenBrokenOff(Ear):
        async def find(self, _radio: object, _address: str, _seconds: float) -> object:
            self.asked.set()
            try:
                return await asyncio.Event().wait()
            finally:
                raise BleakError("gone")

    radio = FailsWhenBrokenOff(False)
    async with at_work(book, radio, monkeypatch) as clerk:
        clerk.clerk.hear(TOLD)
        await radio.asked.wait()
        clerk.work.cancel()
        await asyncio.wait({clerk.work}, timeout=1.0)
        assert clerk.work.cancelled()


async def test_what_a_sensor_tells_while_the_book_is_held_is_written_once_it_is_free(
    book: SensorBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with at_work(book, Ear(True), monkeypatch) as clerk:
        with held(book, monkeypatch):
            said = await clerk.after(TOLD, BATTERY, AddressLearned(THREE, TWO, 2.0))
            assert isinstance(said, SensorBookHeld)
            assert at(book, TWO) == KnownSensor(TWO, "Bar sensor", rack="rack 2")
        async with asyncio.timeout(PATIENCE_S):
            while await clerk.says_next() is not None:
                pass
        assert not clerk.work.done()
    known = at(book, THREE)
    assert (known.rack, known.serial, known.battery_percent) == ("rack 2", "SN-0", 55)
    assert book.of(TWO) is None


async def test_a_book_that_is_held_does_not_hold_up_the_saying_that_a_sensor_was_let_go(
    book: SensorBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    connected = StateChanged(LinkState.STREAMING, LinkState.SUBSCRIBING, "", 0.0, 1)
    lost = StateChanged(LinkState.LOST, LinkState.STREAMING, "", 1.0, 1)
    async with at_work(book, Ear(False), monkeypatch) as clerk:
        with held(book, monkeypatch):
            await clerk.after(connected, BATTERY)
            assert book.hold(TWO) is None
            await clerk.after(lost)
            mine = book.hold(TWO)
            assert mine is not None
            mine.release()
