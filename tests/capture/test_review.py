"""The review desk's corrections: each with a name, each to be taken back, none over somebody else's."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from station.capture.desk_sign_in import LOCKS_AFTER
from station.capture.old_beside_new import pair_reps
from station.capture.review_athlete import ReviewAthletes
from station.capture.review_desk import Done, ReviewDesk, ReviewRefused
from station.capture.review_log import LogAsked, ReviewLog
from station.capture.review_set import ReviewSets, look_at_raw
from station.capture.session_sheet import session_sheet
from station.capture.squad_prior import SquadPriors
from station.readiness.prior import SquadPrior
from station.squad.errors import UnknownLift
from station.store.rows import NewRep, RepRow
from tests.review_season import COACH, DAY, LIFT, LIFTED, LONGEST, NOON, a_season, lift_with_raw


class Place:
    """A record with a season, and everything that works with it."""

    def __init__(self, folder: Path) -> None:
        self.now: datetime = NOON
        self.record, self.set_id = a_season(folder / "review", athletes=3, weeks=6)
        self.desk = ReviewDesk(self.record, lambda: self.now)
        self.log = ReviewLog(self.record, lambda: DAY)
        self.sets = ReviewSets(self.record, lambda: DAY)
        self.athletes = ReviewAthletes(self.record, lambda: DAY)

    def found(self, **asked: object) -> list[str]:
        index = self.log.index(LogAsked(**asked))  # type: ignore[arg-type]
        return [line.set_id for page in range(len(index.starts)) for line in self.log.page(index, page)]

    def line(self, set_id: str):  # type: ignore[no-untyped-def]
        (line,) = self.log.lines((set_id,))
        return line

    def rows(self, table: str) -> int:
        with self.record.database.read() as connection:
            return int(connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar_one())


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    made = Place(tmp_path)
    assert made.desk.signed.sign_in(COACH) == ""
    yield made
    made.record.close()


def test_nothing_is_corrected_without_a_name_nor_by_one_who_has_left(place: Place) -> None:
    place.now += LOCKS_AFTER
    assert place.desk.signed.lock_when_idle()
    with pytest.raises(ReviewRefused, match="Sign in first"):
        place.desk.move([place.set_id], "athlete-000", "x", "")
    assert place.rows("corrections") == 0


def test_a_strange_rep_is_struck_with_who_and_why_and_restored(place: Place) -> None:
    strange = place.sets.open(place.set_id).reps[2]
    before = place.line(place.set_id).best_m_s
    done = place.desk.strike([strange.rep_id], place.set_id, True, "caught by the spotter")
    assert done == Done("1 rep struck out", "1 rep struck out")
    rep = place.sets.open(place.set_id).reps[2]
    assert rep.struck
    assert COACH in rep.words
    assert "caught by the spotter" in rep.words
    assert place.line(place.set_id).best_m_s == pytest.approx(LIFTED.mean_velocities_m_s[0], abs=0.05)
    assert place.desk.undo().words == "Taken back: 1 rep struck out"
    assert place.line(place.set_id).best_m_s == before
    assert place.line(place.set_id).marks == ()
    assert place.rows("corrections") == 2


def test_several_sets_are_moved_in_one_step_and_taken_back_in_one(place: Place) -> None:
    three = place.found(athlete_id="athlete-000")[:3]
    done = place.desk.move(three, "athlete-001", "Bela", "lifted as the athlete before")
    assert done.words == "3 sets moved to Bela"
    assert set(three) <= set(place.found(athlete_id="athlete-001"))
    place.desk.undo()
    assert place.found(athlete_id="athlete-000")[:3] == three
    assert not set(three) & set(place.found(athlete_id="athlete-001"))


def test_what_is_so_already_is_not_written_again(place: Place) -> None:
    three = place.found(athlete_id="athlete-000")[:3]
    done = place.desk.relabel(three, "Back Squat", "")
    assert done.words.startswith("Nothing to change")
    assert place.rows("corrections") == 0


def test_an_unknown_lift_and_a_load_of_nothing_are_refused(place: Place) -> None:
    with pytest.raises(UnknownLift):
        place.desk.relabel([place.set_id], "cartwheel", "")
    with pytest.raises(ReviewRefused, match="between 0 and"):
        place.desk.change_load([place.set_id], -5.0, "-5 kg", "")
    with pytest.raises(ReviewRefused, match="1 to 1000"):
        place.desk.comment([place.set_id], "  ")


def test_undo_leaves_alone_what_somebody_else_has_corrected_since(place: Place) -> None:
    one, other = place.found(athlete_id="athlete-000")[:2]
    place.desk.change_load([one, other], 62.5, "62.5 kg", "the bar held 62.5")
    place.record.correct(one, "load_kg", 65.0, "Dr. Tomke Weidholz")
    done = place.desk.undo()
    assert "1 corrected by somebody else since, left as it is" in done.words
    assert place.line(one).load_kg == 65.0
    assert place.line(other).load_kg != 62.5


def test_a_comment_stands_in_log_and_search_until_it_is_taken_back(place: Place) -> None:
    place.desk.comment([place.set_id], "exam week")
    assert place.found(search="exam") == [place.set_id]
    review = place.sets.open(place.set_id)
    assert [words for _, words, _ in review.comments] == ["exam week"]
    place.desk.undo()
    assert place.found(search="exam") == []
    assert place.sets.open(place.set_id).comments == ()
    assert place.rows("comments") == 1


def test_a_search_goes_by_name_shirt_lift_rack_load_and_day(place: Place) -> None:
    assert place.found(search="QUELLMANN") == [place.set_id]
    assert place.found(search="112") == [place.set_id]
    assert place.found(search="squat rack 95 2026-10-14") == [place.set_id]
    assert place.found(search="2026-09", athlete_id="long") == []
    september = place.found(search="2026-09 60")
    assert len(september) == 3 * 5  # three athletes, five Wednesdays
    assert place.found(search="209.4", unit="lb") == [place.set_id]  # 95 kg
    assert place.found(search="nobody is called so") == []
    assert place.found(days_back=0, lift="deadlift") == []


def test_measured_again_by_the_same_engine_finds_the_same(place: Place) -> None:
    beside = place.sets.beside(place.set_id, look_at_raw(place.sets.open(place.set_id).raw))
    assert beside.same
    assert len(beside.pairs) == len(LIFTED.mean_velocities_m_s)


def test_an_accepted_measurement_holds_the_old_stays_and_comes_back(place: Place) -> None:
    set_id = lift_with_raw(place.record, "athlete-000", slower_m_s=0.05)
    strange = place.sets.open(set_id).reps[2]
    place.desk.strike([strange.rep_id], set_id, True, "caught by the spotter")
    rows = place.rows("reps")
    then = place.line(set_id).best_m_s
    review = place.sets.open(set_id)
    beside = place.sets.beside(set_id, look_at_raw(review.raw))
    assert not beside.same
    assert [p.now_m_s - p.then_m_s for p in beside.pairs if p.now_m_s and p.then_m_s] == pytest.approx(
        [0.05] * 4
    )
    place.desk.accept(set_id, beside.seen.reps, "a better engine")
    line = place.line(set_id)
    assert (line.best_m_s, line.best_m_s) == (pytest.approx(then + 0.05), beside.best_now_m_s)
    assert (line.reps, "1 struck" in line.marks, "measured again" in line.marks) == (3, True, True)
    # At the rack and on paper stand the reps that hold; the old ones stay in the record.
    assert [rep.struck for rep in place.record.reps_of(set_id)] == [False, False, True, False]
    assert place.rows("reps") == rows + 4
    # Every other reader sees the same: the fastest counted rep is the history's observation.
    newest = place.record.observations("athlete-000", LIFT)[-1]
    assert newest.mean_velocity_m_s == line.best_m_s
    with pytest.raises(ReviewRefused, match="holds already"):
        place.desk.accept(set_id, beside.seen.reps, "")
    place.desk.undo()
    assert max(rep.mean_velocity_m_s or 0.0 for rep in place.record.reps_of(set_id) if not rep.struck) == then
    assert place.line(set_id).best_m_s == then
    assert "measured again" not in place.line(set_id).marks
    assert [rep.struck for rep in place.sets.open(set_id).reps] == [False, False, True, False]
    place.desk.accept(set_id, beside.seen.reps, "after all")
    assert place.line(set_id).best_m_s == line.best_m_s


def test_two_desks_that_accept_the_same_measurement_count_no_rep_twice(place: Place) -> None:
    set_id = lift_with_raw(place.record, "athlete-000", slower_m_s=0.05)
    found = look_at_raw(place.sets.open(set_id).raw).reps
    place.desk.accept(set_id, found, "")
    before = place.rows("reps")
    other = ReviewDesk(place.record, lambda: NOON)
    other.signed.sign_in(COACH)
    with pytest.raises(ReviewRefused):
        other.accept(set_id, found, "")
    assert (place.rows("reps"), place.line(set_id).reps) == (before, 4)


def test_damaged_raw_samples_are_said_and_change_nothing(place: Place) -> None:
    (file,) = _raw_files(place)
    whole = file.read_bytes()
    file.write_bytes(whole[:100] + bytes([whole[100] ^ 1]) + whole[101:])
    seen = look_at_raw(place.sets.open(place.set_id).raw)
    assert "checksum" in seen.trouble
    assert seen.reps == ()


def _raw_files(place: Place) -> list[Path]:
    return sorted(place.record.database.folder.parent.glob("*/raw/*.parquet"))


def _row(number: int, start_s: float) -> RepRow:
    figures = (0.6, None, None, 0.6, 0.01)
    return RepRow(f"r{number}", "s", number, "measured", False, start_s, start_s + 1, 0.0, *figures, (), "")


def test_reps_are_paired_by_when_they_happened_whatever_the_clocks_say() -> None:
    old = [_row(1, 500.0), _row(2, 503.1), _row(3, 506.0)]
    new = [
        NewRep(n, "measured", at, at + 1, at + 1.3, 0.6) for n, at in enumerate((2.0, 12.05, 15.1, 18.02), 1)
    ]
    pairs = [(None if rep is None else rep.number, at) for rep, at in pair_reps(old, new)]
    assert pairs == [(None, 0), (1, 1), (2, 2), (3, 3)]
    assert pair_reps([], new[:1]) == [(None, 0)]
    assert [at for _, at in pair_reps(old, [])] == [None, None, None]


def test_an_athletes_season_has_points_lines_matches_and_says_what_is_missing(place: Place) -> None:
    season = place.athletes.season("athlete-000")
    assert season.lift == LIFT
    assert len(season.warmups) == len(season.one_rm) == 7
    assert all(one.low_kg < one.kg < one.high_kg for one in season.one_rm)
    assert len(season.jumps) == 14
    assert [(DAY - day).days for day in season.matches] == list(range(3 + 7 * 5, 0, -7))
    assert season.now is not None
    assert season.now.line.slope_m_s_per_kg < 0
    assert season.missing == ()
    alone = place.athletes.season("long", "deadlift")
    assert alone.name == f"{LONGEST} (112)"
    assert alone.missing == (
        "No warm-up set of this lift is in the record of this season.",
        "No jumps this season.",
    )


def test_another_bar_is_marked_in_the_season(place: Place) -> None:
    third = place.athletes.season("athlete-000").warmups[3].day
    for set_id in place.found(athlete_id="athlete-000"):
        if place.line(set_id).day >= third:
            place.record.correct(set_id, "bar_kg", 15.0, COACH)
    assert place.athletes.season("athlete-000").changed == (third,)


def test_the_estimate_of_a_day_is_what_was_known_on_that_day(place: Place) -> None:
    first_three = place.athletes.season("athlete-000").one_rm[:3]
    for set_id in place.found(athlete_id="athlete-000")[:3]:
        place.record.correct(set_id, "load_kg", 300.0, COACH)  # today's sets, absurdly
    assert place.athletes.season("athlete-000").one_rm[:3] == first_three


def test_what_the_squad_teaches_is_learned_again_only_when_an_earlier_set_is_another(place: Place) -> None:
    priors = SquadPriors()

    def learned() -> SquadPrior:
        with place.record.database.read() as connection:
            return priors.prior(connection, LIFT, DAY, {})

    before = learned()
    lift_with_raw(place.record, "athlete-000")  # today's: no day before is another
    assert learned() is before
    earlier = place.found(athlete_id="athlete-000")[-1]
    place.desk.relabel([earlier], "bench press", "")
    assert learned() is not before


def test_on_paper_an_own_velocity_at_the_maximum_counts_as_at_the_rack(place: Place) -> None:
    def estimated_kg(velocity_m_s: float) -> float:
        target = {"athlete_id": "athlete-000", "lift": LIFT, "velocity_at_1rm_m_s": velocity_m_s}
        place.record.add_rows("lift_targets", [target])
        (one,) = session_sheet(place.record, DAY, "athlete-000").athletes[0].lifts
        assert one.one_rm_kg is not None
        at_the_desk = place.athletes.season("athlete-000").one_rm[-1]
        assert one.one_rm_kg == pytest.approx((at_the_desk.low_kg, at_the_desk.kg, at_the_desk.high_kg))
        return one.one_rm_kg[1]

    assert estimated_kg(0.40) < estimated_kg(0.25)
