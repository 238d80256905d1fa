"""The squad day on the screen and on paper: what is said before any name, what staff do, who may read what."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from pypdf import PdfReader
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from station.capture.squad_desk import LOCKS_AFTER, SquadDesk
from station.commands import today_command
from station.commands.rack_program import Look
from station.readiness.squad_values import Place
from station.screens.squad_day_window import LOADS_AGAIN, SquadDayWindow
from station.screens.squad_print import print_page
from station.screens.theme import ScreenGeometry, ThemeName
from station.squad.athletes import TrainingStatus
from station.squad.checkins import ITEM_KEYS, CheckIn, CheckInKind, Pain
from station.store import checkins
from station.store.record import Record
from tests.screens.conftest import LARGE, SMALL
from tests.screens.glance import control_sizes_mm, lettered, text_rows
from tests.screens.test_glance import check_text_boxes
from tests.season import fill_season

DAY = date(2026, 10, 14)
NOW = datetime(2026, 10, 14, 12, 40)  # noqa: DTZ001 - a local time of day
LEFT = Qt.MouseButton.LeftButton
COACH, DOCTOR = "Coach Minke Straten", "Dr. Tomke Weidholz"
HURT, TALKS = "Eskil Rosenborn", "Dagny Moorkamp"


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A season in a folder, to be copied by each test."""
    folder = tmp_path_factory.mktemp("season") / "desk"
    record = opened(folder)
    ids = fill_season(record, DAY, weeks=8)
    by_name = {a.name: a.athlete_id for a in record.athletes(DAY)}
    assert set(by_name.values()) == set(ids)
    hurt = (Pain("hamstring", "left"),)
    for name, pains, talk in ((HURT, hurt, False), (TALKS, (), True)):
        answers = dict.fromkeys(ITEM_KEYS, 3)
        one = CheckIn(
            by_name[name], DAY, CheckInKind.ANSWERED, answers, pains, wants_talk=talk, note="a note"
        )
        checkins.add_check_in(record, one)
    record.close()
    return folder


def opened(folder: Path) -> Record:
    return Record(folder, "desk", lambda: datetime(2026, 10, 14, 5, 45, tzinfo=UTC))


@pytest.fixture
def record(season: Path, tmp_path: Path) -> Iterator[Record]:
    copy = tmp_path / "desk"
    copy.mkdir()
    (copy / "record.sqlite").write_bytes((season / "record.sqlite").read_bytes())
    made = opened(copy)
    yield made
    made.close()


MakeWindow = Callable[..., SquadDayWindow]


@pytest.fixture
def window(qtbot: QtBot, record: Record, tmp_path: Path) -> MakeWindow:
    def make(
        screen: ScreenGeometry = LARGE, theme: ThemeName = "dark", signed: str = COACH
    ) -> SquadDayWindow:
        made = SquadDayWindow(SquadDesk(record, lambda: NOW), theme, screen, tmp_path / "prints")
        qtbot.addWidget(made)
        made.show()
        qtbot.waitExposed(made)
        if signed:
            sign_in(made, signed)
        return made

    return make


PIN = "2468"


def pick(window: SquadDayWindow, name: str) -> None:
    window.staff.setCurrentIndex(window.staff.findData(name))


def sign_in(window: SquadDayWindow, name: str, pin: str = PIN) -> None:
    pick(window, name)
    if window.pin.isVisible():
        window.pin.setText(pin)
        window.pin.returnPressed.emit()


def entry_of(window: SquadDayWindow, name: str):  # type: ignore[no-untyped-def]
    return next(e for e in window.day.list.entries if e.athlete.line.athlete.name == name)


def touch_row(qtbot: QtBot, window: SquadDayWindow, name: str) -> None:
    box = window.rows.row_box(entry_of(window, name).athlete.line.athlete.athlete_id)
    qtbot.mouseClick(window.rows, LEFT, pos=QPoint(20, round(box.center().y())))


def text_of(file: Path) -> str:
    """One page's text, with ligatures and spacing as typed."""
    (page,) = PdfReader(file).pages
    return " ".join(unicodedata.normalize("NFKC", page.extract_text()).split())


def test_the_head_says_the_day_the_open_pain_and_what_chance_alone_would_call(window: MakeWindow) -> None:
    sentences = window().head.sentences()
    assert sentences[0] == "Wednesday 14 October · MD+3 · jump line today"
    assert sentences[1] == "1 open pain or illness"
    # 46 athletes, three measures: 46 * (1 - 0.975**3) = 3.4
    assert sentences[-1] == (
        "With 46 athletes and three measures expect about 3 under talk first or look at by chance."
    )


