"""The squad day's rules on the screen, few, visible, adjustable; and the day on 10 inches, one thing at a time."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from station.capture.squad_desk import SquadDesk
from station.readiness.rules_adjusted import FIGURES
from station.readiness.squad_rules import SquadRules
from station.readiness.squad_values import Place
from station.screens.squad_day_window import SquadDayWindow
from station.screens.squad_wording import reason_words, who_words
from station.screens.theme import ScreenGeometry, ThemeName
from station.store.record import Record
from tests.screens.conftest import LARGE, SMALL
from tests.screens.glance import control_sizes_mm, lettered, text_rows
from tests.screens.test_glance import check_text_boxes
from tests.screens.test_squad_day import (
    COACH,
    DOCTOR,
    HURT,
    NOW,
    TALKS,
    MakeWindow,
    entry_of,
    sign_in,
    touch_row,
)
from tests.screens.test_squad_day import record as record
from tests.screens.test_squad_day import season as season
from tests.screens.test_squad_day import window as window

LEFT = Qt.MouseButton.LeftButton


def expected(window: SquadDayWindow) -> str:
    return next(words for words in window.head.sentences() if "by chance" in words)


def activate(qtbot: QtBot, window: SquadDayWindow) -> None:
    """Shortcuts belong to the window in front."""
    with qtbot.waitActive(window):
        window.activateWindow()


def opened_rules(qtbot: QtBot, window: SquadDayWindow, staff: str = COACH) -> None:
    sign_in(window, staff)
    qtbot.mouseClick(window.foot["Rules"], LEFT)
    assert window.rules_page.isVisible()


def test_a_rule_is_changed_with_one_touch_and_the_expected_false_calls_go_with_it(
    qtbot: QtBot, window: MakeWindow
) -> None:
    shown = window()
    opened_rules(qtbot, shown)
    before = [e.place for e in shown.day.list.entries].count(Place.LOOK_AT)
    assert "expect about 3 " in expected(shown)
    qtbot.mouseClick(shown.rules_page.steps["below_chance", 1], LEFT)
    # 46 * (1 - 0.95**3) = 6.6
    assert "expect about 7 " in expected(shown)
    assert "a chance under 5 %" in " ".join(shown.rules_page.words())
    assert [e.place for e in shown.day.list.entries].count(Place.LOOK_AT) > before
    assert not shown.rules_page.steps["below_chance", 1].isEnabled()  # the last step


def test_rules_hold_at_every_desk_and_who_changed_them_is_kept(
    qtbot: QtBot, window: MakeWindow, record: Record
) -> None:
    shown = window()
    opened_rules(qtbot, shown)
    qtbot.mouseClick(shown.rules_page.steps["talk_from", -1], LEFT)
    again = SquadDesk(record, lambda: NOW)
    assert again.day().list.rules == SquadRules(talk_from=1) == again.rules
    with record.database.read() as connection:
        (staff,) = connection.exec_driver_sql("SELECT staff FROM squad_rules").scalars()
    assert staff == COACH


def test_a_change_is_taken_back_and_the_delivered_rules_are_one_touch_away(
    qtbot: QtBot, window: MakeWindow
) -> None:
    shown = window()
    opened_rules(qtbot, shown)
    page = shown.rules_page
    qtbot.mouseClick(page.steps["open_days", 1], LEFT)
    qtbot.mouseClick(page.steps["due jump", -1], LEFT)
    changed = shown.desk.rules
    qtbot.mouseClick(page.keys["As delivered"], LEFT)
    assert shown.desk.rules == SquadRules()
    qtbot.mouseClick(page.keys["Undo"], LEFT)
    assert shown.desk.rules == changed
    for _ in range(3):
        qtbot.mouseClick(page.keys["Undo"], LEFT)
    assert shown.desk.rules == SquadRules()


def test_nobody_changes_rules_without_a_name(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window(signed="")
    qtbot.mouseClick(shown.foot["Rules"], LEFT)
    qtbot.mouseClick(shown.rules_page.steps["below_chance", 1], LEFT)
    assert shown.desk.rules == SquadRules()
    assert "Sign in first: rules are changed by somebody." in shown.head.sentences()


def test_rules_are_changed_and_left_by_keys_alone(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window()
    activate(qtbot, shown)
    opened_rules(qtbot, shown)
    button = shown.rules_page.steps["counts_days", 1]
    button.setFocus(Qt.FocusReason.TabFocusReason)
    qtbot.keyClick(button, Qt.Key.Key_Space)
    assert shown.desk.rules.counts_days == 1
    qtbot.keyClick(shown, Qt.Key.Key_Escape)
    assert not shown.rules_page.isVisible()
    assert shown.rows.isVisible()


@pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
@pytest.mark.parametrize("theme", ["dark", "light"])
def test_the_rules_are_legible_whole_and_touchable(
    qtbot: QtBot, window: MakeWindow, screen: ScreenGeometry, theme: ThemeName
) -> None:
    shown = window(screen, theme)
    opened_rules(qtbot, shown)
    for figure in FIGURES:  # the widest words of each
        for step in figure.steps:
            shown.rules_page.show_rules(figure.put(SquadRules(), step))
            assert [line.text for line in lettered(shown.rules_page) if not line.complete] == []
    check_text_boxes(shown.rules_page)
    for row in text_rows(shown, shown.look.metrics):
        assert row.arc_minutes >= 20
        assert row.contrast >= 7
    assert [s for s in control_sizes_mm(shown, screen) if min(s[1], s[2]) < 11.9] == []


# -- ten inches ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("staff", [COACH, DOCTOR])
def test_on_ten_inches_everything_known_of_an_athlete_has_room(
    qtbot: QtBot, window: MakeWindow, staff: str
) -> None:
    shown = window(SMALL)
    sign_in(shown, staff)
    for name in (HURT, TALKS):
        touch_row(qtbot, shown, name)
        assert not shown.area.isVisible()
        painted = " ".join(line.text for line in lettered(shown.detail))
        assert all(words in painted for words in shown.detail.words())
        foot = next(iter(shown.foot.values())).geometry().top()
        assert shown.entry_keys.geometry().bottom() < foot
        qtbot.mouseClick(shown.back, LEFT)
        assert shown.area.isVisible()
        assert not shown.detail.isVisible()


def test_on_ten_inches_the_list_has_the_whole_width_and_names_and_single_reasons_are_whole(
    window: MakeWindow,
) -> None:
    shown = window(SMALL)
    assert shown.area.width() > 0.9 * shown.width()
    painted = " ".join(line.text for line in lettered(shown.rows))
    single = [
        e
        for e in shown.rows.entries()
        if e.place in (Place.TALK_FIRST, Place.LOOK_AT) and len(e.reasons) == 1
    ]
    assert len(single) >= 2
    assert [e for e in single if reason_words(e) not in painted or who_words(e) not in painted] == []


def test_on_ten_inches_keys_alone_go_through_the_athletes(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window(SMALL)
    activate(qtbot, shown)
    shown.rows.setFocus()
    qtbot.keyClick(shown.rows, Qt.Key.Key_Down)
    assert shown.entry() == entry_of(shown, HURT)
    qtbot.keyClick(shown, Qt.Key.Key_PageDown)
    assert shown.entry() == entry_of(shown, TALKS)
    qtbot.keyClick(shown, Qt.Key.Key_Escape)
    assert shown.entry() is None
    assert shown.rows.hasFocus()
    qtbot.keyClick(shown.rows, Qt.Key.Key_Up)  # from where one was
    assert shown.entry() == entry_of(shown, HURT)


def test_entries_are_taken_on_ten_inches_as_on_a_large_screen(
    qtbot: QtBot, window: MakeWindow, tmp_path: Path
) -> None:
    shown = window(SMALL)
    sign_in(shown, COACH)
    touch_row(qtbot, shown, TALKS)
    qtbot.mouseClick(shown.keys["Take"], LEFT)
    assert entry_of(shown, TALKS).state == "taken"
    assert "taken by Coach Minke Straten" in " ".join(shown.detail.words())
