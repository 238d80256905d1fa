"""An erased athlete is gone from every table, file and neighbour, and is refused whenever they arrive again."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text

from station.store import effective, nearby
from station.store.erased_ledger import Erasure, read_ledger, write_ledger
from station.store.erasure import erase_athlete, take_up
from station.store.errors import FolderNotWritable
from station.store.record import ROW_TABLES, Record
from tests.store.squad_record import AINO, BELA, DAY, LIFT, add_squad, everything_about, lift, opened


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    with closing(opened(tmp_path / "data", "desk")) as made:
        add_squad(made)
        everything_about(made, AINO)
        lift(made, BELA, (0.55,), raw=True)
        yield made


def counts(record: Record) -> dict[str, int]:
    with record.database.read() as connection:
        found = {t: connection.execute(text(f"SELECT count(*) FROM {t}")).scalar_one() for t in ROW_TABLES}
    return {table: n for table, n in found.items() if n}


def set_ids(record: Record) -> list[str]:
    with record.database.read() as connection:
        return [row.set_id for row in effective.sets_on(connection, DAY)]


def sound(record: Record) -> bool:
    with record.database.read() as connection:
        whole = connection.execute(text("PRAGMA integrity_check")).scalar_one() == "ok"
        return whole and connection.execute(text("PRAGMA foreign_key_check")).all() == []


def test_nothing_is_left_but_a_uuid_and_a_date(record: Record) -> None:
    erase_athlete(record, AINO, DAY)
    assert counts(record) == {
        "athletes": 1, "plans": 1, "sets": 1, "reps": 1, "set_ends": 1, "raw_files": 1, "erasures": 1
    }  # fmt: skip
    with record.database.read() as connection:
        columns = [row[1] for row in connection.execute(text("PRAGMA table_info(erasures)"))]
        kept = connection.execute(text("SELECT athlete_id, day FROM erasures")).one()
    assert columns == ["id", "athlete_id", "day"]
    assert tuple(kept) == (AINO, "2026-10-14")
    assert sound(record)


def test_not_a_letter_of_it_is_left_in_the_files(record: Record) -> None:
    folder = record.database.folder

    def legible() -> list[str]:
        data = b"".join(file.read_bytes() for file in folder.rglob("record.sqlite*"))
        return [
            words
            for words in ("Amsel", "Amselstein", "slept in a tent", "hamstring")
            if words.encode() in data
        ]

    assert len(legible()) == 4
    erase_athlete(record, AINO, DAY)
    assert legible() == []


def test_raw_samples_go_with_their_sets_and_others_stay(record: Record) -> None:
    before = {file.name for file in (record.database.folder / "raw").iterdir()}
    erase_athlete(record, AINO, DAY)
    (row,) = record.sets_on(DAY)
    after = {file.name for file in (record.database.folder / "raw").iterdir()}
    assert len(before) == 2
    assert after == {name for name in before if name.startswith(row.set_id)}


def test_a_set_that_was_moved_goes_with_whose_it_is_now(record: Record) -> None:
    wrongly_hers = lift(record, AINO, (0.61,))
    record.correct(wrongly_hers, "athlete_id", BELA, "Coach Minke Straten")
    really_hers = lift(record, BELA, (0.62,))
    record.correct(really_hers, "athlete_id", AINO, "Coach Minke Straten")
    erase_athlete(record, AINO, DAY)
    kept = set_ids(record)
    assert wrongly_hers in kept
    assert really_hers not in kept
    assert [o.mean_velocity_m_s for o in record.observations(BELA, LIFT)] == [0.55, 0.61]
    assert sound(record)


def test_others_are_untouched(record: Record) -> None:
    before = record.observations(BELA, LIFT)
    erase_athlete(record, AINO, DAY)
    assert record.observations(BELA, LIFT) == before
    assert [p["athlete_id"] for p in record.plans(DAY)] == [BELA]


def test_erasing_twice_changes_nothing(record: Record) -> None:
    assert erase_athlete(record, AINO, DAY).rows > 10
    before = counts(record)
    assert erase_athlete(record, AINO, DAY).rows == 0
    assert counts(record) == before


def test_a_ledger_that_cannot_be_written_leaves_everything_as_it_was(record: Record) -> None:
    (record.database.folder.parent / "erased.csv").mkdir()
    before = counts(record)
    with pytest.raises(FolderNotWritable):
        erase_athlete(record, AINO, DAY)
    assert counts(record) == before


def test_a_line_of_the_ledger_cut_off_by_a_power_cut_is_left_out(tmp_path: Path) -> None:
    write_ledger(tmp_path, [Erasure("e1", AINO, DAY), Erasure("e2", BELA, DAY)])
    file = tmp_path / "erased.csv"
    file.write_text(file.read_text()[:-6])
    assert [one.athlete_id for one in read_ledger(tmp_path)] == [AINO]


# -- between the records of a machine ---------------------------------------------------------------------------


def test_a_neighbour_that_still_has_them_does_not_bring_them_back(record: Record, tmp_path: Path) -> None:
    with closing(opened(tmp_path / "data", "rack 1")) as rack:
        nearby.take_over(rack, nearby.DESK_TABLES)
        erase_athlete(record, AINO, DAY)
        late = lift(rack, AINO, (0.7,))
        nearby.take_over(record, nearby.DESK_TABLES)
        assert [a.name for a in record.athletes(DAY)] == ["Bela Birkholz"]
        assert late not in set_ids(record)
        assert sound(record)


def test_the_neighbour_applies_it_before_it_takes_anything_else(record: Record, tmp_path: Path) -> None:
    with closing(opened(tmp_path / "data", "rack 1")) as rack:
        nearby.take_over(rack)
        lift(rack, AINO, (0.7,), raw=True)
        erase_athlete(record, AINO, DAY)
        nearby.take_over(rack)
        assert [a.name for a in rack.athletes(DAY)] == ["Bela Birkholz"]
        assert len(set_ids(rack)) == 0
        assert list((rack.database.folder / "raw").iterdir()) == []
        assert sound(rack)


def test_a_record_opened_later_applies_it_first(record: Record, tmp_path: Path) -> None:
    with closing(opened(tmp_path / "data", "rack 1")) as rack:
        nearby.take_over(rack)
    erase_athlete(record, AINO, DAY)
    with closing(opened(tmp_path / "data", "rack 1")) as rack:
        assert [a.name for a in rack.athletes(DAY)] == ["Bela Birkholz"]


def test_a_late_correction_that_says_a_set_was_theirs_takes_the_set_away(
    record: Record, tmp_path: Path
) -> None:
    with closing(opened(tmp_path / "data", "rack 1")) as rack:
        nearby.take_over(rack)
        unnamed = lift(rack, None, (0.66,))
        nearby.take_over(record, nearby.DESK_TABLES)
        assert unnamed in set_ids(record)
        erase_athlete(record, AINO, DAY)
        rack.correct(unnamed, "athlete_id", AINO, "Coach Minke Straten")
        nearby.take_over(record, nearby.DESK_TABLES)
        assert unnamed not in set_ids(record)
        assert sound(record)


def test_an_erasure_of_somebody_unknown_here_is_kept_for_when_they_come(tmp_path: Path) -> None:
    with closing(opened(tmp_path / "data", "rack 1")) as rack:
        take_up(rack, [Erasure("0199d000-0000-7000-8000-0000000000ee", AINO, DAY)])
        with closing(opened(tmp_path / "data", "desk")) as desk:
            add_squad(desk)
            nearby.take_over(rack)
        assert [a.name for a in rack.athletes(DAY)] == ["Bela Birkholz"]
