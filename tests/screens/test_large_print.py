"""Text at 200 %: nothing clipped, nothing covered, every control still there, and the number as large as before."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from station.capture.rack_view import Decision, RackView
from station.screens.rack_window import RackWindow
from station.screens.sample_views import states
from station.screens.theme import Metrics, ScreenGeometry, TextSize
from tests.screens.conftest import LARGE, SMALL, ShowRack
from tests.screens.glance import control_sizes_mm, text_rows
from tests.screens.recording import RecordingActions
from tests.screens.test_glance import check_text_boxes
from tests.screens.test_touches import choose

LEFT = Qt.MouseButton.LeftButton
SCREENS = pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
STATES = pytest.mark.parametrize("name", states().keys())
WALL = ScreenGeometry(3840, 2160, 32.0)


def at(view: RackView, percent: int) -> RackView:
    return replace(view, settings=replace(view.settings, scale_percent=percent))


def double(show_rack: ShowRack, name: str, screen: ScreenGeometry = SMALL) -> RackWindow:
    return show_rack(at(states()[name], 200), screen)


@SCREENS
@STATES
def test_no_text_is_clipped_or_overlaps_another_at_200_percent(
    show_rack: ShowRack, screen: ScreenGeometry, name: str
) -> None:
    window = double(show_rack, name, screen)
    check_text_boxes(window)
    sizes = list(control_sizes_mm(window, screen))
    assert [s for s in sizes if min(s[1], s[2]) < 19.99] == []
    shown = [p for p in (window.now, window.cautions, window.card, window.large_row) if p.isVisible()]
    assert len(shown) == 2
    assert all(window.rect().contains(part.geometry()) for part in shown)
    assert not shown[0].geometry().intersects(shown[1].geometry())


@SCREENS
def test_the_smallest_text_is_twice_as_large_and_the_number_as_before(
    show_rack: ShowRack, screen: ScreenGeometry
) -> None:
    plain = show_rack(states()["mid set"], screen)
    once = {row.size: row.cap_mm for row in text_rows(plain, plain.look.metrics)}
    window = double(show_rack, "mid set", screen)
    twice = {row.size: row.cap_mm for row in text_rows(window, window.look.metrics)}
    assert twice[TextSize.COACH] == pytest.approx(2 * once[TextSize.COACH], rel=0.05)
    assert twice[TextSize.READING] > once[TextSize.READING]
    assert twice[TextSize.NUMBER] == once[TextSize.NUMBER]


def test_a_screen_with_room_keeps_everything_side_by_side(show_rack: ShowRack) -> None:
    assert not Metrics.for_touch(WALL, 200).large_print
    window = double(show_rack, "slower", WALL)
    assert window.history.isVisible()
    assert window.controls.isVisible()
    check_text_boxes(window)


def test_size_goes_back(show_rack: ShowRack) -> None:
    window = double(show_rack, "slower")
    assert not window.history.isVisible()
    window.show_view(at(states()["slower"], 100))
    assert window.history.isVisible()
    assert window.tiles.isVisible()


def test_everything_is_still_done(qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions) -> None:
    window = double(show_rack, "mid set")
    row = window.large_row
    for button, words in (
        (row.who, "Tilda Brennan"),
        (row.set, "End set"),
        (row.set, "Not full effort"),
        (row.set, "Undo"),
        (row.bar, "110 kg"),
    ):
        qtbot.mouseClick(button, LEFT)
        choose(qtbot, window, words)
    assert actions.calls == [
        ("switch_athlete", "a3"),
        ("end_set",),
        ("mark_effort", "s1", False),
        ("undo",),
        ("set_load", 110.0),
    ]


def test_the_decision_is_a_page(qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions) -> None:
    window = double(show_rack, "slower")
    assert window.card.isVisible()
    for words in ("Use", "Keep plan"):
        qtbot.mouseClick(window.large_row.set, LEFT)
        choose(qtbot, window, words)
    assert actions.calls == [("decide", Decision.USE, None), ("decide", Decision.KEEP_PLAN, None)]
    window.show_view(at(states()["decided"], 200))
    assert window.now.isVisible()


@pytest.mark.parametrize("state", ["session start", "session start with trouble"])
def test_the_cautions_come_page_by_page_and_each_is_seen(
    qtbot: QtBot, show_rack: ShowRack, state: str
) -> None:
    from tests.screens.glance import lettered

    window = double(show_rack, state)
    seen = ""
    for _ in range(6):
        if not window.cautions.isVisible():
            break
        seen += " ".join(line.text for line in lettered(window.cautions)) + " "
        qtbot.mouseClick(window.cautions.button, LEFT)
    for caution in states()[state].cautions:
        assert caution in seen
    assert window.now.isVisible()


@pytest.mark.parametrize("page", ["who", "bar", "set", "more"])
def test_pages_are_whole(qtbot: QtBot, show_rack: ShowRack, page: str) -> None:
    window = double(show_rack, "mid set")
    qtbot.mouseClick(getattr(window.large_row, page), LEFT)
    check_text_boxes(window.drawer)
    assert window.rect().contains(window.drawer.geometry())


@SCREENS
def test_no_letter_of_a_trouble_reaches_the_edge_of_its_plate(
    show_rack: ShowRack, screen: ScreenGeometry
) -> None:
    strip = double(show_rack, "session start with trouble", screen).strip
    picture = strip.grab().toImage()
    middle = range(picture.width() // 20, picture.width() * 19 // 20)  # without the round corners
    for edge in (1, picture.height() - 2):
        assert len({picture.pixel(x, edge) for x in middle}) == 1
