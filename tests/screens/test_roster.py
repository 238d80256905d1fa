"""Roster, plans and calendar at the desk: typed, pasted, imported; nothing is written before it was shown."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from pytestqt.qtbot import QtBot

from station.capture.roster_desk import RosterDesk, TableKind
from station.screens.roster_panes import CHOOSE
from station.screens.roster_window import NOTHING, RosterWindow
from station.screens.theme import ScreenGeometry, ThemeName
from station.squad.athletes import Athlete
from station.squad.calendar import match_day_label
from station.store.record import Record
from tests.screens.conftest import LARGE, SMALL
from tests.screens.glance import control_sizes_mm, lettered, text_rows
from tests.screens.test_glance import check_text_boxes
from tests.season import fill_season

DAY = date(2026, 10, 14)
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = Record(tmp_path / "desk", "desk", lambda: datetime(2026, 10, 14, 8, tzinfo=UTC))
    made.add_athletes([Athlete("a", "Aino Amsel", 7, "rack 1"), Athlete("b", "Bela Birkholz", 8, "rack 2")])
    made.add_rows("matches", [{"day": DAY - timedelta(days=3)}])
    yield made
    made.close()


@pytest.fixture
def window(qtbot: QtBot, record: Record) -> RosterWindow:
    made = RosterWindow(RosterDesk(record, lambda: DAY), "light", LARGE, "Coach Minke Straten")
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    return made


def settle(qtbot: QtBot, window: RosterWindow) -> None:
    qtbot.waitUntil(lambda: not window._soon.isActive())


def paste(qtbot: QtBot, window: RosterWindow, text: str) -> None:
    QGuiApplication.clipboard().setText(text)
    qtbot.mouseClick(window.keys["Paste"], LEFT)
    settle(qtbot, window)


def test_the_record_as_it_stands_changes_nothing(window: RosterWindow) -> None:
    assert window.pane.lines == (NOTHING,)
    assert window.model.rowCount() == 3  # two athletes and a line to type into


def test_a_typed_cell_is_shown_as_a_sentence_and_written_from_its_day(
    qtbot: QtBot, window: RosterWindow, record: Record
) -> None:
    index = window.model.index(0, 1)
    window.model.setData(index, "14")
    settle(qtbot, window)
    assert "Aino Amsel: number 7 → 14" in window.pane.lines
    assert window.model.changed(0, 1)
    assert record.athletes(DAY)[0].shirt_number == 7  # shown, not written
    window.from_day.setText("2026-10-20")
    qtbot.mouseClick(window.keys["Write"], LEFT)
    assert window.pane.lines[0] == "1 changes written"
    assert record.athletes(DAY)[0].shirt_number == 7
    assert record.athletes(date(2026, 10, 20))[0].shirt_number == 14


def test_a_pasted_squad_joins_and_bad_lines_stay_to_be_mended(
    qtbot: QtBot, window: RosterWindow, record: Record
) -> None:
    paste(
        qtbot,
        window,
        "name\tshirt_number\tgroup\nCiro Carstam\t10\track 1\nDagny Dorn\tten\track 1\nAino Amsel\t7\track 2\n",
    )
    assert window.pane.lines[0] == "2 changes, 1 lines cannot be used"
    assert window.pane.lines[1] == "× line 4: shirt_number 'ten' is not a number"
    qtbot.mouseClick(window.keys["Write"], LEFT)
    assert [(a.name, a.group) for a in record.athletes(DAY)] == [
        ("Aino Amsel", "rack 2"),
        ("Bela Birkholz", "rack 2"),
        ("Ciro Carstam", "rack 1"),
    ]
    assert "Ciro Carstam" not in [a.name for a in record.athletes(DAY - timedelta(days=1))]
    assert window.model.rows()[-1]["name"] == "Dagny Dorn"


def test_a_block_of_cells_goes_where_the_choice_is(qtbot: QtBot, window: RosterWindow) -> None:
    window.table.setCurrentIndex(window.model.index(0, 1))
    paste(qtbot, window, "17\track 4\n18\track 5\n")
    assert [(r["shirt_number"], r["group"]) for r in window.model.rows()] == [
        ("17", "rack 4"),
        ("18", "rack 5"),
    ]
    qtbot.mouseClick(window.keys["Start over"], LEFT)
    assert window.pane.lines == (NOTHING,)


def test_somebody_leaves_and_the_history_stays(qtbot: QtBot, window: RosterWindow, record: Record) -> None:
    window.model.setData(window.model.index(1, 4), "no")
    qtbot.mouseClick(window.keys["Write"], LEFT)
    assert [a.name for a in record.athletes(DAY)] == ["Aino Amsel"]
    assert [a.name for a in record.athletes(DAY - timedelta(days=1))] == ["Aino Amsel", "Bela Birkholz"]
    assert window.model.rows()[1]["in squad"] == "no"


def test_plans_for_athletes_and_groups_are_imported_from_csv(
    qtbot: QtBot, window: RosterWindow, record: Record, tmp_path: Path
) -> None:
    qtbot.mouseClick(window.kinds[TableKind.PLANS], LEFT)
    file = tmp_path / "plans.csv"
    file.write_text(
        "who;lift;warmup_load_kg;planned_load_kg;ceiling_kg\nrack 2;back squat;60;90;100\n"
        "Aino Amsel;back squat;50;;\nNobody;back squat;60;;\n",
        encoding="utf-8",
    )
    window.import_file(file)
    settle(qtbot, window)
    assert "× line 3: nobody and no group is called Nobody" in window.pane.lines
    qtbot.mouseClick(window.keys["Write"], LEFT)
    loads = {p["athlete_id"]: (p["warmup_load_kg"], p["ceiling_kg"]) for p in record.plans(DAY)}
    assert loads == {"b": (60.0, 100.0), "a": (50.0, None)}


def test_matches_come_from_an_icalendar_file_and_name_the_days(
    qtbot: QtBot, window: RosterWindow, record: Record, tmp_path: Path
) -> None:
    file = tmp_path / "fixtures.ics"
    file.write_text(
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//invented//EN\r\nBEGIN:VEVENT\r\nUID:round-7\r\n"
        "DTSTAMP:20260901T000000Z\r\nDTSTART:20261018T130000Z\r\nSUMMARY:away\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n",
        encoding="utf-8",
    )
    window.import_file(file)
    assert window.kind is TableKind.CALENDAR
    assert window.pane.lines == (
        "From fixtures.ics",
        "1 changes, 0 lines cannot be used",
        "2026-10-18 match away: new",
    )
    assert date(2026, 10, 18) not in record.matches()
    qtbot.mouseClick(window.keys["Write"], LEFT)
    assert date(2026, 10, 18) in record.matches()
    assert match_day_label(date(2026, 10, 20), record.matches()) == "MD+2"
    file.write_text("no calendar", encoding="utf-8")
    window.import_file(file)
    assert "not an iCalendar file" in window.pane.lines[0]


def test_who_played_is_written_for_the_last_match(qtbot: QtBot, window: RosterWindow, record: Record) -> None:
    qtbot.mouseClick(window.kinds[TableKind.PLAYED], LEFT)
    window.model.setData(window.model.index(0, 1), "yes")
    window.model.setData(window.model.index(1, 1), "no")
    settle(qtbot, window)
    assert window.pane.lines[1:] == (
        "Aino Amsel played on 2026-10-11",
        "Bela Birkholz did not play on 2026-10-11",
    )
    qtbot.mouseClick(window.keys["Write"], LEFT)
    assert window.pane.lines[0] == "2 changes written"
    assert [r["played"] for r in window.model.rows()] == ["yes", "no"]


def test_open_pain_or_illness_is_counted_here_too(qtbot: QtBot, record: Record) -> None:
    made = RosterWindow(RosterDesk(record, lambda: DAY), "light", LARGE, "", lambda: "2 open pain or illness")
    qtbot.addWidget(made)
    assert made.pane.lines[0] == "2 open pain or illness"


def test_a_file_that_cannot_be_used_is_said(window: RosterWindow, tmp_path: Path) -> None:
    window.import_file(tmp_path / "absent.csv")
    assert "absent.csv cannot be read" in window.pane.lines[0]
    latin = tmp_path / "latin.csv"
    latin.write_bytes("name\nJosé\n".encode("latin-1"))
    window.import_file(latin)
    assert window.pane.lines[0] == "latin.csv is not UTF-8 text; save it as CSV UTF-8"


def test_a_day_that_is_none_writes_nothing(qtbot: QtBot, window: RosterWindow, record: Record) -> None:
    window.model.setData(window.model.index(0, 1), "14")
    window.from_day.setText("tomorrow")
    qtbot.mouseClick(window.keys["Write"], LEFT)
    assert window.pane.lines[0].startswith("From which day?")
    assert record.athletes(date(2027, 1, 1))[0].shirt_number == 7


@pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
@pytest.mark.parametrize("theme", ["dark", "light"])
def test_everything_is_legible_and_touchable(
    qtbot: QtBot, record: Record, screen: ScreenGeometry, theme: ThemeName
) -> None:
    made = RosterWindow(RosterDesk(record, lambda: DAY), theme, screen)
    qtbot.addWidget(made)
    made.show()
    paste(qtbot, made, "Ciro Carstam\tten\nDagny Dorn\t9")
    for row in text_rows(made, made.look.metrics):
        assert row.arc_minutes >= 20
        assert row.contrast >= 7
    check_text_boxes(made.pane)
    sizes = [s for s in control_sizes_mm(made, screen) if s[0]]
    assert [s for s in sizes if min(s[1], s[2]) < 11.9] == []


@pytest.fixture
def season(tmp_path: Path) -> Iterator[Record]:
    made = Record(tmp_path / "season", "desk", lambda: datetime(2026, 10, 14, 8, tzinfo=UTC))
    fill_season(made, DAY, athletes=24, weeks=6)
    yield made
    made.close()


@pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
def test_the_chosen_plan_says_what_its_warm_up_load_can_show(
    qtbot: QtBot, season: Record, screen: ScreenGeometry
) -> None:
    made = RosterWindow(RosterDesk(season, lambda: DAY + timedelta(days=7)), "dark", screen)
    qtbot.addWidget(made)
    made.show()
    assert not made.warmup.isVisible()
    qtbot.mouseClick(made.kinds[TableKind.PLANS], LEFT)
    assert made.warmup.lines == (CHOOSE,)
    made.table.setFocus()
    qtbot.keyClick(made.table, Qt.Key.Key_Down)
    at = made.table.currentIndex().row()
    (sixty,) = made.warmup.lines
    assert sixty.startswith("60 kg shows a loss of strength only from")
    assert sixty.endswith("would do.")
    made.model.setData(made.model.index(at, 2), "42.5")
    settle(qtbot, made)
    assert made.warmup.lines[0].startswith("What 42.5 kg shows is not known yet")
    made.model.setData(made.model.index(at, 2), "60")
    made.model.setData(made.model.index(at, 0), "rack 1")
    settle(qtbot, made)
    assert made.warmup.lines[0] == "60 kg shows too little of 3 of 3 athletes."
    assert "".join(line.text for line in lettered(made.warmup)).startswith("60 kg shows too little")
    assert all(line.complete for line in lettered(made.warmup))
    check_text_boxes(made.warmup)
    assert made.warmup.accessibleName() == " ".join(made.warmup.lines)