def test_a_bye_week_stands_beside_the_day(window: MakeWindow, record: Record) -> None:
    row = {"key": "bye", "day": DAY, "kind": "bye", "title": "bye"}
    record.add_rows("match_days", [row])
    assert window().head.sentences()[0] == "Wednesday 14 October · MD+3, bye week · jump line today"


def test_the_list_begins_with_pain_and_the_wish_to_talk(window: MakeWindow) -> None:
    entries = window().day.list.entries
    assert [e.athlete.line.athlete.name for e in entries[:2]] == [HURT, TALKS]
    assert entries[0].place is Place.TALK_FIRST


def test_where_it_hurts_is_read_by_medical_staff_alone(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window()
    sign_in(shown, COACH)
    touch_row(qtbot, shown, HURT)
    seen = " ".join([*shown.detail.words(), *(line.text for line in lettered(shown))])
    assert "hamstring" not in seen
    assert "a note" not in seen
    assert not any(b.isVisible() for b in shown.medical.values())
    sign_in(shown, DOCTOR)
    assert "left hamstring; note: a note" in " ".join(shown.detail.words())


def test_medical_detail_opens_with_a_pin_alone(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window(signed="")
    sign_in(shown, DOCTOR, pin="12")
    assert "A PIN has 4 digits or more." in shown.head.sentences()
    assert not shown.desk.medical(shown.day)
    sign_in(shown, DOCTOR)  # the first one is kept
    assert shown.desk.medical(shown.day)
    pick(shown, COACH)
    assert shown.desk.staff == COACH  # who has none and reads no medical detail needs none
    sign_in(shown, DOCTOR, pin="1357")
    assert f"That is not the PIN of {DOCTOR}. Wait 2 s before the next try." in shown.head.sentences()
    touch_row(qtbot, shown, HURT)
    assert "hamstring" not in " ".join(shown.detail.words())


def test_a_desk_that_nobody_touches_signs_out(window: MakeWindow, monkeypatch: pytest.MonkeyPatch) -> None:
    shown = window()
    sign_in(shown, DOCTOR)
    shown.look_again()
    assert shown.desk.staff == DOCTOR
    monkeypatch.setattr(shown.desk, "_now", lambda: NOW + LOCKS_AFTER)
    shown.look_again()
    assert shown.desk.staff is None
    assert shown.staff.currentData() == ""


def test_an_entry_is_taken_and_closed_by_somebody_and_sinks(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window(signed="")
    touch_row(qtbot, shown, HURT)
    qtbot.mouseClick(shown.keys["Take"], LEFT)
    assert shown.head.sentences()[-1].startswith("Sign in first")
    sign_in(shown, COACH)
    qtbot.mouseClick(shown.keys["Take"], LEFT)
    entry = entry_of(shown, HURT)
    assert (entry.state, entry.handled.staff, shown.day.list.entries[0]) == ("taken", COACH, entry)
    qtbot.mouseClick(shown.keys["physio"], LEFT)
    entry = entry_of(shown, HURT)
    assert (entry.state, entry.handled.outcome, shown.day.list.entries[-1]) == ("closed", "physio", entry)
    assert shown.head.sentences()[1] == "no open pain or illness"
    assert shown.keys["Open again"].isVisible()
    qtbot.mouseClick(shown.keys["Open again"], LEFT)
    assert shown.day.list.entries[0].athlete.line.athlete.name == HURT


def test_medical_staff_set_a_status_and_let_loads_again(
    qtbot: QtBot, window: MakeWindow, record: Record
) -> None:
    shown = window()
    sign_in(shown, DOCTOR)
    touch_row(qtbot, shown, HURT)
    athlete_id = entry_of(shown, HURT).athlete.line.athlete.athlete_id
    qtbot.mouseClick(shown.medical["Status: modified"], LEFT)
    assert entry_of(shown, HURT).athlete.line.athlete.status is TrainingStatus.MODIFIED
    with record.database.read() as connection:
        assert athlete_id in checkins.held_back(connection, DAY)
    qtbot.mouseClick(shown.medical[LOADS_AGAIN], LEFT)
    with record.database.read() as connection:
        assert checkins.held_back(connection, DAY) == set()


def test_filters_narrow_the_list_and_leave_the_counts(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window()
    rack = shown.filters.boxes["rack"]
    rack.setCurrentIndex(rack.findData("rack 3"))
    assert {e.athlete.line.athlete.group for e in shown.rows.entries()} == {"rack 3"}
    assert 0 < len(shown.rows.entries()) < 10
    assert "With 46 athletes" in shown.head.sentences()[-1]
    for name in ("position", "status", "after match"):
        assert shown.filters.boxes[name].count() >= 2


def test_up_and_down_keys_move_the_choice(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window()
    shown.rows.setFocus()
    for _ in range(2):
        qtbot.keyClick(shown.rows, Qt.Key.Key_Down)
    assert shown.entry() is not None
    assert shown.entry().athlete.line.athlete.name == TALKS
    qtbot.keyClick(shown.rows, Qt.Key.Key_Up)
    assert shown.entry().athlete.line.athlete.name == HURT


def test_a_record_that_changes_nearby_is_taken_over(window: MakeWindow, record: Record) -> None:
    shown = window()
    door = Record(
        record.database.folder.parent / "door", "door", lambda: datetime(2026, 10, 14, 6, tzinfo=UTC)
    )
    somebody = shown.day.list.entries[-1].athlete.line.athlete
    try:
        door.add_athletes([somebody])
        ill = CheckIn(somebody.athlete_id, DAY, CheckInKind.ANSWERED, dict.fromkeys(ITEM_KEYS, 2), ill=True)
        checkins.add_check_in(door, ill)
    finally:
        door.close()
    shown.look_again()
    assert shown.head.sentences()[1] == "2 open pain or illness"


def test_the_page_for_the_meeting_is_one_page_with_all_of_it(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window()
    qtbot.mouseClick(shown.foot["Print"], LEFT)
    words = text_of(next(shown._prints.glob("*staff.pdf")))
    assert "Wednesday 14 October · MD+3" in words
    assert f"{HURT} " in words
    assert "said that something hurts: for medical staff" in words
    assert "expect about 3 under talk first or look at by chance" in words
    assert "hamstring" not in words
    assert all(a.line.athlete.name in words for a in shown.day.athletes)


def test_the_coaches_page_has_no_health_data(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window()
    qtbot.mouseClick(shown.foot["Print for coaches"], LEFT)
    words = text_of(next(shown._prints.glob("*coaches.pdf")))
    for health in (
        "hurts",
        "ill",
        "check-in",
        "talk to somebody",
        "sleep",
        "mood",
        "soreness",
        "of 25",
        "Talk first",
    ):
        assert health not in words.replace("wellness", ""), health
    assert "two measures" in words
    assert all(a.line.athlete.name in words for a in shown.day.athletes)


def test_a_squad_of_120_still_is_one_page(qtbot: QtBot, tmp_path: Path) -> None:
    record = opened(tmp_path / "large")
    fill_season(record, DAY, athletes=120, weeks=4)
    day = SquadDesk(record, lambda: NOW).day()
    record.close()
    words = text_of(print_page(day, NOW, tmp_path / "page.pdf"))
    assert all(a.line.athlete.name in words for a in day.athletes)


@pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
@pytest.mark.parametrize("theme", ["dark", "light"])
def test_everything_is_legible_and_touchable(
    qtbot: QtBot, window: MakeWindow, screen: ScreenGeometry, theme: ThemeName
) -> None:
    shown = window(screen, theme)
    sign_in(shown, DOCTOR)
    touch_row(qtbot, shown, TALKS)
    for row in text_rows(shown, shown.look.metrics):
        assert row.arc_minutes >= 20
        assert row.contrast >= 7
    for part in (shown.head, shown.detail, shown.rows):
        check_text_boxes(part)
    sizes = list(control_sizes_mm(shown, screen))
    assert [s for s in sizes if min(s[1], s[2]) < 11.9] == []


def test_the_room_is_one_touch_away(window: MakeWindow, qtbot: QtBot) -> None:
    made = window(SMALL)
    with qtbot.waitSignal(made.room_wanted):
        qtbot.mouseClick(made.foot["Room"], LEFT)


def test_the_program_opens_the_room_over_the_same_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[tuple[str, str]] = []

    def run(make: Callable[[ScreenGeometry], SquadDayWindow], _look: Look) -> None:
        made = make(SMALL)
        made.foot["Room"].click()
        made.foot["Roster and plans"].click()
        others = [one for one in QApplication.topLevelWidgets() if one.isVisible()]
        shown.extend((type(one).__name__, one.windowTitle()) for one in others)
        for one in (*others, made):
            one.close()

    monkeypatch.setattr(today_command, "run_window", run)
    today_command.run_today(tmp_path, Look("dark", 10.1, False))
    assert {name for name, _ in shown} >= {"RoomWindow", "RosterWindow"}
