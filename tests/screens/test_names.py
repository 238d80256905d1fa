"""Anybody of a large squad in two touches, a wrong name put right in two, and what nobody has confirmed said so."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QPointingDevice
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton
from pytestqt.qtbot import QtBot

from station.capture.rack_view import AthleteTile, RackView, SessionSet
from station.screens.drawer_pages import named_loads, target_page
from station.screens.rack_window import RackWindow
from station.screens.sample_views import CAUTIONS, GROUP, base, rep, set_of, states
from station.screens.theme import ScreenGeometry
from tests.screens.conftest import LARGE, SMALL, ShowRack
from tests.screens.glance import control_sizes_mm, lettered
from tests.screens.recording import RecordingActions
from tests.screens.test_glance import check_text_boxes
from tests.screens.test_touches import LEFT, WAIT_MS, choose, touch

SCREENS = pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
GIVEN = "Aino Bela Cleo Dana Emil Femke Greta Hanno".split()
FAMILY = "Amsel Birkholz Cornelissen Dahlmann Eversberg Feddersen Grünwald Holtkamp".split()


def squad(count: int = 120) -> tuple[AthleteTile, ...]:
    """Everybody of a club; two wear one number."""
    return tuple(
        AthleteTile(f"q{n}", f"{GIVEN[n % 8]} {FAMILY[n // 8 % 8]}", 14 if n == 99 else n + 30, "")
        for n in range(count)
    )


def with_squad(view: RackView, count: int = 120) -> RackView:
    return replace(view, squad=squad(count))


def key_of(window: RackWindow, athlete_id: str) -> QAbstractButton:
    return next(k for k in window.everybody.keys if k.isVisible() and k.property("athlete") == athlete_id)


@pytest.fixture(scope="module")
def finger() -> QPointingDevice:
    return QTest.createTouchDevice()


@SCREENS
def test_two_touches_reach_anybody_of_120(
    show_rack: ShowRack, actions: RecordingActions, finger: QPointingDevice, screen: ScreenGeometry
) -> None:
    window = show_rack(with_squad(states()["mid set"]), screen)
    touch(window, finger, window.tiles.anybody)
    assert not window.everybody.more_button.isVisible()
    touch(window, finger, key_of(window, "q117"))
    assert actions.calls == [("switch_athlete", "q117")]
    assert not window.everybody.isVisible()


@SCREENS
@pytest.mark.parametrize("count", [5, 46, 120])
def test_every_name_is_a_finger_tip_wide_and_whole_on_its_key(
    show_rack: ShowRack, screen: ScreenGeometry, count: int
) -> None:
    window = show_rack(with_squad(base(), count), screen)
    window.tiles.anybody.click()
    sizes = list(control_sizes_mm(window.everybody, screen))
    assert len(sizes) == count + len(GROUP) + 1
    assert min(min(w, h) for _, w, h in sizes) >= 11.99  # design: controls not used in every set
    assert all(window.everybody.rect().contains(key.geometry()) for key in window.everybody.keys)
    check_text_boxes(window.everybody)


def test_more_than_a_page_holds_are_on_the_next(qtbot: QtBot, show_rack: ShowRack) -> None:
    window = show_rack(with_squad(base(), 200))
    window.tiles.anybody.click()
    seen = set()
    for _ in range(2):
        seen |= {k.property("athlete") for k in window.everybody.keys if k.isVisible()}
        qtbot.mouseClick(window.everybody.more_button, LEFT)
    assert seen == {a.athlete_id for a in (*GROUP, *squad(200))}


def test_the_names_by_keyboard_alone(qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions) -> None:
    window = show_rack(with_squad(base(), 5))
    qtbot.keyClick(window, Qt.Key.Key_A)
    qtbot.waitUntil(window.everybody.isVisible, timeout=WAIT_MS)
    qtbot.keyClick(window.everybody, Qt.Key.Key_Tab)
    for _ in range(12):
        if getattr(window.focusWidget(), "words", "") == "30 Aino":
            break
        qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Tab)
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Return)
    assert actions.calls == [("switch_athlete", "q0")]


def test_escape_closes_the_names_and_changes_nothing(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(with_squad(base()))
    window.tiles.anybody.click()
    qtbot.keyClick(window.everybody, Qt.Key.Key_Escape)
    assert not window.everybody.isVisible()
    assert actions.calls == []


# -- the right name ----------------------------------------------------------------------------------------------


def test_a_set_under_the_wrong_name_moves_in_two_touches(
    show_rack: ShowRack, actions: RecordingActions, finger: QPointingDevice
) -> None:
    window = show_rack(states()["set over"])
    touch(window, finger, window.controls.this_set)
    touch(window, finger, next(b for b in window.drawer.buttons if b.words == "Noor Osei"))
    assert actions.calls == [("name_set", "s1", "a4")]


def test_a_set_moves_to_anybody_of_the_squad(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(with_squad(states()["set over"]))
    qtbot.mouseClick(window.controls.this_set, LEFT)
    choose(qtbot, window, "Whose set?")
    choose(qtbot, window, "Somebody else")
    qtbot.mouseClick(key_of(window, "q80"), LEFT)
    assert actions.calls == [("name_set", "s1", "q80")]


def test_an_earlier_set_moves_also_afterwards(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    earlier = (
        SessionSet("e1", "10:02", "Ines Varga", "back squat", 60.0),
        SessionSet("e2", "10:04", "Noor Osei", "back squat", 60.0, name_confirmed=False),
    )
    window = show_rack(replace(states()["mid set"], session_sets=earlier))
    qtbot.mouseClick(window.controls.this_set, LEFT)
    choose(qtbot, window, "10:04 Noor Osei")
    choose(qtbot, window, "Tilda Brennan")
    assert actions.calls == [("name_set", "e2", "a3")]


def test_a_name_that_nobody_confirmed_is_said_and_confirmed_in_two_touches(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    view = replace(base(), name_confirmed=False, set_name_confirmed=False, set=set_of(rep(1, 0.63)))
    window = show_rack(view)
    assert "name not confirmed" in window.strip.words()
    assert "name not confirmed" in window.now.bar_line.accessibleName()
    qtbot.mouseClick(window.controls.this_set, LEFT)
    choose(qtbot, window, "Ines Varga")
    assert actions.calls == [("name_set", "s1", "a2")]
    window.show_view(replace(view, set_name_confirmed=True))
    assert "name not confirmed" not in window.strip.words()


# -- loads, stop and target ----------------------------------------------------------------------------------------


def test_planned_and_last_used_loads_are_offered_before_the_warm_up(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    view = replace(base(), planned_kg=100.0, last_used_kg=97.5)
    assert named_loads(view) == {60.0: "warm-up", 100.0: "planned", 97.5: "last used"}
    window = show_rack(view)
    qtbot.mouseClick(window.controls.bar, LEFT)
    choose(qtbot, window, "97.5 kg")
    assert actions.calls == [("set_load", 97.5)]


def test_a_load_with_two_reasons_says_both() -> None:
    assert named_loads(replace(base(), planned_kg=100.0, last_used_kg=100.0))[100.0] == "planned, last used"


def test_a_stop_and_a_target_are_chosen_and_the_other_one_stays(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(replace(states()["mid set"], stop_loss=0.2))
    for pages in (
        ("Stop", "15 % loss"),
        ("Stop", "No stop"),
        ("Target", "0.45 to 0.55"),
        ("Target", "No target"),
    ):
        qtbot.mouseClick(window.controls.bar, LEFT)
        for words in pages:
            choose(qtbot, window, words)
    assert actions.calls == [
        ("use_goal", 0.15, (0.4, 0.5)),
        ("use_goal", None, (0.4, 0.5)),
        ("use_goal", 0.2, (0.45, 0.55)),
        ("use_goal", 0.2, None),
    ]


def test_target_bands_begin_around_the_one_there_is() -> None:
    assert [choice.words for choice in target_page(states()["mid set"])[:2]] == ["No target", "0.40 to 0.50"]


@SCREENS
def test_six_tiles_say_what_is_still_to_do_in_whole_words(
    show_rack: ShowRack, screen: ScreenGeometry
) -> None:
    what = ("warm-up 60 kg", "ask a coach", "set 2 of 3", "warm-up 132.5 lb", "done", "set 1 of 3")
    group = tuple(AthleteTile(f"t{n}", f"Cleo {n}", n, words) for n, words in enumerate(what))
    view = replace(base(), group=group, athlete=group[4], next_athlete_id=None, name_confirmed=False)
    window = show_rack(view, screen)
    lines = [line for tile in window.tiles.tiles for line in lettered(tile)]
    assert [line.text for line in lines if not line.complete] == []
    texts = [line.text for line in lines]
    assert sum(text.startswith("warm-up") for text in texts) == 2
    assert sum(text.startswith("ask") for text in texts) == 1


# -- cautions and undo ----------------------------------------------------------------------------------------------


def test_the_next_session_shows_the_cautions_again(qtbot: QtBot, show_rack: ShowRack) -> None:
    window = show_rack(states()["session start"])
    qtbot.mouseClick(window.cautions.button, LEFT)
    window.show_view(states()["mid set"])
    window.show_view(states()["session start"])
    assert window.cautions.isVisible()


def test_cautions_are_read_again_in_mid_session_and_not_over_a_set(qtbot: QtBot, show_rack: ShowRack) -> None:
    view = replace(states()["set over"], all_cautions=CAUTIONS)
    window = show_rack(view)
    qtbot.mouseClick(window.tiles.more, LEFT)
    choose(qtbot, window, "Cautions")
    assert window.cautions.isVisible()
    window.show_view(view)
    assert window.cautions.isVisible()
    assert all(caution in window.cautions.accessibleName() for caution in CAUTIONS)
    window.show_view(replace(states()["mid set"], all_cautions=CAUTIONS))
    assert not window.cautions.isVisible()


def test_undo_can_be_touched_only_when_there_is_something_to_take_back(show_rack: ShowRack) -> None:
    window = show_rack(replace(base(), can_undo=False))
    assert not window.controls.undo.isEnabled()
    window.show_view(replace(base(), can_undo=True))
    assert window.controls.undo.isEnabled()


def test_names_are_painted_also_when_a_picture_was_taken_before_the_page_was_open(
    show_rack: ShowRack,
) -> None:
    window = show_rack(with_squad(base(), 3))
    window.grab()
    window.show_view(with_squad(base(), 8))
    window.tiles.anybody.click()
    keys = [key for key in window.everybody.keys if key.isVisible()]
    picture, ratio = window.grab().toImage(), window.devicePixelRatio()
    for key in keys:
        at = key.mapTo(window, key.rect().topLeft())
        middle = picture.pixelColor(round((at.x() + key.width() / 2) * ratio), round((at.y() + 6) * ratio))
        assert middle.name() == window.look.palette.surface, key.words
