"""A sensor book that another program holds, or that cannot be read: the rack says so, and goes on measuring."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from filelock import FileLock

from station.store.sensor_book import SensorBook
from tests.radio.test_choice import rack
from tests.radio.test_same_serial import until


@pytest.fixture(autouse=True)
def _virtual_only(request: pytest.FixtureRequest) -> None:
    if request.config.getoption("--radio", default="bumble") != "bumble":
        pytest.skip("the rack's choice rests on the links, which have their own tests there")


@pytest.fixture(autouse=True)
def _is_waited_for_a_moment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("station.store.sensor_book.LOCK_WAIT_S", 0.05)


async def test_a_rack_s_sensor_streams_on_while_the_book_is_held_and_that_is_said(
    air: Any, tmp_path: Path
) -> None:
    book = SensorBook(tmp_path)
    lock = FileLock(book.path.with_suffix(".lock"))
    async with air() as there, there.sensor(name="Bar sensor 1") as (sensor, _):
        book.claim(sensor.address, "Bar sensor 1", "rack 1")
        with lock:
            async with rack(there, book) as heard:
                said = await heard.until(lambda news: news.book is not None and news.sensor.streaming)
                assert said.book is not None
                assert f"holds {Path(lock.lock_file).name}," in said.book.words
                assert said.book.advice.startswith("Nothing measured is lost")
                assert said.trouble is None
                heard.news.clear()
                lock.release()
                await heard.until(lambda news: news.book is None)
                await until(book, lambda known: known[sensor.address].serial == "SIM-0001")
                assert all(news.sensor.streaming for news in heard.news)


async def test_a_rack_that_cannot_claim_a_sensor_says_who_holds_the_book_and_claims_it_later(
    air: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.capture.sensor_choice.AFTER_A_FAULT_S", 0.1)
    book = SensorBook(tmp_path)
    lock = FileLock(book.path.with_suffix(".lock"))
    async with air() as there, there.sensor(name="Bar sensor 1") as (sensor, _):
        with lock:
            async with rack(there, book) as heard:
                said = await heard.until_said("Another program of the station holds")
                assert said.trouble is not None
                assert f"holds {Path(lock.lock_file).name}," in said.trouble.words
                assert said.trouble.serious
                assert said.sensor.link == "no sensor book"
                lock.release()
                await heard.until_streaming_from(sensor.address)
        assert book.claimed_by("rack 1") is not None


async def test_a_sensor_under_a_new_address_is_known_again_once_the_book_is_free(
    air: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.capture.sensor_choice.AFTER_A_FAULT_S", 0.1)
    book = SensorBook(tmp_path)
    lock = FileLock(book.path.with_suffix(".lock"))
    book.claim("C4:00:00:00:00:09", "Bar sensor 1", "rack 1")
    book.identified("C4:00:00:00:00:09", "Bar sensor 1", "SN-7")
    async with air() as there, there.sensor(name="Bar sensor 1", serial="SN-7") as (sensor, _):
        with lock:
            async with rack(there, book) as heard:
                await heard.until_said("Another program of the station holds")
                lock.release()
                await heard.until_streaming_from(sensor.address)
        assert [known.address for known in book.sensors()] == [sensor.address]


async def test_a_book_that_cannot_be_read_is_not_taken_for_bluetooth(
    air: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.capture.sensor_choice.AFTER_A_FAULT_S", 0.1)
    book = SensorBook(tmp_path)
    book.path.mkdir()
    async with (
        air() as there,
        there.sensor(name="Bar sensor 1") as (sensor, _),
        rack(there, book, asked=False) as heard,
    ):
        said = await heard.until_said("The sensor book sensors.json cannot be read")
        assert said.trouble is not None
        assert said.trouble.advice.startswith("Give the station's user access")
        book.path.rmdir()
        book.claim(sensor.address, "Bar sensor 1", "rack 1")
        await heard.until_streaming_from(sensor.address)
