"""Every action by mouse, finger and key, on the real window."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QPointingDevice
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton
from pytestqt.qtbot import QtBot

from station.capture.rack_view import Decision
from station.screens.rack_window import RackWindow
from station.screens.sample_views import SIX, base, rep, set_of, states
from station.screens.wording import KG_PER_LB
from tests.screens.conftest import ShowRack
from tests.screens.recording import RecordingActions

LEFT = Qt.MouseButton.LeftButton
WAIT_MS = 2000


@pytest.fixture(scope="module")
def finger() -> QPointingDevice:
    return QTest.createTouchDevice()


def touch(window: RackWindow, finger: QPointingDevice, button: QAbstractButton) -> None:
    at: QPoint = button.mapTo(window, button.rect().center())
    QTest.touchEvent(window, finger).press(0, at, window).commit()
    QTest.touchEvent(window, finger).release(0, at, window).commit()


def choose(qtbot: QtBot, window: RackWindow, words: str) -> None:
    """Click the drawer's choice with these words, turning pages as long as there are some."""
    for _ in range(9):
        for button in window.drawer.buttons:
            if button.isVisible() and button.words == words:
                qtbot.mouseClick(button, LEFT)
                return
        qtbot.mouseClick(window.drawer.more_button, LEFT)
    raise AssertionError(f"no choice {words!r}")


def test_a_tile_hands_the_bar_over(qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions) -> None:
    window = show_rack(states()["mid set"])
    qtbot.mouseClick(window.tiles.tiles[2], LEFT)
    assert actions.calls == [("switch_athlete", "a3")]


def test_a_finger_does_what_a_mouse_does(
    show_rack: ShowRack, actions: RecordingActions, finger: QPointingDevice
) -> None:
    window = show_rack(states()["mid set"])
    touch(window, finger, window.tiles.tiles[1])
    touch(window, finger, window.controls.plus)
    touch(window, finger, window.controls.end)
    assert actions.calls == [("switch_athlete", "a2"), ("set_load", 102.5), ("end_set",)]


def test_a_name_touched_during_an_unnamed_set_names_that_set(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["unnamed set"])
    qtbot.mouseClick(window.tiles.tiles[0], LEFT)
    assert actions.calls == [("name_set", "s1", "a1")]


def test_quick_taps_add_up_before_the_station_has_answered(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["mid set"])
    for _ in range(3):
        qtbot.mouseClick(window.controls.plus, LEFT)
    qtbot.mouseClick(window.controls.minus, LEFT)
    assert [call[1] for call in actions.calls] == [102.5, 105.0, 107.5, 105.0]


