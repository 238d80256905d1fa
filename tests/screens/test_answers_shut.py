"""Check-in answers on the squad day: shut until somebody has signed in with a PIN, and again when they have left."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from station.capture.desk_sign_in import SHUT
from station.capture.pin_choice import NOT_VOUCHED
from station.capture.squad_desk import LOCKS_AFTER
from station.readiness.squad_list import squad_list
from station.screens.squad_day_window import NOT_PRINTED, SquadDayWindow
from station.screens.theme import ScreenGeometry, ThemeName
from station.squad.checkins import CheckIn, CheckInKind
from station.store import checkins
from station.store.record import Record
from tests.screens.conftest import LARGE, SMALL
from tests.screens.glance import control_sizes_mm, lettered, text_rows
from tests.screens.test_glance import check_text_boxes
from tests.screens.test_squad_day import (
    COACH,
    DAY,
    DOCTOR,
    HURT,
    NOW,
    PIN,
    TALKS,
    MakeWindow,
    entry_of,
    pick,
    sign_in,
    text_of,
    touch_row,
)
from tests.screens.test_squad_day import record as record
from tests.screens.test_squad_day import season as season
from tests.screens.test_squad_day import window as window

LEFT = Qt.MouseButton.LeftButton
# What only an answer can have put there: said things, the mark of the answers, their figures, who skipped.
FROM_ANSWERS = ("hurts", "feels ill", "talk to somebody", "a note", "self", "of 25", "check-in,", "check-in:")
FROM_ANSWERS += ("skipped", "declined", "does not want", "hamstring", "mood", "soreness", "fatigue")


def everything_said(shown: SquadDayWindow) -> str:
    """All that is painted, spoken or shown as a hint, of the list and of two athletes' detail."""
    said = []
    for name in ("", HURT, TALKS):
        shown.choose(entry_of(shown, name) if name else None)
        said += [line.text for line in lettered(shown)]
        said += shown.detail.words() if name else []
        for widget in (shown, *shown.findChildren(QWidget)):
            if widget is not shown.detail or name:
                said += [widget.accessibleName(), widget.accessibleDescription(), widget.toolTip()]
        said += [box.itemText(n) for box in shown.filters.boxes.values() for n in range(box.count())]
    shown.choose(None)
    return " ".join(said)


def assert_shut(shown: SquadDayWindow) -> None:
    said = everything_said(shown)
    rules = " ".join(shown.desk.rules.in_words())  # figures behind the list, no answers
    assert [word for word in FROM_ANSWERS if word in said.replace(rules, "")] == []
    assert shown.head.sentences()[1] == "1 open pain or illness"
    assert SHUT in shown.head.sentences()
    assert {e.athlete.line.athlete.name for e in shown.day.list.entries[:2]} != {HURT, TALKS}


def assert_open(shown: SquadDayWindow) -> None:
    assert "said that something hurts" in everything_said(shown)
    assert SHUT not in shown.head.sentences()


@pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
def test_nobody_and_whoever_has_no_pin_reads_no_answer(
    window: MakeWindow, record: Record, screen: ScreenGeometry
) -> None:
    athlete_id = record.athletes(DAY)[5].athlete_id
    checkins.add_check_in(record, CheckIn(athlete_id, DAY, CheckInKind.SKIPPED, {}))
    shown = window(screen, signed="")
    assert_shut(shown)
    pick(shown, COACH)
    assert shown.desk.staff == COACH
    assert_shut(shown)
    sign_in(shown, COACH)
    assert_open(shown)


