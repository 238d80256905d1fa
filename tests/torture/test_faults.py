"""A disk that refuses, a file that is held, a log cut off: a clear sentence, capture goes on, nothing is lost."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulated_sensor.planned_set import PlannedSet
from station.store import database
from station.store.database import FILE_NAME
from station.store.errors import DatabaseTooNew, RecordLocked
from tests.capture.bench import DAY, WARMUP, Bench, blocks, numbers
from tests.store.squad_record import AINO, BELA, Clock, add_squad, lift, opened

ONE_REP = PlannedSet("back squat", (0.95,), 0.60, longest_pause_s=1.0)


def kept(folder: Path) -> int:
    with closing(sqlite3.connect(folder / FILE_NAME)) as other:
        assert other.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert other.execute("PRAGMA foreign_key_check").fetchall() == []
        return int(other.execute("SELECT count(*) FROM reps").fetchone()[0])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A record with two reps, closed."""
    with closing(opened(tmp_path, "rack 1")) as record:
        add_squad(record)
        lift(record, AINO)
    return tmp_path / "rack-1"


# The kernel's own refusal: no file of this process may grow any further (setrlimit(2), RLIMIT_FSIZE).
FULL_DISK = """
import resource, signal, sys
from pathlib import Path
from simulated_sensor.planned_set import PlannedSet
from tests.capture.bench import Bench, numbers
one_rep = PlannedSet("back squat", (0.95,), 0.60, longest_pause_s=1.0)
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
bench = Bench(Path(sys.argv[1]))
bench.rack.switch_athlete("b")
size = (Path(sys.argv[1]) / "record.sqlite-wal").stat().st_size
resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
try:
    bench.lift(one_rep)
except OSError as error:
    raise SystemExit(f"capture ended: {error}")
shown = bench.view.set.reps if bench.view.set is not None else ()
print("shown while full", len(shown))
print(*[f"{t.kind}: {t.words} {t.advice}" for t in bench.view.troubles], sep="\\n")
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
bench.rack.retry()
print("shown afterwards", len(bench.view.set.reps))
print("disk trouble", any(t.kind == "disk" for t in bench.view.troubles))
bench.rack.close()
bench.record.close()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limit")
def test_a_full_disk_is_said_reps_wait_unpainted_and_all_are_kept_once_there_is_room(tmp_path: Path) -> None:
    words = [sys.executable, "-c", FULL_DISK, str(tmp_path / "data")]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    said = done.stdout
    assert "shown while full 0" in said
    assert "could not be saved" in said
    assert "Free disk space" in said
    assert "shown afterwards 1" in said
    assert "disk trouble False" in said
    assert kept(tmp_path / "data") == 40 + 1  # the bench's history, and the rep that waited


READ_ONLY = """
import os, sys
from pathlib import Path
from datetime import UTC, datetime
from station.store.errors import StoreError
from station.store.record import Record
if os.geteuid() == 0:
    os.setgroups([]), os.setgid(65534), os.setuid(65534)  # root may write anywhere
try:
    Record(Path(sys.argv[1]), "rack 1", lambda: datetime.now(UTC))
except StoreError as error:
    print(type(error).__name__, error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="permissions are kept otherwise there")
def test_a_read_only_folder_is_said_with_what_to_do(folder: Path) -> None:
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    for path in folder.parents:
        if path.stat().st_uid == os.geteuid() and path != Path("/"):
            path.chmod(path.stat().st_mode | 0o055)
    words = [sys.executable, "-c", READ_ONLY, str(folder)]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    folder.chmod(0o755)
    assert "FolderNotWritable cannot write to" in done.stdout
    assert "--data" in done.stdout