def test_a_load_between_steps_moves_to_the_next_step(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(replace(base(), load_kg=61.0))
    qtbot.mouseClick(window.controls.minus, LEFT)
    assert actions.calls == [("set_load", 60.0)]


def test_pounds_step_by_five_pounds(qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions) -> None:
    window = show_rack(states()["pounds"])
    qtbot.mouseClick(window.controls.plus, LEFT)
    # 1 lb = 0.45359237 kg exactly (international pound, 1959)
    assert actions.calls == [("set_load", round(140 * KG_PER_LB, 6))]


def test_the_load_never_goes_below_nothing(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(replace(base(), load_kg=1.0))
    qtbot.mouseClick(window.controls.minus, LEFT)
    assert actions.calls == [("set_load", 0.0)]


def test_a_lift_is_chosen_from_the_drawer(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(base())
    qtbot.mouseClick(window.controls.bar, LEFT)
    choose(qtbot, window, "Lift")
    choose(qtbot, window, "power clean")  # on the second page
    assert actions.calls == [("set_lift", "power clean")]
    assert not window.drawer.isVisible()


def test_the_planned_load_is_one_of_those_offered(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["decided"])
    qtbot.mouseClick(window.controls.bar, LEFT)
    choose(qtbot, window, "100 kg")
    assert actions.calls == [("set_load", 100.0)]


@pytest.mark.parametrize(
    ("state", "words", "struck"), [("mid set", "Rep 5 0.44", True), ("struck out", "Rep 4 0.91", False)]
)
def test_a_rep_is_struck_out_and_put_back(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions, state: str, words: str, struck: bool
) -> None:
    window = show_rack(states()[state])
    qtbot.mouseClick(window.controls.this_set, LEFT)
    choose(qtbot, window, words)
    assert actions.calls == [("strike_rep", f"r{words.split()[1]}", struck)]


def test_a_set_under_the_wrong_name_moves(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["set over"])
    qtbot.mouseClick(window.controls.this_set, LEFT)
    choose(qtbot, window, "Whose set?")
    choose(qtbot, window, "Noor Osei")
    assert actions.calls == [("name_set", "s1", "a4")]


@pytest.mark.parametrize("not_full", [False, True])
def test_not_full_effort_is_marked_and_taken_back(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions, not_full: bool
) -> None:
    view = base()
    window = show_rack(replace(view, set=replace(set_of(rep(1, 0.6)), not_full_effort=not_full)))
    qtbot.mouseClick(window.controls.effort, LEFT)
    assert actions.calls == [("mark_effort", "s1", not_full)]


def test_the_proposed_next_athlete_is_one_touch(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["set over"])
    qtbot.mouseClick(window.controls.next, LEFT)
    assert actions.calls == [("switch_athlete", "a3")]


@pytest.mark.parametrize(
    ("button", "expected"),
    [("use", (Decision.USE, None)), ("keep", (Decision.KEEP_PLAN, None))],
)
def test_a_suggestion_is_answered_in_one_touch(
    qtbot: QtBot,
    show_rack: ShowRack,
    actions: RecordingActions,
    button: str,
    expected: tuple[Decision, float | None],
) -> None:
    window = show_rack(states()["slower"])
    qtbot.mouseClick(getattr(window.controls, button), LEFT)
    assert actions.calls == [("decide", *expected)]


def test_another_load_than_the_suggested_one_is_two_touches(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["slower"])
    qtbot.mouseClick(window.controls.change, LEFT)
    choose(qtbot, window, "97.5 kg")
    assert actions.calls == [("decide", Decision.CHANGE, 97.5)]


def test_staff_sign_in(qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions) -> None:
    window = show_rack(base())
    qtbot.mouseClick(window.tiles.more, LEFT)
    choose(qtbot, window, "Sign in")
    choose(qtbot, window, "Coach Lund")
    assert actions.calls == [("sign_in", "Coach Lund")]


def test_the_bar_can_be_nobodys(qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions) -> None:
    window = show_rack(base())
    qtbot.mouseClick(window.tiles.more, LEFT)
    choose(qtbot, window, "No name")
    assert actions.calls == [("switch_athlete", None)]


@pytest.mark.parametrize(
    ("state", "key", "modifier", "expected"),
    [
        ("mid set", Qt.Key.Key_E, Qt.KeyboardModifier.NoModifier, ("end_set",)),
        ("mid set", Qt.Key.Key_F, Qt.KeyboardModifier.NoModifier, ("mark_effort", "s1", False)),
        ("mid set", Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier, ("undo",)),
        ("mid set", Qt.Key.Key_Plus, Qt.KeyboardModifier.NoModifier, ("set_load", 102.5)),
        ("mid set", Qt.Key.Key_Minus, Qt.KeyboardModifier.NoModifier, ("set_load", 97.5)),
        ("mid set", Qt.Key.Key_F2, Qt.KeyboardModifier.NoModifier, ("switch_athlete", "a2")),
        ("set over", Qt.Key.Key_N, Qt.KeyboardModifier.NoModifier, ("switch_athlete", "a3")),
        ("slower", Qt.Key.Key_U, Qt.KeyboardModifier.NoModifier, ("decide", Decision.USE, None)),
        ("slower", Qt.Key.Key_K, Qt.KeyboardModifier.NoModifier, ("decide", Decision.KEEP_PLAN, None)),
    ],
)
def test_keys_do_the_same(
    qtbot: QtBot,
    show_rack: ShowRack,
    actions: RecordingActions,
    state: str,
    key: Qt.Key,
    modifier: Qt.KeyboardModifier,
    expected: tuple[object, ...],
) -> None:
    window = show_rack(states()[state])
    qtbot.keyClick(window, key, modifier)
    qtbot.waitUntil(lambda: actions.calls == [expected], timeout=WAIT_MS)


def test_the_drawer_by_keyboard_alone(qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions) -> None:
    window = show_rack(states()["mid set"])
    qtbot.keyClick(window, Qt.Key.Key_S)
    qtbot.waitUntil(window.drawer.isVisible, timeout=WAIT_MS)
    qtbot.keyClick(window.drawer, Qt.Key.Key_Tab)
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Tab)
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Space)
    assert actions.calls == [("strike_rep", "r5", True)]


def test_escape_closes_the_drawer_without_a_choice(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["mid set"])
    qtbot.keyClick(window, Qt.Key.Key_B)
    qtbot.keyClick(window.drawer, Qt.Key.Key_Escape)
    assert not window.drawer.isVisible()
    assert actions.calls == []


def test_a_shirt_number_and_enter_call_an_athlete(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["mid set"])
    qtbot.keyClicks(window, "23")
    qtbot.waitUntil(lambda: "23" in window.strip.words(), timeout=WAIT_MS)
    qtbot.keyClick(window, Qt.Key.Key_Return)
    assert actions.calls == [("switch_athlete", "a3")]


def test_two_athletes_with_one_number_are_both_offered(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(replace(base(), group=SIX))
    qtbot.keyClicks(window, "14")
    qtbot.keyClick(window, Qt.Key.Key_Return)
    assert actions.calls == []
    choose(qtbot, window, "Mira Lindqvist")
    assert actions.calls == [("switch_athlete", "a5")]


def test_anybody_of_the_squad_is_reached_by_touch_alone(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    squad = tuple(replace(SIX[0], athlete_id=f"q{n}", shirt_number=n) for n in range(30, 150))
    window = show_rack(replace(base(), squad=squad))
    qtbot.mouseClick(window.tiles.more, LEFT)
    choose(qtbot, window, "Shirt number")
    for key in ("1", "1", "7", "Enter"):
        qtbot.mouseClick(window.keypad.buttons[key], LEFT)
    assert actions.calls == [("switch_athlete", "q117")]
    assert not window.keypad.isVisible()


def test_a_number_nobody_wears_is_said(qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions) -> None:
    window = show_rack(base())
    qtbot.keyClicks(window, "88")
    qtbot.keyClick(window, Qt.Key.Key_Enter)
    assert "Nobody here wears 88" in window.strip.words()
    assert actions.calls == []


def test_the_cautions_stand_until_they_are_read(qtbot: QtBot, show_rack: ShowRack) -> None:
    view = states()["session start"]
    window = show_rack(view)
    assert window.cautions.isVisible()
    assert all(caution in window.cautions.accessibleName() for caution in view.cautions)
    qtbot.mouseClick(window.cautions.button, LEFT)
    window.show_view(view)
    assert not window.cautions.isVisible()
    qtbot.mouseClick(window.tiles.more, LEFT)
    choose(qtbot, window, "Cautions")
    assert window.cautions.isVisible()


def test_enter_reads_the_cautions_but_a_typed_number_goes_first(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["session start"])
    qtbot.keyClicks(window, "23")
    qtbot.keyClick(window, Qt.Key.Key_Return)
    assert actions.calls == [("switch_athlete", "a3")]
    assert window.cautions.isVisible()
    qtbot.keyClick(window, Qt.Key.Key_Return)
    assert not window.cautions.isVisible()


def test_enter_presses_the_control_that_has_the_focus(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["mid set"])
    window.controls.end.setFocus(Qt.FocusReason.TabFocusReason)
    qtbot.keyClick(window.controls.end, Qt.Key.Key_Return)
    assert actions.calls == [("end_set",)]


def test_tab_reaches_every_control(qtbot: QtBot, show_rack: ShowRack) -> None:
    window = show_rack(states()["slower"])
    usable = {b for b in window.findChildren(QAbstractButton) if b.isVisible() and b.isEnabled()}
    reached = set()
    for _ in range(len(usable) + 3):
        qtbot.keyClick(window.focusWidget() or window, Qt.Key.Key_Tab)
        reached.add(window.focusWidget())
    assert usable <= reached


def test_a_first_rep_is_never_hidden_by_the_cautions(show_rack: ShowRack) -> None:
    view = states()["session start"]
    window = show_rack(view)
    window.show_view(replace(view, set=set_of(rep(1, 0.6))))
    assert not window.cautions.isVisible()


def test_dark_and_light_are_one_key_apart(qtbot: QtBot, show_rack: ShowRack) -> None:
    window = show_rack(base())
    qtbot.keyClick(window, Qt.Key.Key_T)
    qtbot.waitUntil(lambda: window.look.palette.name == "light", timeout=WAIT_MS)
    assert window.now.number.look.palette.name == "light"
    qtbot.keyClick(window, Qt.Key.Key_T)
    qtbot.waitUntil(lambda: window.look.palette.name == "dark", timeout=WAIT_MS)


def test_every_control_has_an_accessible_name(show_rack: ShowRack) -> None:
    for view in states().values():
        window = show_rack(view)
        nameless = [
            b for b in window.findChildren(QAbstractButton) if b.isVisible() and not b.accessibleName()
        ]
        assert nameless == []
        window.close()


def test_more_athletes_than_tiles_are_a_page_further(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    group = tuple(replace(SIX[0], athlete_id=f"c{i}", name=f"Athlete {i}") for i in range(8))
    window = show_rack(replace(base(), group=group, athlete=group[0]))
    qtbot.mouseClick(window.tiles.page_button, LEFT)
    qtbot.mouseClick(window.tiles.tiles[1], LEFT)
    assert actions.calls == [("switch_athlete", "c7")]


def test_a_guest_is_added_in_two_touches(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["before the first rep"])
    qtbot.mouseClick(window.tiles.more, LEFT)
    choose(qtbot, window, "Guest")
    assert actions.calls == [("add_guest",)]


def test_the_sensor_on_this_bar_is_asked_for_in_two_touches(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["before the first rep"])
    qtbot.mouseClick(window.tiles.more, LEFT)
    choose(qtbot, window, "Sensor")
    assert actions.calls == [("find_sensor",)]
