"""A backup is made while a station writes, is checked before it counts, and comes back whole or not at all."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from station.store import backup
from station.store.backup import last_backup, make_backup, read_manifest
from station.store.erasure import erase_athlete
from station.store.errors import (
    BackupDamaged,
    BackupFailed,
    FolderInUse,
    RawDamaged,
    RecordIsNewer,
)
from station.store.journal import RawJournal
from station.store.nightly import Nightly, back_up_if_due, due, keep_nightly, last_good
from station.store.raw_files import forget_old_raw, raw_space, read_raw
from station.store.record import Record
from station.store.restore import check_backup, restore
from tests.store.squad_record import AINO, BELA, DAY, add_squad, lift, opened, samples

NIGHT = datetime(2026, 10, 15, 2, 30, tzinfo=UTC)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    with closing(opened(tmp_path / "data")) as made:
        add_squad(made)
        lift(made, AINO, raw=True)
        yield made


def speeds(file: Path) -> list[float]:
    with closing(sqlite3.connect(file)) as connection:
        rows = connection.execute("SELECT mean_velocity_m_s FROM reps ORDER BY id").fetchall()
    return [row[0] for row in rows]


def test_what_was_written_before_it_is_in_it_while_the_record_stays_open(
    record: Record, tmp_path: Path
) -> None:
    made = make_backup(record.database.folder, tmp_path / "second", NIGHT)
    lift(record, BELA, (0.55,))
    assert speeds(made.parent / "record.sqlite") == [0.7, 0.68]
    manifest, bad = check_backup(made)
    assert (manifest.rack, manifest.made_at, bad) == ("rack-1", NIGHT, ())
    assert len(manifest.raw) == 1


def test_a_write_under_way_does_not_hold_a_backup_up_and_is_not_in_it(record: Record, tmp_path: Path) -> None:
    with record.database.engine.begin() as connection:
        connection.execute(text("UPDATE reps SET why = 'half way'"))
        made = make_backup(record.database.folder, tmp_path / "second", NIGHT)
    with closing(sqlite3.connect(made.parent / "record.sqlite")) as copy:
        assert copy.execute("SELECT DISTINCT why FROM reps").fetchall() == [("",)]


def test_raw_samples_of_the_open_set_come_along(record: Record, tmp_path: Path) -> None:
    journal = RawJournal(record.database.folder / "raw", "the-open-set")
    journal.append(samples(50))
    journal.sync()
    made = make_backup(record.database.folder, tmp_path / "second", NIGHT)
    assert [name for name in read_manifest(made).files if name.endswith(".journal")] == [journal.path.name]
    journal.finish()


def test_its_age_is_known_from_then_on(record: Record, tmp_path: Path) -> None:
    assert last_backup(record.database.folder) is None
    make_backup(record.database.folder, tmp_path / "second", NIGHT)
    assert last_backup(record.database.folder) == NIGHT


def test_a_restored_record_is_the_one_that_was_backed_up(record: Record, tmp_path: Path) -> None:
    folder = record.database.folder
    made = make_backup(folder, tmp_path / "second", NIGHT)
    record.close()
    shutil.rmtree(folder)
    done = restore(made, folder, NIGHT)
    assert (done.raw_files, done.missing, done.put_aside) == (1, (), None)
    with closing(opened(tmp_path / "data")) as again:
        (row,) = again.sets_on(DAY)
        assert [r.mean_velocity_m_s for r in again.reps_of(row.set_id)] == [0.7, 0.68]
        with again.database.read() as connection:
            file, sha256 = connection.execute(text("SELECT file, sha256 FROM raw_files")).one()
    assert len(read_raw(folder, file, sha256)) == 100


def test_a_record_with_newer_rows_is_not_overwritten_unasked(record: Record, tmp_path: Path) -> None:
    folder = record.database.folder
    made = make_backup(folder, tmp_path / "second", NIGHT)
    lift(record, BELA, (0.55,))
    record.close()
    with pytest.raises(RecordIsNewer, match=r"has 3 rows that this backup has not.*--replace"):
        restore(made, folder, NIGHT)
    assert speeds(folder / "record.sqlite") == [0.7, 0.68, 0.55]
    done = restore(made, folder, NIGHT, replace_newer=True)
    assert speeds(folder / "record.sqlite") == [0.7, 0.68]
    assert done.put_aside is not None
    assert speeds(done.put_aside / "record.sqlite") == [0.7, 0.68, 0.55]


def test_a_running_station_is_not_restored_over(record: Record, tmp_path: Path) -> None:
    made = make_backup(record.database.folder, tmp_path / "second", NIGHT)
    with pytest.raises(FolderInUse):
        restore(made, record.database.folder, NIGHT, replace_newer=True)


@settings(max_examples=25, deadline=None)
@given(at=st.floats(0, 1, exclude_max=True))
def test_a_byte_that_flipped_anywhere_in_the_backed_up_record_is_found(
    tmp_path_factory: pytest.TempPathFactory, at: float
) -> None:
    root = tmp_path_factory.mktemp("root")
    with closing(opened(root / "data")) as made:
        add_squad(made)
        file = make_backup(made.database.folder, root / "second", NIGHT)
    copy = file.parent / "record.sqlite"
    data = bytearray(copy.read_bytes())
    data[int(at * len(data))] ^= 0x10
    copy.write_bytes(data)
    with pytest.raises(BackupDamaged, match="cannot be trusted"):
        restore(file, root / "elsewhere" / "rack-1", NIGHT)
    assert not (root / "elsewhere" / "rack-1" / "record.sqlite").exists()


def test_a_damaged_raw_file_does_not_take_the_place_of_its_sound_copy(record: Record, tmp_path: Path) -> None:
    folder, second = record.database.folder, tmp_path / "second"
    make_backup(folder, second, NIGHT)
    (raw,) = (folder / "raw").glob("*.parquet")
    data = bytearray(raw.read_bytes())
    data[len(data) // 2] ^= 1
    raw.write_bytes(data)
    again = read_manifest(make_backup(folder, second, NIGHT + timedelta(days=1)))
    assert (list(again.raw), again.damaged) == (
        [raw.name],
        (),
    )  # its sound copy of the night before stands for it
    shutil.rmtree(second / "rack-1" / "raw")
    last = make_backup(folder, second, NIGHT + timedelta(days=2))
    assert read_manifest(last).damaged == (raw.name,)
    assert check_backup(last)[1] == (raw.name,)


def test_a_flipped_byte_in_a_raw_file_is_said_and_not_read(record: Record) -> None:
    folder = record.database.folder
    with record.database.read() as connection:
        file, sha256 = connection.execute(text("SELECT file, sha256 FROM raw_files")).one()
    raw = folder / "raw" / file
    data = bytearray(raw.read_bytes())
    data[-40] ^= 1
    raw.write_bytes(data)
    with pytest.raises(RawDamaged, match=r"checksum.*bring the file back"):
        read_raw(folder, file, sha256)


def test_a_folder_that_cannot_be_written_says_so_and_the_last_good_one_stays(
    record: Record, tmp_path: Path
) -> None:
    make_backup(record.database.folder, tmp_path / "second", NIGHT)
    (tmp_path / "in the way").write_text("a file")
    with pytest.raises(BackupFailed, match=r"no backup was made in .*in the way"):
        make_backup(record.database.folder, tmp_path / "in the way", NIGHT + timedelta(days=1))
    assert last_backup(record.database.folder) == NIGHT


def test_a_backup_cut_off_in_the_middle_is_none(
    record: Record, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut_off(_source: Path, _target: Path) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(backup, "_copy_whole", cut_off)
    with pytest.raises(BackupFailed, match="the disk is full"):
        make_backup(record.database.folder, tmp_path / "second", NIGHT)
    assert list((tmp_path / "second" / "rack-1").iterdir()) == []


def test_two_weeks_of_backups_are_kept(record: Record, tmp_path: Path) -> None:
    for night in range(backup.KEPT + 3):
        made = make_backup(record.database.folder, tmp_path / "second", NIGHT + timedelta(days=night))
    home = tmp_path / "second" / "rack-1"
    assert len(list(home.glob("*/manifest.json"))) == backup.KEPT
    assert made.exists()
    assert len(list((home / "raw").iterdir())) == 1


@pytest.mark.parametrize("words", ["", "{}", "[1]", '{"made_at": 3}'])
def test_what_is_no_manifest_is_refused(tmp_path: Path, words: str) -> None:
    (tmp_path / "manifest.json").write_text(words)
    with pytest.raises(BackupDamaged, match="not the manifest"):
        read_manifest(tmp_path)


# -- each night ------------------------------------------------------------------------------------------------


def test_each_night_has_one_backup_once_a_second_folder_is_named(record: Record, tmp_path: Path) -> None:
    folder = record.database.folder
    assert not due(folder, NIGHT)
    assert last_good(folder) is None
    keep_nightly(folder.parent, Nightly(tmp_path / "second", NIGHT - timedelta(hours=12)))
    assert last_good(folder) == NIGHT - timedelta(hours=12)  # so that one that never works is said to be old
    assert back_up_if_due(folder, NIGHT) is not None
    assert back_up_if_due(folder, NIGHT + timedelta(hours=20)) is None
    assert due(folder, NIGHT + timedelta(days=1))
    assert last_good(folder) == NIGHT


def test_a_machine_that_was_off_at_night_makes_it_up_in_the_morning(record: Record, tmp_path: Path) -> None:
    folder = record.database.folder
    keep_nightly(folder.parent, Nightly(tmp_path / "second", NIGHT))
    back_up_if_due(folder, NIGHT - timedelta(hours=8))
    assert due(folder, NIGHT + timedelta(hours=6))


# -- erasure and retention ---------------------------------------------------------------------------------------


def test_who_was_erased_since_does_not_come_back_with_a_backup(record: Record, tmp_path: Path) -> None:
    folder = record.database.folder
    made = make_backup(folder, tmp_path / "second", NIGHT)
    erase_athlete(record, AINO, DAY)
    record.close()
    restore(made, folder, NIGHT, replace_newer=True)
    with closing(opened(tmp_path / "data")) as again:
        assert [a.name for a in again.athletes(DAY)] == ["Bela Birkholz"]
        assert again.sets_on(DAY) == []
    assert list((folder / "raw").glob("*.parquet")) == []


def test_an_erasure_is_known_on_a_new_machine_from_beside_the_backups(record: Record, tmp_path: Path) -> None:
    folder, second = record.database.folder, tmp_path / "second"
    old = make_backup(folder, second, NIGHT)
    erase_athlete(record, AINO, DAY)
    make_backup(folder, second, NIGHT + timedelta(days=1))
    restore(old, tmp_path / "new machine" / "rack-1", NIGHT)
    with closing(opened(tmp_path / "new machine")) as again:
        assert [a.name for a in again.athletes(DAY)] == ["Bela Birkholz"]


def test_raw_samples_give_way_after_two_seasons_and_the_set_stays(record: Record) -> None:
    folder = record.database.folder
    space = raw_space(folder)
    assert (space.files, space.oldest, space.newest) == (1, DAY, DAY)
    assert space.size_bytes == sum(f.stat().st_size for f in (folder / "raw").iterdir())
    assert forget_old_raw(folder, DAY + timedelta(days=730)) == []
    assert len(forget_old_raw(folder, DAY + timedelta(days=731))) == 1
    assert raw_space(folder).files == 0
    assert len(record.sets_on(DAY)) == 1


def test_the_ledger_names_nobody(record: Record, tmp_path: Path) -> None:
    erase_athlete(record, AINO, DAY)
    (line,) = (tmp_path / "data" / "erased.csv").read_text().splitlines()
    own, whom, when = line.split(",")
    assert (len(own), whom, when) == (36, AINO, "2026-10-14")
    assert "Amsel" not in json.dumps(line)
