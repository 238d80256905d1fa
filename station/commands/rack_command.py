"""What the commands `rack` and `squad` do: open the record, build the rack, choose the sensor."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path

from drivers.profile_file import load_profile
from station.capture.chores import ExchangeChore, KeepingChore
from station.capture.desk_news import DeskNews
from station.capture.link_source import SensorChoice, listen_to_sensor
from station.capture.measurement import Measurement
from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.capture.rack_setup import setup_from_record
from station.capture.raw_chore import RawChore
from station.capture.raw_keeper import RawKeeper
from station.capture.room_board import RoomBoard
from station.capture.room_chores import DecisionsNearby, RoomChore
from station.capture.surroundings import Surroundings
from station.commands.folders import data_folder, data_root
from station.commands.rack_program import Look, run_rack
from station.commands.squad_file import read_squad
from station.store.errors import ClaimedElsewhere, SensorBookHeld, SensorBookUnreadable
from station.store.nightly import last_good
from station.store.record import Record
from station.store.sensor_book import SensorBook
from station.store.sharing import Role

DEFAULT_WORK_SETS = 3


def utc_now() -> datetime:
    """The instant records are born at."""
    return datetime.now(UTC)


def local_now() -> datetime:
    """Local date and time, with zone."""
    return datetime.now().astimezone()


def local_day() -> date:
    """A day is the local day."""
    return datetime.now().astimezone().date()


def open_rack(record: Record, show: Show, data_note: str = "", *, any_lift: bool = False) -> Rack:
    """The rack of an open record, with its raw samples in the record's folder.

    Args:
        data_note: stands on the screen, e.g. "demo data".
        any_lift: measure whatever comes, for a recording whose lift nobody knows.
    """
    news = DeskNews(record, data_note)
    news.take_over()
    setup = setup_from_record(record, data_note)
    folder = record.database.folder
    board = RoomBoard()
    shared = ExchangeChore(folder, Role.RACK, utc_now, board)
    around = Surroundings(folder, utc_now, lambda: last_good(folder), lambda: shared.away_since)
    raw = RawKeeper(record.database.folder / "raw")
    raw.recover(record)
    measurement = Measurement(None if any_lift else setup.lift)
    made = Rack(record, setup, measurement, raw, show, local_day, around, news)
    # Stopped in this order: the room hears of the end before the exchange closes.
    made.chores = (
        RoomChore(folder, board, local_now),
        DecisionsNearby(folder, record.rack, utc_now),
        shared,
        KeepingChore(folder, local_now),
        RawChore(folder, Role.RACK, local_now),
    )
    return made


def run_on_radio(
    rack: str,
    data: Path | None,
    sensor: str | None,
    profile: Path | None,
    look: Look,
    transport: str | None = None,
) -> None:
    """The rack screen on this machine's Bluetooth adapter, or on the radio that a transport reaches."""
    own = (load_profile(profile),) if profile else ()
    folder = data_folder(data, rack)
    book = SensorBook(data_root(data), utc_now)
    with suppress(ClaimedElsewhere, SensorBookHeld, SensorBookUnreadable):  # said on the screen
        if book.claimed_by(rack) is None:
            _claim_the_one_used_last(book, folder, rack)
    choice = SensorChoice(sensor, own, transport, rack, book)
    source = partial(listen_to_sensor, choice, log_folder=folder)
    run_rack(_rack_maker(folder, rack), source, look, choice.asked.set)


def _rack_maker(folder: Path, rack: str) -> Callable[[Show], Rack]:
    return lambda show: open_rack(Record(folder, rack, utc_now), show)


def _claim_the_one_used_last(book: SensorBook, folder: Path, rack: str) -> None:
    """The record knows which sensor this rack had, also where the book was lost.

    Raises:
        StoreError: it belongs to another rack by now, or the book cannot be used.
    """
    record = Record(folder, rack, utc_now)
    try:
        claimed = record.claimed_sensor()
    finally:
        record.close()
    if claimed is not None:
        book.claim(claimed[1], claimed[0], rack)


def add_squad(
    file: Path, rack: str, data: Path | None, staff: Sequence[str] = ()
) -> tuple[int, tuple[str, ...]]:
    """Add a squad file to a rack's record: how many athletes, and a sentence for each row left out."""
    squad = read_squad(file)
    if squad.rows or staff:
        record = Record(data_folder(data, rack), rack, utc_now)
        try:
            if squad.rows:
                record.add_athletes(row.athlete for row in squad.rows)
            record.add_rows("staff", [{"name": name} for name in staff if name not in record.staff_names()])
            record.add_rows(
                "plans",
                [
                    {
                        "athlete_id": row.athlete.athlete_id,
                        "lift": row.lift,
                        "warmup_load_kg": row.warmup_load_kg,
                        "planned_load_kg": row.planned_load_kg,
                        "ceiling_kg": row.ceiling_kg,
                        "work_sets": DEFAULT_WORK_SETS,
                        "stop_loss": 0.20,
                    }
                    for row in squad.rows
                    if row.lift is not None
                ],
            )
            record.add_rows(
                "lift_targets",
                [
                    {"athlete_id": row.athlete.athlete_id, "lift": row.lift, **row.targets}
                    for row in squad.rows
                    if row.lift is not None and any(row.targets.values())
                ],
            )
        finally:
            record.close()
    return len(squad.rows), squad.complaints