def test_a_pin_typed_with_keys_opens_them_without_reading_the_record_again(
    qtbot: QtBot, window: MakeWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = window(signed="")
    reads = []
    monkeypatch.setattr(shown.desk, "read", lambda: reads.append(1))
    pick(shown, COACH)
    assert shown.pin.isVisible()
    qtbot.keyClicks(shown.pin, PIN)
    qtbot.keyClick(shown.pin, Qt.Key.Key_Return)
    assert not shown.pin.isVisible()
    assert_open(shown)
    pick(shown, "")
    assert_shut(shown)
    assert reads == []


def test_only_the_list_that_is_shown_is_made(window: MakeWindow, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[int] = []
    monkeypatch.setattr("station.capture.squad_read.squad_list", counted(made))
    shown = window(signed="")
    assert len(made) == 1
    shown.choose(None)
    assert len(made) == 1


def counted(made: list[int]):  # type: ignore[no-untyped-def]
    def counting(*args):  # type: ignore[no-untyped-def]
        made.append(1)
        return squad_list(*args)

    return counting


def test_a_desk_that_was_left_shuts_them_and_shows_it(
    window: MakeWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = window()
    sign_in(shown, DOCTOR)
    shown.choose(entry_of(shown, HURT))
    shown.note.setText("torn")
    monkeypatch.setattr(shown.desk, "_now", lambda: NOW + LOCKS_AFTER)
    shown.look_again()
    assert shown.note.text() == ""
    assert_shut(shown)


def test_the_first_touch_at_a_desk_that_was_left_shuts_them(
    qtbot: QtBot, window: MakeWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = window()
    monkeypatch.setattr(shown.desk, "_now", lambda: NOW + LOCKS_AFTER)
    touch_row(qtbot, shown, HURT)  # sooner than the timer looks
    assert shown.desk.staff is None
    assert "hurts" not in " ".join([*shown.detail.words(), *(line.text for line in lettered(shown))])


def test_the_page_of_answers_is_not_printed_and_that_for_coaches_is(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window(signed="")
    pick(shown, COACH)
    qtbot.mouseClick(shown.foot["Print"], LEFT)
    assert NOT_PRINTED in shown.head.sentences()
    assert not shown._prints.exists() or list(shown._prints.iterdir()) == []
    qtbot.mouseClick(shown.foot["Print for coaches"], LEFT)
    words = text_of(next(shown._prints.glob("*coaches.pdf")))
    assert all(a.line.athlete.name in words for a in shown.day.athletes)
    assert [word for word in FROM_ANSWERS if word in words.replace("themselves", "")] == []


def test_what_is_closed_while_they_are_shut_closes_no_pain(qtbot: QtBot, window: MakeWindow) -> None:
    shown = window(signed="")
    pick(shown, COACH)
    touch_row(qtbot, shown, HURT)
    qtbot.mouseClick(shown.keys["as planned"], LEFT)
    assert entry_of(shown, HURT).state == "closed"
    assert shown.head.sentences()[1] == "1 open pain or illness"
    sign_in(shown, COACH)
    entry = entry_of(shown, HURT)
    assert (entry.state, entry.unwell, shown.day.list.entries[0]) == ("open", True, entry)


def test_a_new_name_is_told_how_to_come_by_a_pin(window: MakeWindow) -> None:
    shown = window()
    pick(shown, "")
    pick(shown, DOCTOR)
    assert NOT_VOUCHED in shown.head.sentences()
    assert shown.desk.staff is None
    sign_in(shown, COACH)
    sign_in(shown, DOCTOR, pin="1357")
    assert shown.desk.medical(shown.day)


@pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
@pytest.mark.parametrize("theme", ["dark", "light"])
def test_the_shut_day_is_legible_whole_and_touchable(
    window: MakeWindow, screen: ScreenGeometry, theme: ThemeName
) -> None:
    shown = window(screen, theme)
    pick(shown, "")
    pick(shown, DOCTOR)  # the longest words, and the PIN's field
    painted = list(lettered(shown.head))
    assert [line.text for line in painted if not line.complete] == []
    for words in (SHUT, NOT_VOUCHED):
        assert words in " ".join(line.text for line in painted)
    for row in text_rows(shown, shown.look.metrics):
        assert row.arc_minutes >= 20
        assert row.contrast >= 7
    for part in (shown.head, shown.rows):
        check_text_boxes(part)
    assert [s for s in control_sizes_mm(shown, screen) if min(s[1], s[2]) < 11.9] == []
