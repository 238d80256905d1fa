"""Which sensor a rack takes: its own, the only free one, or the one that moves; never another rack's by itself."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, asynccontextmanager
from pathlib import Path
from typing import Any

import pytest

from drivers.samples import SampleBlock
from station.capture.link_log import FILE_NAME
from station.capture.link_news import LinkNews
from station.capture.link_source import SensorChoice, listen_to_sensor
from station.store.sensor_book import SensorBook
from tests.radio.conftest import PATIENCE_S, Air
from tests.radio.test_finding import lifted, still


class Heard:
    """What a rack hears."""

    def __init__(self) -> None:
        self.news: list[LinkNews] = []
        self.ask: Callable[[], None] = lambda: None
        self._changed = asyncio.Event()

    def __call__(self, item: SampleBlock | LinkNews) -> None:
        if isinstance(item, LinkNews):
            self.news.append(item)
            self._changed.set()

    async def until(self, fits: Callable[[LinkNews], bool]) -> LinkNews:
        async with asyncio.timeout(2 * PATIENCE_S):
            while True:
                for one in self.news:
                    if fits(one):
                        return one
                self._changed.clear()
                await self._changed.wait()

    async def until_streaming_from(self, address: str) -> LinkNews:
        return await self.until(lambda news: news.address == address)

    async def until_said(self, words: str) -> LinkNews:
        return await self.until(lambda news: any(words in t.words for t in (news.trouble, news.note) if t))


@pytest.fixture(autouse=True)
def _virtual_only(request: pytest.FixtureRequest) -> None:
    if request.config.getoption("--radio", default="bumble") != "bumble":
        pytest.skip("the rack's choice rests on the links, which have their own tests there")


@asynccontextmanager
async def rack(
    there: Air,
    book: SensorBook | None,
    name: str = "rack 1",
    wanted: str | None = None,
    log: Path | None = None,
    *,
    asked: bool = True,
) -> AsyncIterator[Heard]:
    """A rack's side of the radio, on a controller of its own; a person has asked for the sensor on its bar."""
    heard = Heard()
    transport = await there.virtual.open_port(name)
    choice = SensorChoice(wanted, transport=transport, rack=name, book=book)
    heard.ask = choice.asked.set
    if asked and wanted is None and (book is None or book.claimed_by(name) is None):
        heard.ask()
    task = asyncio.create_task(listen_to_sensor(choice, heard, log))
    try:
        yield heard
        assert not task.done()
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def test_the_only_free_sensor_is_taken_and_that_is_said(air: Any, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    async with air() as there, there.sensor(name="Bar sensor 7") as (sensor, _), rack(there, book) as heard:
        news = await heard.until_streaming_from(sensor.address)
        assert news.note is not None
        assert "Bar sensor 7 was taken, the only free sensor in range" in news.note.words
        mine = book.claimed_by("rack 1")
        assert mine is not None
        assert (mine.address, mine.serial, mine.battery_percent) == (sensor.address, "SIM-0001", 87)


async def test_of_several_free_sensors_the_one_that_moves_is_taken(air: Any, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    async with (
        air() as there,
        there.sensor(still(1), name="Bar sensor 1"),
        there.sensor(lifted(2), name="Bar sensor 2") as (wanted, _),
        rack(there, book) as heard,
    ):
        said = await heard.until_said("2 sensors are in range. Lift this rack's bar")
        assert said.sensor.link == "lift the bar"
        news = await heard.until_streaming_from(wanted.address)
        assert news.note is not None
        assert "Bar sensor 2 moved" in news.note.words


async def test_a_rack_connects_to_no_sensor_before_a_person_asks(air: Any, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    async with (
        air() as there,
        there.sensor(name="Bar sensor 1") as (sensor, _),
        rack(there, book, asked=False) as heard,
    ):
        connections: list[object] = []
        sensor._device.on("connection", connections.append)  # type: ignore[union-attr]
        said = await heard.until_said("This rack has no sensor yet; Bar sensor 1 is in range")
        assert said.trouble is not None
        assert "Touch More, then Sensor, and lift the bar" in said.trouble.advice
        assert connections == []
        heard.ask()
        await heard.until_streaming_from(sensor.address)
        assert len(connections) == 1


async def test_a_rack_that_has_a_sensor_takes_the_one_on_its_bar_when_a_person_asks(
    air: Any, tmp_path: Path
) -> None:
    book = SensorBook(tmp_path)
    async with air() as there, there.sensor(still(1), name="Bar sensor 1") as (one, _):
        book.claim(one.address, "Bar sensor 1", "rack 1")
        async with (
            rack(there, book) as heard,
            there.sensor(lifted(2), name="Bar sensor 2", serial="SIM-0002") as (two, _),
        ):
            await heard.until_streaming_from(one.address)
            heard.ask()
            await heard.until_streaming_from(two.address)
            assert [s.address for s in book.sensors() if s.rack == "rack 1"] == [two.address]


async def test_another_rack_s_sensor_is_not_taken_and_its_rack_is_named(air: Any, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    async with air() as there, there.sensor(name="Bar sensor 1") as (sensor, _):
        book.claim(sensor.address, "Bar sensor 1", "rack 2")
        async with rack(there, book) as heard:
            said = await heard.until_said("no free sensor is in range")
            assert said.trouble is not None
            assert "Bar sensor 1 (rack 2)" in said.trouble.words
        assert all(news.address is None for news in heard.news)
        async with rack(there, book, wanted="bar sensor 1") as heard:
            news = await heard.until_streaming_from(sensor.address)
            assert news.note is not None
            assert "belonged to rack 2 until now" in news.note.words


async def test_a_rack_waits_for_its_own_sensor_while_a_free_one_is_there(air: Any, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    book.claim("C4:00:00:00:00:09", "Bar sensor 9", "rack 1")
    async with air() as there, there.sensor(name="Bar sensor 1"), rack(there, book) as heard:
        await heard.until_said("Bar sensor 9, this rack's sensor, is not in range")
        async with there.sensor(name="Bar sensor 9", address="C4:00:00:00:00:09"):
            await heard.until_streaming_from("C4:00:00:00:00:09")


async def test_a_sensor_whose_address_rotated_is_known_by_its_serial_number(air: Any, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    async with air() as there:
        async with there.sensor(serial="SN-7") as (sensor, _), rack(there, book) as heard:
            first = sensor.address
            await heard.until_streaming_from(first)
        async with (
            there.sensor(serial="SN-8", name="Bar sensor 2"),
            there.sensor(serial="SN-7") as (sensor, _),
            rack(there, book) as heard,
        ):
            assert sensor.address != first
            await heard.until_streaming_from(sensor.address)
        assert [one.address for one in book.sensors() if one.rack == "rack 1"] == [sensor.address]


async def test_a_sensor_that_rotates_while_the_rack_holds_it_is_found_again(
    air: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.capture.link_clerk.LOOK_ELSEWHERE_S", 2.0)
    book = SensorBook(tmp_path)
    async with air() as there, AsyncExitStack() as stack:
        heard = await stack.enter_async_context(rack(there, book))
        async with there.sensor(serial="SN-7") as (sensor, _):
            await heard.until_streaming_from(sensor.address)
        async with there.sensor(serial="SN-7") as (again, _):
            assert again.address != sensor.address
            await heard.until_streaming_from(again.address)


async def test_only_sensors_that_bear_the_lost_one_s_name_are_asked_who_they_are(
    air: Any, tmp_path: Path
) -> None:
    book = SensorBook(tmp_path)
    book.claim("C4:00:00:00:00:09", "Bar sensor 9", "rack 1")
    book.identified("C4:00:00:00:00:09", "Bar sensor 9", "SN-9")
    async with air() as there, there.sensor(serial="SN-1", name="Bar sensor 1") as (sensor, _):
        connections: list[object] = []
        sensor._device.on("connection", connections.append)  # type: ignore[union-attr]
        async with rack(there, book) as heard:
            await heard.until_said("Bar sensor 9, this rack's sensor, is not in range")
        assert connections == []


async def test_a_private_address_that_a_bond_resolves_is_kept_as_the_lasting_one(
    air: Any, tmp_path: Path
) -> None:
    book = SensorBook(tmp_path)
    async with air() as there, there.sensor(bonded_only=True, private=True, serial="") as (sensor, _):
        async with rack(there, book, log=tmp_path) as heard:
            lasting = str(sensor._device.static_address)  # type: ignore[union-attr]
            await heard.until_streaming_from(lasting)
        await sensor.rotate_address()
        async with rack(there, book, log=tmp_path) as heard:
            await heard.until_streaming_from(lasting)
        assert [one.address for one in book.sensors()] == [lasting]


async def test_another_rack_s_sensor_under_a_new_address_is_let_go_again(air: Any, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    book.claim("C4:00:00:00:00:09", "Bar sensor 9", "rack 2")
    book.identified("C4:00:00:00:00:09", "Bar sensor 9", "SN-9")
    async with air() as there, there.sensor(serial="SN-9") as (sensor, _), rack(there, book) as heard:
        await heard.until_said("no free sensor is in range")
        assert book.claimed_by("rack 1") is None
        known = book.claimed_by("rack 2")
        assert known is not None
        assert known.address == sensor.address


async def test_two_racks_that_start_together_never_share_a_sensor(air: Any, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    async with (
        air() as there,
        there.sensor(name="Bar sensor 1") as (sensor, _),
        rack(there, book, "rack 1") as one,
        rack(there, book, "rack 2") as two,
    ):
        done, _ = await asyncio.wait(
            [asyncio.create_task(r.until_streaming_from(sensor.address)) for r in (one, two)],
            return_when=asyncio.FIRST_COMPLETED,
        )
        assert len(done) == 1
        holder = book.of(sensor.address)
        assert holder is not None
        other = two if holder.rack == "rack 1" else one
        await other.until(lambda news: news.trouble is not None and "in range" in news.trouble.words)
        assert all(news.address is None for news in other.news)
        for task in asyncio.all_tasks() - {asyncio.current_task()}:
            if task.get_coro().__name__ == "until_streaming_from":  # type: ignore[union-attr]
                task.cancel()


async def test_a_rack_takes_a_sensor_up_that_it_is_given_while_it_runs(air: Any, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    async with air() as there, there.sensor(name="Bar sensor 1") as (one, _), rack(there, book) as heard:
        await heard.until_streaming_from(one.address)
        async with there.sensor(name="Bar sensor 2", serial="SIM-0002") as (two, _):
            book.claim(two.address, "Bar sensor 2", "rack 1")
            await heard.until_streaming_from(two.address)


async def test_a_lost_book_does_not_end_a_session(air: Any, tmp_path: Path) -> None:
    book, log = SensorBook(tmp_path), tmp_path / FILE_NAME
    async with air() as there, there.sensor() as (sensor, _), rack(there, book, log=tmp_path) as heard:
        await heard.until_streaming_from(sensor.address)
        book.path.unlink()
        async with asyncio.timeout(PATIENCE_S):
            while book.claimed_by("rack 1") is None or '"event": "report"' not in log.read_text():
                await asyncio.sleep(0.05)  # a file says nothing when it changes
        assert heard.news[-1].sensor.streaming


async def test_without_a_book_nothing_is_kept(air: Any) -> None:
    async with air() as there, there.sensor() as (sensor, _), rack(there, None) as heard:
        news = await heard.until_streaming_from(sensor.address)
        assert news.sensor.name == "Bar sensor 1"