def test_a_record_that_another_program_holds_is_said_to_be_held(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_MS", 20)
    with closing(sqlite3.connect(folder / FILE_NAME, isolation_level=None)) as other:
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(RecordLocked, match=r"another program holds .* locked; close it"):
            opened(folder.parent, "rack 1")
    with closing(opened(folder.parent, "rack 1")) as again:
        assert len(again.sets_on(DAY)) == 1


def test_reps_wait_while_another_program_holds_the_record_and_come_when_it_lets_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_MS", 1)
    bench = Bench(tmp_path / "data")
    bench.rack.switch_athlete("a")
    with closing(sqlite3.connect(bench.record.database.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        bench.lift(ONE_REP)
        assert bench.view.set is None or not bench.view.set.reps
        (said,) = [t.words for t in bench.view.troubles if t.kind == "disk"]
        assert "locked" in said
        other.execute("ROLLBACK")
    bench.rack.retry()
    assert len(numbers(bench.view)) == 1
    assert not any(t.kind == "disk" for t in bench.view.troubles)
    bench.rack.close()
    bench.record.close()


def test_a_clock_set_back_an_hour_in_mid_session_mixes_nothing_up(tmp_path: Path) -> None:
    clock = Clock()
    with closing(opened(tmp_path, "rack 1", clock)) as record:
        add_squad(record)
        first = lift(record, AINO)
        clock.now -= timedelta(hours=1)
        second = lift(record, BELA)
        record.correct(second, "athlete_id", AINO, "Coach Minke Straten")
        record.correct(second, "athlete_id", BELA, "Coach Minke Straten")
        assert [(row.set_id, row.athlete_id) for row in record.sets_on(DAY)] == [
            (first, AINO),
            (second, BELA),
        ]


@settings(max_examples=20, deadline=None)
@given(keep=st.floats(0, 1))
def test_a_log_cut_off_anywhere_opens_with_every_earlier_transaction(
    tmp_path_factory: pytest.TempPathFactory, keep: float
) -> None:
    root = tmp_path_factory.mktemp("root")
    record = opened(root, "rack 1")
    add_squad(record)
    lift(record, AINO)
    record.database.empty_log()
    before = kept(record.database.folder)
    lift(record, BELA, (0.5, 0.6, 0.7))
    torn = root / "torn" / "rack-1"
    torn.mkdir(parents=True)
    for part in (FILE_NAME, f"{FILE_NAME}-wal"):
        shutil.copy2(record.database.folder / part, torn / part)
    record.close()
    log = torn / f"{FILE_NAME}-wal"
    log.write_bytes(log.read_bytes()[: int(keep * log.stat().st_size)])
    with closing(opened(root / "torn", "rack 1")) as again:
        found = [row.athlete_id for row in again.sets_on(DAY)]
        assert found[0] == AINO
        lift(again, AINO)  # and it goes on
    assert kept(torn) >= before + 2


def test_a_newer_stations_record_is_left_as_it_is(folder: Path) -> None:
    with closing(sqlite3.connect(folder / FILE_NAME)) as other:
        other.execute("UPDATE alembic_version SET version_num = '9999'")
        other.commit()
    before = (folder / FILE_NAME).read_bytes()
    with pytest.raises(DatabaseTooNew, match="update this station, nothing was changed"):
        opened(folder.parent, "rack 1")
    assert (folder / FILE_NAME).read_bytes() == before


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path / "data")
    yield made
    made.rack.close()
    made.record.close()


def test_whoever_is_erased_while_lifting_is_let_go_and_the_bar_goes_on_measuring(bench: Bench) -> None:
    from station.store.erasure import erase_athlete

    bench.rack.switch_athlete("a")
    stream = list(blocks_of_a_set())
    half = next(n for n, block in enumerate(stream) if feed(bench, block) and len(numbers(bench.view)) == 1)
    erase_athlete(bench.record, "a", DAY)
    bench.rack.news(frozenset(["erasures"]))
    for block in stream[half + 1 :]:
        feed(bench, block)
    assert bench.rack.state.set is not None
    with bench.record.database.read() as connection:
        owners = connection.exec_driver_sql("SELECT athlete_id FROM sets WHERE day = '2026-10-14'").all()
    assert [row[0] for row in owners] == [None]
    assert not any(t.kind == "fault" for t in bench.view.troubles)


def blocks_of_a_set() -> Iterator[object]:
    from simulated_sensor.sessions import make_session_trace

    yield from blocks(make_session_trace([WARMUP], seed=5))


def feed(bench: Bench, block: object) -> bool:
    bench.rack.samples(block)  # type: ignore[arg-type]
    bench.rack.tick(float(block.host_time_s[-1]))  # type: ignore[attr-defined]
    return bench.view.set is not None
