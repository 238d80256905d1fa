"""The sensor book: one sensor, one rack; what was known of a sensor outlives its being switched off."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from filelock import FileLock

from station.store.errors import ClaimedElsewhere, FolderNotWritable, SensorBookHeld, SensorBookUnreadable
from station.store.known_sensor import KnownSensor
from station.store.sensor_book import SensorBook

NOON = datetime(2026, 10, 14, 12, tzinfo=UTC)
ONE, TWO, THREE = (f"F0:00:00:00:00:0{n}" for n in (1, 2, 3))


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


def test_two_that_are_alive_together_are_two_though_they_have_one_serial_number(book: SensorBook) -> None:
    book.claim(ONE, "Bar sensor 1", "rack 1")
    book.identified(ONE, "Bar sensor 1", "SN-7")
    book.claim(TWO, "Bar sensor 2", "rack 2")
    book.identified(TWO, "Bar sensor 2", "SN-7", other_is_alive=True)
    again = SensorBook(book.path.parent)
    assert [(s.address, s.rack, s.serial_is_shared) for s in again.sensors()] == [
        (ONE, "rack 1", True),
        (TWO, "rack 2", True),
    ]


@pytest.mark.parametrize("first", [ONE, TWO])
def test_a_sensor_that_a_station_holds_is_not_the_one_that_is_identified(
    book: SensorBook, first: str
) -> None:
    second = TWO if first == ONE else ONE
    book.identified(first, "Bar sensor", "SN-7")
    hold = book.hold(first)
    assert hold is not None
    book.identified(second, "Bar sensor", "SN-7")
    hold.release()
    assert {s.address for s in book.sensors() if s.serial_is_shared} == {ONE, TWO}


def test_a_sensor_that_was_given_back_is_known_again_under_a_new_address(book: SensorBook) -> None:
    book.claim(ONE, "Bar sensor 1", "rack 1")
    book.identified(ONE, "Bar sensor 1", "SN-7")
    hold = book.hold(ONE)
    assert hold is not None
    hold.release()
    assert book.identified(TWO, "Bar sensor 1", "SN-7").rack == "rack 1"
    assert [s.address for s in book.sensors()] == [TWO]


def test_a_serial_number_that_was_shared_once_never_tells_who_is_who_again(book: SensorBook) -> None:
    book.identified(ONE, "Bar sensor 1", "SN-7")
    book.identified(TWO, "Bar sensor 2", "SN-7", other_is_alive=True)
    book.claim(ONE, "Bar sensor 1", "rack 1")
    assert book.of_serial("SN-7", but=TWO) is None
    third = book.identified(THREE, "Bar sensor 3", "SN-7")
    assert third == KnownSensor(THREE, "Bar sensor 3", "SN-7", serial_is_shared=True)
    assert book.claimed_by("rack 1") == KnownSensor(
        ONE, "Bar sensor 1", "SN-7", "rack 1", serial_is_shared=True
    )


def test_a_claim_just_made_outlives_the_finding_that_a_free_sensor_moved_there(book: SensorBook) -> None:
    book.identified(ONE, "Bar sensor 1", "SN-7")
    book.claim(TWO, "Bar sensor 1", "rack 1")
    assert book.identified(TWO, "Bar sensor 1", "SN-7").rack == "rack 1"


def test_a_book_of_before_shared_numbers_were_known_is_read(book: SensorBook) -> None:
    book.claim(ONE, "Bar sensor 1", "rack 1")
    text = book.path.read_text()
    assert '"serial_is_shared": false' in text
    book.path.write_text(text.replace(',\n   "serial_is_shared": false', ""))
    assert "serial_is_shared" not in book.path.read_text()
    assert book.claimed_by("rack 1") == KnownSensor(ONE, "Bar sensor 1", rack="rack 1")


CHANGES: dict[str, Callable[[SensorBook], object]] = {
    "claim": lambda book: book.claim(TWO, "Bar sensor 2", "rack 2"),
    "identified": lambda book: book.identified(TWO, "Bar sensor 2", "SN-7"),
    "moved": lambda book: book.moved(ONE, TWO),
    "battery": lambda book: book.battery(ONE, 55),
    "calibrated": lambda book: book.calibrated(ONE, "Bar sensor 1", {"bias": 0.0}),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_book_that_another_program_holds_is_left_as_it_is_and_that_is_said(
    book: SensorBook, change: Callable[[SensorBook], object], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.store.sensor_book.LOCK_WAIT_S", 0.0)
    book.claim(ONE, "Bar sensor 1", "rack 1")
    before = book.path.read_text()
    lock = book.path.with_suffix(".lock")
    with FileLock(lock):
        with pytest.raises(SensorBookHeld, match="nothing measured is lost") as held:
            change(book)
        assert str(lock) in str(held.value)
        assert book.path.read_text() == before
    change(book)
    assert book.path.read_text() != before


def test_a_lock_that_cannot_be_made_is_told_as_a_folder_that_cannot_be_written(book: SensorBook) -> None:
    book.path.with_suffix(".lock").mkdir(parents=True)
    with pytest.raises(FolderNotWritable, match="cannot write to"):
        book.claim(ONE, "Bar sensor 1", "rack 1")


def test_a_hold_that_cannot_be_said_is_told_as_a_folder_that_cannot_be_written(book: SensorBook) -> None:
    hold = book.hold(ONE)
    assert hold is not None
    hold.release()
    path = Path(hold.lock_file)
    path.unlink(missing_ok=True)
    path.mkdir()
    with pytest.raises(FolderNotWritable, match="cannot write to"):
        book.hold(ONE)


LOOKS: dict[str, Callable[[SensorBook], object]] = {
    "all": SensorBook.sensors,
    "one": lambda book: book.of(ONE),
    "claimed": lambda book: book.claimed_by("rack 1"),
    **CHANGES,
}


@pytest.mark.parametrize("look", LOOKS.values(), ids=LOOKS)
def test_a_book_that_is_there_and_cannot_be_read_is_left_where_it_is_and_that_is_said(
    book: SensorBook, look: Callable[[SensorBook], object]
) -> None:
    book.path.mkdir(parents=True)
    with pytest.raises(SensorBookUnreadable, match=r"cannot be read .*; give the station's user access"):
        look(book)
    assert book.path.is_dir()


def test_a_damaged_book_that_cannot_be_put_aside_is_told_as_one_that_cannot_be_read(book: SensorBook) -> None:
    book.path.with_suffix(".unreadable").mkdir(parents=True)
    book.path.write_text("no JSON")
    with pytest.raises(SensorBookUnreadable):
        book.sensors()
    assert book.path.read_text() == "no JSON"
