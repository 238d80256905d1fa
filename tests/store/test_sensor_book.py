"""The sensor book: one sensor, one rack; what was known of a sensor outlives its being switched off."""

from __future__ import annotations

import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from station.store.errors import ClaimedElsewhere
from station.store.sensor_book import KnownSensor, SensorBook

NOON = datetime(2026, 10, 14, 12, tzinfo=UTC)
ONE, TWO = "F0:00:00:00:00:01", "F0:00:00:00:00:02"


@pytest.fixture
def book(tmp_path: Path) -> SensorBook:
    return SensorBook(tmp_path / "data", lambda: NOON)


def test_a_book_that_was_never_written_knows_nothing(book: SensorBook) -> None:
    assert book.sensors() == []
    assert book.claimed_by("rack 1") is None


def test_a_claim_is_seen_by_every_other_station_of_the_machine(book: SensorBook) -> None:
    book.claim(ONE, "Bar sensor 1", "rack 1")
    again = SensorBook(book.path.parent)
    assert again.claimed_by("rack 1") == KnownSensor(ONE, "Bar sensor 1", rack="rack 1")


def test_a_sensor_of_another_rack_is_not_taken_unless_asked_for(book: SensorBook) -> None:
    book.claim(ONE, "Bar sensor 1", "rack 1")
    with pytest.raises(ClaimedElsewhere, match="Bar sensor 1 belongs to rack 1"):
        book.claim(ONE, "Bar sensor 1", "rack 2")
    assert book.claimed_by("rack 2") is None
    assert book.claim(ONE, "Bar sensor 1", "rack 2", take_over=True) == "rack 1"
    assert book.claimed_by("rack 1") is None


def test_a_rack_has_one_sensor(book: SensorBook) -> None:
    book.claim(ONE, "Bar sensor 1", "rack 1")
    book.claim(TWO, "Bar sensor 2", "rack 1")
    assert [(s.address, s.rack) for s in book.sensors()] == [(ONE, None), (TWO, "rack 1")]


def test_a_sensor_whose_address_rotated_keeps_its_rack_and_battery(book: SensorBook) -> None:
    book.claim(ONE, "Bar sensor 1", "rack 1")
    book.identified(ONE, "Bar sensor 1", "SN-7")
    book.battery(ONE, 55)
    book.identified(TWO, "Bar sensor 1", "SN-7")
    (known,) = book.sensors()
    assert known == KnownSensor(TWO, "Bar sensor 1", "SN-7", "rack 1", 55, NOON)


def test_sensors_without_a_serial_number_are_never_taken_for_one(book: SensorBook) -> None:
    book.identified(ONE, "Bar sensor 1", "")
    book.identified(TWO, "Bar sensor 1", "")
    assert len(book.sensors()) == 2


@pytest.mark.parametrize("text", ["", "{", "[]", '{"sensors": [1]}', '{"sensors": [{"name": "x"}]}'])
def test_a_broken_book_is_put_aside_and_begun_anew(book: SensorBook, text: str) -> None:
    book.path.parent.mkdir()
    book.path.write_text(text)
    book.claim(ONE, "Bar sensor 1", "rack 1")
    assert book.claimed_by("rack 1") is not None
    assert book.path.with_suffix(".unreadable").read_text() == text


def test_of_many_racks_that_claim_one_sensor_at_once_one_has_it(book: SensorBook) -> None:
    refused: list[str] = []

    def claim(rack: str) -> None:
        try:
            SensorBook(book.path.parent).claim(ONE, "Bar sensor 1", rack)
        except ClaimedElsewhere:
            refused.append(rack)

    threads = [threading.Thread(target=claim, args=(f"rack {n}",)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(refused) == 5
    assert [s.rack for s in book.sensors()] == [f"rack {n}" for n in range(6) if f"rack {n}" not in refused]
