"""On the way out: a sensor is let go whatever it answers, and a radio that fails then hides no cancellation."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from bleak.exc import BleakDBusError, BleakError

from drivers.conversation import connect, release
from drivers.device_information import read_serial
from drivers.profile import Write
from drivers.radio import RadioError
from station.capture.link_news import LinkNews
from station.capture.sensor_choice import SensorChoice, choose_sensor
from station.store.sensor_book import SensorBook
from tests.radio.conftest import PATIENCE_S

STOP = (Write("2a00", b"\x00"), Write("2a01", b"\x01"))
GONE = [BleakError("gone"), OSError("gone"), TimeoutError("gone"), EOFError("gone")]


class FakeClient:
    """A client that notes what is asked of it; `answer` is what each write does."""

    def __init__(self, answer: Callable[[], Awaitable[None]] | None = None, connected: bool = True) -> None:
        self.is_connected, self._answer = connected, answer
        self.asked: list[object] = []
        self.writing = asyncio.Event()

    async def connect(self) -> None:
        self.writing.set()
        await asyncio.Event().wait()

    async def write_gatt_char(self, characteristic: str, data: bytes, *, response: bool) -> None:
        self.asked.append((characteristic, data, response))
        self.writing.set()
        if self._answer is not None:
            await self._answer()

    async def disconnect(self) -> None:
        await asyncio.sleep(0)  # as long as a disconnection takes, a cancellation may come in between
        self.asked.append("disconnect")


def never() -> Awaitable[None]:
    return asyncio.get_running_loop().create_future()


def raising(error: Exception) -> Callable[[], Awaitable[None]]:
    async def answer() -> None:
        raise error

    return answer


async def test_the_stream_is_stopped_as_the_profile_asks_before_the_sensor_is_let_go() -> None:
    client: Any = FakeClient()
    await release(client, STOP)
    assert client.asked == [*((one.characteristic, one.data, one.response) for one in STOP), "disconnect"]


async def test_a_sensor_that_is_gone_is_asked_nothing() -> None:
    client: Any = FakeClient(connected=False)
    await release(client, STOP)
    assert client.asked == ["disconnect"]


async def test_a_sensor_that_does_not_answer_the_stop_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("drivers.conversation.REQUEST_TIMEOUT_S", 0.01)
    client: Any = FakeClient(never)
    await release(client, STOP)
    assert client.asked[-1] == "disconnect"


@pytest.mark.parametrize("error", GONE, ids=lambda error: type(error).__name__)
async def test_a_sensor_that_refuses_the_stop_is_let_go(error: Exception) -> None:
    client: Any = FakeClient(raising(error))
    await release(client, STOP)
    assert client.asked[-1] == "disconnect"


async def test_who_is_cancelled_while_the_sensor_is_asked_to_stop_lets_it_go_first() -> None:
    client: Any = FakeClient(never)
    releasing = asyncio.create_task(release(client, STOP))
    await client.writing.wait()
    releasing.cancel()
    with pytest.raises(asyncio.CancelledError):
        await releasing
    assert client.asked[-1] == "disconnect"


async def test_who_is_cancelled_while_connecting_leaves_no_connection() -> None:
    client: Any = FakeClient()
    radio: Any = SimpleNamespace(client=lambda *_: client)
    device: Any = None
    connecting = asyncio.create_task(connect(radio, device, "the sensor", asyncio.Event()))
    await client.writing.wait()
    connecting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await connecting
    assert client.asked == ["disconnect"]


class FailsOnTheWayOut:
    """A radio that hears nothing, and fails when listening is broken off."""

    def __init__(self, error: Exception) -> None:
        self.listening, self._error = asyncio.Event(), error

    @asynccontextmanager
    async def alone(self) -> AsyncIterator[None]:
        yield

    @asynccontextmanager
    async def scanner(self, _heard: object) -> AsyncIterator[None]:
        self.listening.set()
        try:
            yield
        finally:
            raise self._error


@pytest.mark.parametrize(
    "error",
    [BleakError("gone"), BleakDBusError("gone", []), RadioError("gone"), OSError("gone"), EOFError("gone")],
    ids=lambda error: type(error).__name__,
)
async def test_a_rack_that_is_to_stop_stops_though_its_radio_fails_meanwhile(
    error: Exception, tmp_path: Path
) -> None:
    radio: Any = FailsOnTheWayOut(error)
    said: list[LinkNews] = []
    looks_on = asyncio.Event()

    def say(news: LinkNews) -> None:
        said.append(news)
        looks_on.set()

    choosing = asyncio.create_task(choose_sensor(radio, SensorChoice(book=SensorBook(tmp_path)), say))
    await radio.listening.wait()
    choosing.cancel()
    other = asyncio.create_task(looks_on.wait())
    await asyncio.wait({choosing, other}, timeout=PATIENCE_S, return_when=asyncio.FIRST_COMPLETED)
    ended = choosing.cancelled()
    for task in (choosing, other):
        task.cancel()
    await asyncio.wait({choosing, other})
    assert ended, f"it looks on, and says {said}"


async def test_who_is_to_stop_while_it_asks_for_a_serial_number_stops() -> None:
    radio: Any = FailsOnTheWayOut(BleakError("gone"))
    asking = asyncio.create_task(read_serial(radio, "F0:00:00:00:00:01"))
    await radio.listening.wait()
    asking.cancel()
    with pytest.raises(asyncio.CancelledError):
        await asking


async def test_a_radio_that_fails_while_nobody_stops_is_said_and_tried_again(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("station.capture.sensor_choice.AFTER_A_FAULT_S", 0.0)
    monkeypatch.setattr("station.capture.sensor_choice.FIRST_LOOK_S", 0.0)
    radio: Any = FailsOnTheWayOut(BleakError("no adapter"))
    said: asyncio.Queue[LinkNews] = asyncio.Queue()
    choosing = asyncio.create_task(
        choose_sensor(radio, SensorChoice(book=SensorBook(tmp_path)), said.put_nowait)
    )
    async with asyncio.timeout(PATIENCE_S):
        twice = [await said.get(), await said.get()]
    choosing.cancel()
    await asyncio.wait({choosing})
    assert [news.trouble.words for news in twice if news.trouble] == 2 * [
        "Bluetooth cannot be used: no adapter"
    ]
