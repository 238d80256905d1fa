"""What was handed on comes back the same: export, import into an empty record, export again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import get_args

import numpy as np
import pyarrow as pa
import pytest

from drivers.samples import SampleBlock
from station.squad.roster import RosterChange
from station.store import roster
from station.store.erasure import erase_athlete
from station.store.export_errors import PackageUnreadable
from station.store.export_files import PACKAGE, Format, export
from station.store.export_rows import Span
from station.store.export_source import open_source
from station.store.export_tables import arrow_schema
from station.store.journal import RawJournal
from station.store.package_import import import_package
from station.store.package_read import batches_of, open_package
from station.store.record import Record
from station.store.rows import NewRep, NewSet
from tests.store.squad_record import (
    AINO,
    BELA,
    DAY,
    LIFT,
    Clock,
    add_squad,
    everything_about,
    lift,
    opened,
)

TABLES = ("athletes", "sets", "reps", "sessions", "jumps", "checkins", "raw")
FORMATS: tuple[Format, ...] = get_args(Format)
NOW = datetime(2026, 10, 15, 8, tzinfo=UTC)


def with_gyro(set_id: str, record: Record) -> None:
    """Two parts of raw samples, with rotations and the sensor's own time."""
    rng = np.random.default_rng(7)
    for part in range(2):
        journal = RawJournal(record.database.folder / "raw", set_id)
        at = part * 50 + np.arange(50)
        journal.append(
            SampleBlock(at, at / 200.0, rng.normal(0, 10, (50, 3)), rng.normal(0, 1, (50, 3)), at / 200.1)
        )
        file = journal.finish()
        assert file is not None
        record.add_raw_file(set_id, file.file, file.samples, file.sha256)


def fill(record: Record, clock: Clock) -> None:
    """Two sessions, corrections of every kind, a struck rep, a set of nobody, somebody who has left."""
    add_squad(record)
    everything_about(record, AINO)
    set_id = lift(record, BELA, (0.61, 0.6, 0.58))
    record.correct(
        record.reps_of(set_id)[1].rep_id, "struck", True, "Coach Minke Straten", "caught by the spotter"
    )
    record.correct(set_id, "full_effort", False, "Coach Minke Straten")
    record.add_rows(
        "comments", [{"set_id": set_id, "words": words, "staff": "x"} for words in ("odd", "the bar bent")]
    )
    again = record.born() | {"set_id": set_id, "number": 1, "status": "measured", "engine_version": "0.2.0"}
    times = {"start_time_s": 1.0, "end_time_s": 2.0, "decided_time_s": 2.3, "mean_velocity_m_s": 0.62}
    record.add_rows("reps", [again | times | {"flags": [], "why": ""}])
    record.correct(set_id, "measured_again", "0.2.0", "Coach Minke Straten")
    moved = lift(record, AINO, (0.55,))
    record.correct(moved, "athlete_id", BELA, "Coach Minke Straten")
    lift(record, None, (0.5,))
    clock.now += timedelta(hours=4)
    new = NewSet(
        BELA, False, DAY, 2, LIFT, 80.0, "work", sensor="Bar sensor 1", calibration={"bias_m_s2": [0.01, 0.0, -0.02]},
        sensor_range_m_s2=156.9, usual_range_of_motion_m=0.6, bar_kg=20.0, engine_version="0.1.0",
    )  # fmt: skip
    late = record.begin_set(new)
    record.add_rep(
        late, NewRep(1, "measured", 1.0, 2.0, 2.3, 1 / 3, 0.34, 0.9, 0.61, 0.012, ("short", "a flag"))
    )
    record.add_rep(late, NewRep(2, "not measured", 3.0, 4.0, 4.3, why='a hole, "long"\nand wide'))
    record.end_set(late, "racked")
    with_gyro(late, record)
    left = RosterChange(BELA, "member", False, DAY)
    record.add_rows("roster_changes", roster.change_rows([left]))


@pytest.fixture
def full(tmp_path: Path) -> Path:
    clock = Clock()
    with closing(opened(tmp_path / "from", "rack 1", clock)) as record:
        fill(record, clock)
    return tmp_path / "from"


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Record]:
    record = opened(tmp_path / "into", "desk")
    yield record
    record.close()


def handed_on(root: Path, to: Path, form: Format = "csv", names: tuple[str, ...] = TABLES) -> Path:
    with closing(open_source(root)) as source:
        export(source, names, Span(None, None, DAY), form, to, NOW, pytest.fail)
    return to


def tables(package: Path) -> dict[str, list[dict[str, object]]]:
    return {
        name: pa.Table.from_batches(list(batches_of(part)), arrow_schema(part.sheet)).to_pylist()
        for name, part in open_package(package).items()
    }


