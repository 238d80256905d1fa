"""The room at the desk: every rack in words, nothing cut off, decisions with a name, the check round."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget

from station.capture.room_board import RoomBoard
from station.screens.kiosk_who import SmallButton
from station.screens.lettering import listen
from station.screens.room_window import RoomWindow
from station.screens.room_wording import check_cells, head_words, not_ready, session_cells, spare_words
from station.screens.theme import OTHER_CONTROL_MM, ScreenGeometry, ThemeName
from station.store.record import Record
from tests.screens.conftest import LARGE, SMALL
from tests.screens.room_states import EMPTY, LINES, ROOM, SPARES, TODAY, ToldDesk
from tests.store.squad_record import Clock


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[ToldDesk]:
    record = Record(tmp_path / "room", "room", Clock())
    record.add_rows("staff", [{"name": "Coach Minke Straten", "role": ""}])
    made = ToldDesk(record, lambda: datetime.now().astimezone().replace(2026, 10, 14), RoomBoard())
    yield made
    record.close()


Show = Callable[..., RoomWindow]


@pytest.fixture
def show(desk: ToldDesk, on_screen: Callable[[QWidget], None]) -> Show:
    def shown(theme: ThemeName = "light", screen: ScreenGeometry = LARGE) -> RoomWindow:
        window = RoomWindow(desk, theme, screen)
        window._timer.stop()
        on_screen(window)
        return window

    return shown


def said(rack: int, column: int) -> str:
    cell = session_cells(LINES[rack - 1])[column]
    return f"{cell.words} | {cell.under}"


def test_a_line_says_who_lifts_what_how_fast_and_how_today_is() -> None:
    assert said(1, 1) == "Aino Amsel | back squat, 60 kg"
    assert said(1, 2) == "0.74 m/s | rep 3, warm-up 1"
    assert said(2, 3) == "0.06 slower | than usual at 60 kg"
    assert said(3, 2) == "not measured | rep 3, work 2"
    assert said(3, 4) == "102.5 kg | decided: use"
    assert said(4, 1) == "Dorrit Dahlke ? | back squat, 60 kg"
    assert said(7, 3) == "too little history | at 60 kg"


def test_a_suggestion_that_waits_stands_with_a_mark_and_how_many_more() -> None:
    cell = session_cells(LINES[1])[4]
    assert (cell.words, cell.under, cell.mark) == ("95 kg?", "waits, and 1 more", "waits")


def test_a_rack_that_is_silent_says_for_how_long_and_a_closed_one_that_it_is() -> None:
    assert session_cells(LINES[6])[5].words == "silent for 40 min"
    assert session_cells(LINES[7])[5].words == "closed"
    assert head_words(ROOM, check=False) == "6 of 8 racks running, 1 silent, 3 suggestions wait"


def test_the_check_round_finds_what_is_to_be_seen_to_and_takes_unknown_for_not_ready() -> None:
    assert not_ready(LINES[0]) == ()
    assert not_ready(LINES[4])[:2] == ("switch the sensor on", "charge, or take another")
    assert not_ready(LINES[5]) == ("battery unknown", "calibrate: a minute", "calibrate, or another")
    assert check_cells(LINES[0], TODAY)[4].words == "24 days ago"
    assert check_cells(LINES[0], TODAY)[3].words == "84 %, 7 h"


def test_sensors_on_the_charger_stand_fullest_first() -> None:
    words = spare_words(SPARES)
    assert (
        words.index("Bar sensor 9 (98 %") < words.index("Bar sensor 11 (41 %") < words.index("Bar sensor 12")
    )


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("check", [False, True])
def test_no_word_of_the_session_is_cut_but_the_longest_name_and_trouble(
    show: Show, theme: ThemeName, check: bool
) -> None:
    window = show(theme)
    window.check = check
    window.choose("rack 5")
    with listen() as drawn:
        window.grab()
    cut = [one.text for one in drawn if not one.complete]
    allowed = ("Ottokar", "The connection to Bar", "looking for")
    assert all(text.startswith(allowed) for text in cut), cut


@pytest.mark.parametrize("check", [False, True])
def test_on_ten_inches_what_stands_below_takes_two_lines_and_is_whole(show: Show, check: bool) -> None:
    window = show("dark", SMALL)
    window.check = check
    cut = []
    for rack in ("rack 1", "rack 2", "rack 5", "rack 8"):
        window.choose(rack)
        with listen() as drawn:
            window.grab()
        cut += [one.text for one in drawn if not one.complete]
    longest = ("Ottokar", "Quellmann", "The connection", "to Bar sensor")
    assert all(text.startswith(longest) for text in cut), cut


def test_every_control_can_be_named_and_is_large_enough(show: Show) -> None:
    window = show()
    for button in window.findChildren(SmallButton):
        assert button.accessibleName()
        assert button.height() >= window.look.metrics.mm(OTHER_CONTROL_MM)
    for field in (window.load, window.staff, window.pin, window.rows):
        assert field.accessibleName()


def test_nobody_decides_without_a_name(show: Show, desk: ToldDesk) -> None:
    window = show()
    window.choose("rack 2")
    QTest.keyClick(window, Qt.Key.Key_U, Qt.KeyboardModifier.ControlModifier)
    assert "Sign in first" in window.head.lines[1]


def test_keys_alone_choose_a_rack_and_change_the_load(
    show: Show, desk: ToldDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = []
    monkeypatch.setattr(desk, "decide", lambda *said: made.append(said) or "done")
    window = show()
    window.rows.setFocus()
    for _ in range(2):
        QTest.keyClick(window.rows, Qt.Key.Key_Down)
    window.load.setFocus()
    QTest.keyClicks(window.load, "92,5")
    QTest.keyClick(window.load, Qt.Key.Key_Return)
    ((line, decision, load),) = made
    assert (line.report.rack, decision.value, load) == ("rack 2", "change", 92.5)
    QTest.keyClicks(window.load, "heavy")
    QTest.keyClick(window.load, Qt.Key.Key_Return)
    assert "is not a number" in window.head.lines[1]


def test_open_pain_or_illness_is_counted_here_too(show: Show, desk: ToldDesk) -> None:
    desk.shown = replace(ROOM, unwell=2)
    assert show().head.lines[0].endswith("3 suggestions wait · 2 open pain or illness")


def test_an_empty_room_says_what_to_do(show: Show, desk: ToldDesk) -> None:
    desk.shown = EMPTY
    assert "start one on this machine" in show().head.lines[0]


def test_the_room_opens_with_the_check_round_until_somebody_lifts(show: Show, desk: ToldDesk) -> None:
    assert not show().check
    desk.shown = EMPTY
    assert show().check
