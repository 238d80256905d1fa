"""Boards of one batch may all say the same serial number: those that are there together are told apart by address."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from station.store.known_sensor import KnownSensor
from station.store.sensor_book import SensorBook
from tests.radio.conftest import PATIENCE_S
from tests.radio.test_choice import rack

BOTH = {"serial": "SN-0"}


@pytest.fixture(autouse=True)
def _virtual_only(request: pytest.FixtureRequest) -> None:
    if request.config.getoption("--radio", default="bumble") != "bumble":
        pytest.skip("the rack's choice rests on the links, which have their own tests there")


async def until(book: SensorBook, fits: Callable[[dict[str, KnownSensor]], bool]) -> None:
    """Wait until the book says so; a file says nothing when it changes."""
    async with asyncio.timeout(PATIENCE_S):
        while not fits({one.address: one for one in book.sensors()}):
            await asyncio.sleep(0.05)


async def test_two_racks_keep_two_sensors_of_one_serial_number(air: Any, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    async with (
        air() as there,
        there.sensor(name="Bar sensor 1", **BOTH) as (one, _),
        rack(there, book, "rack 1") as first,
    ):
        await first.until_streaming_from(one.address)
        await until(book, lambda known: known[one.address].serial == "SN-0")
        async with (
            there.sensor(name="Bar sensor 2", **BOTH) as (two, _),
            rack(there, book, "rack 2") as second,
        ):
            await second.until_streaming_from(two.address)
            await until(book, lambda known: known[two.address].serial_is_shared)
            claims = {known.address: known.rack for known in book.sensors()}
            assert claims == {one.address: "rack 1", two.address: "rack 2"}
            assert all(known.serial_is_shared for known in book.sensors())
            assert first.news[-1].sensor.streaming
        assert first.news[-1].sensor.streaming


async def test_a_rack_changes_from_one_sensor_to_another_of_the_same_serial_number(
    air: Any, tmp_path: Path
) -> None:
    book = SensorBook(tmp_path)
    async with (
        air() as there,
        there.sensor(name="Bar sensor 1", **BOTH) as (one, _),
        rack(there, book) as heard,
    ):
        await heard.until_streaming_from(one.address)
        await until(book, lambda known: known[one.address].serial == "SN-0")
        async with there.sensor(name="Bar sensor 2", **BOTH) as (two, _):
            book.claim(two.address, "Bar sensor 2", "rack 1")
            await heard.until_streaming_from(two.address)
            await until(book, lambda known: known[two.address].serial_is_shared)
            claims = {known.address: known.rack for known in book.sensors()}
            assert claims == {one.address: None, two.address: "rack 1"}