@pytest.mark.parametrize("form", FORMATS)
def test_what_was_handed_on_comes_back_the_same(
    full: Path, empty: Record, tmp_path: Path, form: Format
) -> None:
    first = handed_on(full, tmp_path / "first", form)
    import_package(empty, first)
    second = handed_on(tmp_path / "into", tmp_path / "second", form)
    before, after = tables(first), tables(second)
    assert before.keys() == set(TABLES)
    for name in TABLES:
        assert before[name]
        assert after[name] == before[name], name
    with empty.database.read() as connection:
        assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
        query = "SELECT value FROM corrections WHERE field = 'measured_again'"
        assert connection.exec_driver_sql(query).scalars().all() == ['{"to": "0.2.0"}']


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_both_packages_keep_their_own_schema(full: Path, empty: Record, tmp_path: Path, form: Format) -> None:
    """Held to the Frictionless standard by its own library (framework.frictionlessdata.io)."""
    from frictionless import Package, system

    import_package(empty, handed_on(full, tmp_path / "first", form))
    handed_on(tmp_path / "into", tmp_path / "second", form)
    for folder in ("first", "second"):
        with system.use_context(trusted=True):
            report = Package(str(tmp_path / folder / PACKAGE)).validate()
        assert report.valid, report.flatten(["rowNumber", "fieldName", "type", "note"])


def test_formats_tell_the_same(full: Path, tmp_path: Path) -> None:
    csv, parquet, jsonl = (tables(handed_on(full, tmp_path / form, form)) for form in FORMATS)
    assert csv == parquet == jsonl


def test_a_second_time_nothing_comes_in_and_what_was_corrected_here_stays(
    full: Path, empty: Record, tmp_path: Path
) -> None:
    package = handed_on(full, tmp_path / "first")
    first = import_package(empty, package)
    set_id = tables(package)["sets"][0]["set_id"]
    empty.correct(str(set_id), "load_kg", 61.0, "Coach Minke Straten")
    again = import_package(empty, package)
    assert sum(again.new.values()) == 0
    assert again.known["sets"] == first.new["sets"] == 5
    assert again.known["raw"] == first.new["raw"] == 3
    assert tables(handed_on(tmp_path / "into", tmp_path / "second"))["sets"][0]["load_kg"] == 61.0


def test_of_erased_athletes_nothing_is_taken(full: Path, empty: Record, tmp_path: Path) -> None:
    erase_athlete(empty, AINO, DAY)
    taken = import_package(empty, handed_on(full, tmp_path / "first"))
    assert taken.erased["sets"] == 1
    assert taken.erased["jumps"] == taken.erased["checkins"] == taken.erased["athletes"] == 1
    with empty.database.read() as connection:
        for table in ("athletes", "sets", "jumps", "check_ins"):
            rows = connection.exec_driver_sql(f"SELECT * FROM {table}").all()
            assert not any(AINO in map(str, row) for row in rows)
    assert taken.new["raw"] == 2  # of the other athlete's set alone
    assert len(list((empty.database.folder / "raw").glob("*.parquet"))) == 2


def test_names_beside_the_sets_do_where_no_table_of_athletes_is(
    full: Path, empty: Record, tmp_path: Path
) -> None:
    import_package(empty, handed_on(full, tmp_path / "first", names=("sets", "reps")))
    assert {a.name for a in empty.athletes(DAY)} == {"Aino Amselstein", "Bela Birkholz"}


def test_reps_without_their_sets_are_left_out_and_counted(full: Path, empty: Record, tmp_path: Path) -> None:
    taken = import_package(empty, handed_on(full, tmp_path / "first", names=("reps", "raw")))
    assert taken.new["reps"] == taken.new["raw"] == 0
    assert (taken.orphans["reps"], taken.orphans["raw"]) == (10, 3)


def test_a_file_that_is_not_what_was_written_is_refused(full: Path, empty: Record, tmp_path: Path) -> None:
    package = handed_on(full, tmp_path / "first")
    file = package / "sets.csv"
    file.write_text(file.read_text().replace("60", "160", 1))
    with pytest.raises(PackageUnreadable, match="its checksum is another"):
        import_package(empty, package)
    assert empty.athletes(DAY) == []


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ("not json", "no data package"),
        ("[]", "no data package"),
        (json.dumps({"name": "somebody-elses", "resources": []}), "no export of this station"),
        (json.dumps({"name": "bar-speed-record"}), "no data package"),
        (
            json.dumps({"name": "bar-speed-record", "resources": [{"name": "moods", "path": "x"}]}),
            "no table moods",
        ),
    ],
)
def test_what_is_no_package_is_refused_with_a_reason(
    empty: Record, tmp_path: Path, told: str, words: str
) -> None:
    (tmp_path / PACKAGE).write_text(told)
    with pytest.raises(PackageUnreadable, match=words):
        import_package(empty, tmp_path)


def test_a_package_of_another_version_is_refused(full: Path, empty: Record, tmp_path: Path) -> None:
    package = handed_on(full, tmp_path / "first")
    told = json.loads((package / PACKAGE).read_text())
    told["resources"][1]["schema"]["fields"].pop()
    (package / PACKAGE).write_text(json.dumps(told))
    with pytest.raises(PackageUnreadable, match="other columns than in this version"):
        import_package(empty, package)
