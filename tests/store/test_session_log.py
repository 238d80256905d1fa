"""The session log finds what holds now, page by page, newest first; a set opens with everything about it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from station.squad.athletes import Athlete
from station.store import session_log
from station.store.effective import effective_sets, set_row
from station.store.log_filter import LogFilter, Word
from station.store.raw_near import near_raw
from station.store.record import Record
from station.store.rows import NewRep, NewSet
from station.store.session_log import known_lifts, known_racks, log_index, log_page, log_rows
from station.store.set_detail import set_detail
from tests.store.squad_record import AINO, BELA, DAY, LIFT, Clock, add_squad, lift, opened


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = opened(tmp_path)
    add_squad(made)
    yield made
    made.close()


def found(record: Record, asked: LogFilter) -> list[str]:
    """Every set of a filter, page after page."""
    with record.database.read() as connection:
        index = log_index(connection, asked)
        ids = [
            row.set.set_id for page in range(len(index.starts)) for row in log_page(connection, index, page)
        ]
    assert len(ids) == index.sets
    return ids


def correct(record: Record, target: str, field: str, value: object) -> None:
    record.correct(target, field, value, "Coach Straten", "said so")


def test_a_moved_set_is_found_under_its_athlete_of_today_alone(record: Record) -> None:
    first, second = lift(record, AINO), lift(record, AINO)
    correct(record, first, "athlete_id", BELA)
    assert found(record, LogFilter(athlete_id=BELA)) == [first]
    assert found(record, LogFilter(athlete_id=AINO)) == [second]
    correct(record, first, "athlete_id", AINO)
    assert found(record, LogFilter(athlete_id=AINO)) == [second, first]


def test_sets_that_nobody_has_named_are_found_until_somebody_names_them(record: Record) -> None:
    unnamed = lift(record, None)
    lift(record, AINO)
    assert found(record, LogFilter(athlete_id="")) == [unnamed]
    correct(record, unnamed, "athlete_id", BELA)
    assert found(record, LogFilter(athlete_id="")) == []
    correct(record, unnamed, "athlete_id", None)
    assert found(record, LogFilter(athlete_id="")) == [unnamed]


def test_lift_rack_load_and_comment_are_found_as_they_stand_now(record: Record) -> None:
    one, other = lift(record, AINO), lift(record, BELA)
    correct(record, one, "lift", "bench press")
    correct(record, other, "load_kg", 62.5)
    record.add_rows("comments", [{"set_id": other, "words": "Spotter helped 100%", "staff": "c"}])
    assert found(record, LogFilter(lift="bench press")) == [one]
    assert found(record, LogFilter(lift=LIFT)) == [other]
    assert found(record, LogFilter(rack="rack 2")) == []
    assert found(record, LogFilter(words=(Word(load_kg=(62.4, 62.6)),))) == [other]
    assert found(record, LogFilter(words=(Word(text="spotter"),))) == [other]
    assert found(record, LogFilter(words=(Word(text="100%"),))) == [other]
    assert found(record, LogFilter(words=(Word(text="1%0"),))) == []
    assert (
        found(record, LogFilter(words=(Word(text="spotter"), Word(lifts=frozenset({"bench press"}))))) == []
    )
    with record.database.read() as connection:
        assert known_lifts(connection) == [LIFT, "bench press"]
        assert known_racks(connection) == ["rack 1"]


def test_a_comment_taken_back_is_not_found_any_more(record: Record) -> None:
    one = lift(record, AINO)
    record.add_rows("comments", [{"id": "comment-1", "set_id": one, "words": "knocked", "staff": "c"}])
    correct(record, "comment-1", "struck", True)
    assert found(record, LogFilter(words=(Word(text="knocked"),))) == []
    with record.database.read() as connection:
        (row,) = log_rows(connection, [one])
        detail = set_detail(connection, one)
    assert row.comments == 0
    assert detail is not None
    assert [comment.struck for comment in detail.comments] == [True]


def test_a_row_counts_what_counts_and_says_what_does_not(record: Record) -> None:
    set_id = lift(record, AINO, (0.7, 0.9, 0.65))
    record.add_rep(set_id, NewRep(0, "failed", 9.0, 9.5, 9.9, displacement_m=0.2))
    record.add_rep(set_id, NewRep(4, "uncertain", 12, 13, 13.3, 0.5, 0.5, 0.9, 0.6, 0.09, ("clipped",)))
    strange = record.reps_of(set_id)[2]
    assert strange.mean_velocity_m_s == 0.9
    correct(record, strange.rep_id, "struck", True)
    with record.database.read() as connection:
        (row,) = log_rows(connection, [set_id])
    assert row.velocities_m_s == (0.7, 0.65)
    assert (row.struck, row.failed, row.unsure, row.flags) == (1, 1, 1, ("clipped",))


def test_a_set_opens_with_the_curves_that_were_kept_and_all_that_was_corrected(record: Record) -> None:
    new = NewSet(AINO, True, DAY, 1, LIFT, 60.0, "warm-up", sensor="s", engine_version="test")
    set_id = record.begin_set(new)
    time_s, velocity = np.linspace(3.0, 3.8, 9), np.linspace(0.0, 1.0, 9)
    rep = NewRep(1, "measured", 3.0, 3.8, 4.1, 0.7, curve_time_s=time_s, curve_m_s=velocity)
    rep_id = record.add_rep(set_id, rep)
    correct(record, rep_id, "struck", True)
    correct(record, set_id, "load_kg", 62.5)
    with record.database.read() as connection:
        detail = set_detail(connection, set_id)
        assert set_detail(connection, "no such set") is None
    assert detail is not None
    (kept,) = detail.now
    assert kept.curve_m_s == pytest.approx(velocity, abs=1e-6)  # float32
    assert kept.curve_time_s == pytest.approx(time_s, abs=1e-6)
    assert kept.row.struck
    assert (detail.load_then_kg, detail.set.load_kg) == (60.0, 62.5)
    assert [(c.field, c.to, c.staff, c.why) for c in detail.corrections] == [
        ("struck", True, "Coach Straten", "said so"),
        ("load_kg", 62.5, "Coach Straten", "said so"),
    ]


def test_raw_samples_are_found_beside_another_record_and_missed_in_a_sentence(tmp_path: Path) -> None:
    rack, desk = opened(tmp_path), opened(tmp_path, "desk")
    add_squad(rack)
    set_id, without = lift(rack, AINO, raw=True), lift(rack, AINO)
    with rack.database.read() as connection:
        here = near_raw(connection, rack.database.folder, set_id, DAY)
        none = near_raw(connection, rack.database.folder, without, DAY)
    assert here.kept is not None
    assert here.folder == rack.database.folder
    assert "No raw samples of this set are known" in none.why_not
    from station.store.nearby import DESK_TABLES, take_over

    take_over(desk, DESK_TABLES)
    with desk.database.read() as connection:
        beside = near_raw(connection, desk.database.folder, set_id, DAY)
        assert (beside.folder, beside.kept) == (here.folder, here.kept)
        (rack.database.folder / "raw" / here.kept.file).unlink()
        gone = near_raw(connection, desk.database.folder, set_id, DAY)
        old = near_raw(connection, desk.database.folder, set_id, DAY + timedelta(days=800))
    assert gone.kept is None
    assert "are gone" in gone.why_not
    assert "deleted after two seasons" in old.why_not
    rack.close()
    desk.close()


MANY = 3


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    sets=st.lists(
        st.tuples(st.integers(0, 6), st.sampled_from(["a", "b", None]), st.sampled_from([LIFT, "deadlift"])),
        max_size=30,
    ),
    moves=st.lists(st.tuples(st.integers(0, 29), st.sampled_from(["a", "b", None])), max_size=12),
    asked=st.tuples(st.sampled_from([None, "", "a", "b"]), st.sampled_from([None, LIFT, "deadlift"])),
)
def test_pages_of_any_record_are_the_effective_view_filtered_and_in_order(
    tmp_path_factory: pytest.TempPathFactory,
    sets: list[tuple[int, str | None, str]],
    moves: list[tuple[int, str | None]],
    asked: tuple[str | None, str | None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(session_log, "PAGE_SETS", MANY)
    record = Record(
        tmp_path_factory.mktemp("log") / "desk", "rack 1", Clock(datetime(2026, 10, 14, tzinfo=UTC))
    )
    try:
        record.add_athletes([Athlete(key, key, None, "rack 1") for key in "ab"])
        ids = [
            record.begin_set(NewSet(who, True, date(2026, 10, 1 + day), 1, name, 60.0, "work"))
            for day, who, name in sets
        ]
        for place, who in moves:
            if place < len(ids):
                correct(record, ids[place], "athlete_id", who)
        with record.database.read() as connection:
            rows = [set_row(row) for row in connection.execute(effective_sets())]
        athlete, name = asked
        wanted = [
            row
            for row in rows
            if (athlete is None or (row.athlete_id or "") == athlete) and (name is None or row.lift == name)
        ]
        in_order = sorted(wanted, key=lambda row: (row.day, row.set_id), reverse=True)
        assert found(record, LogFilter(athlete_id=athlete, lift=name)) == [row.set_id for row in in_order]
    finally:
        record.close()
