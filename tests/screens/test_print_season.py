"""A session and a season on paper, read back by a PDF library: figures, units, cautions, nothing of health."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pypdf
import pytest
from typer.testing import CliRunner

from station.capture.review_athlete import ReviewAthletes
from station.capture.session_sheet import session_sheet
from station.commands.app import app
from station.screens.a4_pdf import PrintFailed
from station.screens.season_print import print_season
from station.screens.session_print import print_session
from station.store.record import Record
from tests.season import LIFT, fill_season

DAY = date(2026, 10, 14)
NOW = datetime(2026, 10, 14, 17, 5, tzinfo=UTC)


def born() -> datetime:
    return datetime(2026, 10, 14, 15, tzinfo=UTC)


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    made = Record(tmp_path_factory.mktemp("data") / "desk", "desk", born)
    ids = fill_season(made, DAY, athletes=5, weeks=16)
    first = next(row for row in made_sets(made) if row.athlete_id == ids[0])
    made.correct(made.reps_of(first.set_id)[1].rep_id, "struck", True, "Coach Minke Straten", "caught")
    made.correct(first.set_id, "full_effort", False, "Coach Minke Straten")
    decision = {"sentence": "Ease to 85 kg: slower than usual.", "decision": "keep plan", "load_kg": 90.0}
    made.decide(first.set_id, decision | {"staff": "Coach Minke Straten"})
    yield made
    made.close()


def made_sets(record: Record) -> list:  # type: ignore[type-arg]
    from station.store import effective

    with record.database.read() as connection:
        return effective.sets_on(connection, DAY)


def read(file: Path) -> str:
    """The words of all pages, as a reader copies them out."""
    with pypdf.PdfReader(file) as reader:
        for page in reader.pages:
            assert round(float(page.mediabox.width)) == 595  # A4 in points (ISO 216)
            assert round(float(page.mediabox.height)) == 842
        return " ".join(" ".join(page.extract_text().split()) for page in reader.pages)


def test_a_session_has_every_athlete_set_rep_and_decision(record: Record, tmp_path: Path) -> None:
    sheet = session_sheet(record, DAY)
    words = read(print_session(sheet, tmp_path / "session.pdf", NOW))
    assert "Session of 14 October 2026, MD+3" in words
    for athlete in sheet.athletes:
        assert athlete.name in words
    struck = [
        rep
        for one in sheet.athletes
        for lift in one.lifts
        for _, reps in lift.sets
        for rep in reps
        if rep.struck
    ]
    assert f"({struck[0].mean_velocity_m_s:.2f} struck)" in words
    assert "not full effort" in words
    assert "Decided: keep plan, 90 kg (Coach Minke Straten)." in words
    assert "60 kg" in words
    assert "m/s" in words


def test_the_verdict_on_paper_is_that_of_the_day(record: Record) -> None:
    second = session_sheet(record, DAY, "athlete-001").athletes[0]
    (one,) = second.lifts
    assert one.usual is not None
    assert one.usual.sessions >= 3
    best = max(r.mean_velocity_m_s or 0.0 for r in one.sets[0][1])
    assert one.difference_m_s == pytest.approx(best - one.usual.expected_m_s)


def test_every_page_bears_the_caution_and_when_it_was_printed(record: Record, tmp_path: Path) -> None:
    file = print_session(session_sheet(record, DAY), tmp_path / "session.pdf", NOW)
    with pypdf.PdfReader(file) as reader:
        assert len(reader.pages) > 1
        for n, page in enumerate(reader.pages, 1):
            words = " ".join(page.extract_text().split())
            assert "neither a diagnosis, nor a forecast of injury, nor medical clearance" in words
            assert f"Page {n}." in words
            assert "17:05" in words


def test_no_answer_of_a_check_in_stands_on_either(record: Record, tmp_path: Path) -> None:
    session = read(print_session(session_sheet(record, DAY), tmp_path / "a.pdf", NOW))
    season = read(
        print_season(ReviewAthletes(record, lambda: DAY).season("athlete-000"), tmp_path / "b.pdf", NOW)
    )
    for words in (session, season):
        assert not any(word in words.casefold() for word in ("fatigue", "soreness", "mood", "hurts"))


def test_one_athlete_alone_can_be_printed(record: Record, tmp_path: Path) -> None:
    sheet = session_sheet(record, DAY, "athlete-001")
    assert len(sheet.athletes) == 1
    assert "1 athlete;" in read(print_session(sheet, tmp_path / "one.pdf", NOW))


def test_a_season_has_its_charts_units_and_what_is_an_estimate(record: Record, tmp_path: Path) -> None:
    season = ReviewAthletes(record, lambda: DAY).season("athlete-001")
    words = read(print_season(season, tmp_path / "season.pdf", NOW))
    for part in (
        f"{LIFT}, {season.first:%d %b %Y} to 14 Oct 2026",
        "Warm-up speed at 60 kg, m/s",
        "Estimated one-repetition maximum, kg",
        "not permission to try it",
        "Countermovement jump, mean of the day's trials, cm",
        "Load and velocity",
        "Wedges at the foot are matches",
        "0.75 m/s",
        "Strength over the last" if season.trend and season.trend.change is not None else "cannot be said",
    ):
        assert part in words, part


def test_pounds_are_written_where_pounds_are_asked_for(record: Record, tmp_path: Path) -> None:
    season = ReviewAthletes(record, lambda: DAY).season("athlete-001")
    words = read(print_season(season, tmp_path / "season.pdf", NOW, "lb"))
    assert "Warm-up speed at 132" in words  # 60 kg
    assert "Estimated one-repetition maximum, lb" in words
    assert " kg" not in words


def test_an_empty_season_says_why_there_is_nothing(record: Record, tmp_path: Path) -> None:
    season = ReviewAthletes(record, lambda: DAY).season("athlete-001", "bench press")
    assert "No warm-up set of this lift" in read(print_season(season, tmp_path / "season.pdf", NOW))


def test_a_folder_that_cannot_be_written_is_said(record: Record, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(PrintFailed, match="cannot be written"):
        print_session(session_sheet(record, DAY), tmp_path / "file" / "session.pdf", NOW)


def test_the_commands_write_both(record: Record, tmp_path: Path) -> None:
    root, runner = record.database.folder.parent, CliRunner()
    done = runner.invoke(
        app, ["print", "session", "--day", str(DAY), "--to", str(tmp_path / "s.pdf"), "--data", str(root)]
    )
    assert done.exit_code == 0, done.output
    assert "Session of 14 October 2026" in read(tmp_path / "s.pdf")
    done = runner.invoke(
        app, ["print", "athlete", "athlete-001", "--to", str(tmp_path / "a.pdf"), "--data", str(root)]
    )
    assert done.exit_code == 0, done.output
    assert LIFT in read(tmp_path / "a.pdf")
    nothing = runner.invoke(app, ["print", "session", "--day", "2020-01-01", "--data", str(root)])
    assert nothing.exit_code == 1
    assert "nothing was lifted on 2020-01-01" in nothing.stderr
