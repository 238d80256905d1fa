"""The jump line's screen in every state: legible from four metres, complete, touchable."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from station.capture.jump_view import JumperTile, JumpLineView, Turn, UsualJump
from station.capture.rack_view import SensorLine, TroubleLine
from station.screens.jump_line_window import CAUTION, JumpLineWindow
from station.screens.theme import ScreenGeometry, TextSize, ThemeName
from station.squad.jumps import JumpTrial
from tests.screens.conftest import LARGE, SMALL
from tests.screens.glance import control_sizes_mm, lettered, text_rows
from tests.screens.test_glance import check_text_boxes

LEFT = Qt.MouseButton.LeftButton
WHY = "straight legs: longer in the air than the take-off gives"


def trial(height_m: float, why: str = "") -> JumpTrial:
    return JumpTrial(
        "", "0", date(2026, 10, 14), height_m, height_m, height_m, 0.011, 0.3, 0.71, (), not why, why
    )


def tiles(first: str = "Kaja Zellerdal") -> tuple[JumperTile, ...]:
    names = (first, "Femke Kranebit", "Imre Haverdal", "Bela Dunkelau", "Nele Carstam", "Oda Brombeck")
    turns = (Turn.JUMPING, Turn.WEARING, Turn.WAITING, Turn.WAITING, Turn.WAITING, Turn.DONE)
    return tuple(
        JumperTile(
            str(n), name, 100 + n, turn, n + 1 if n < 2 else None, 0.331 if turn is Turn.DONE else None
        )
        for n, (name, turn) in enumerate(zip(names, turns, strict=True))
    )


BEFORE = JumpLineView(
    tiles(),
    tiles()[0],
    (),
    3,
    None,
    None,
    UsualJump(9, 0.312, 0.335, 0.358),
    "MD+3",
    "",
    (SensorLine("Belt 1", "streaming", True, 87), SensorLine("Belt 2", "streaming", True, 64)),
    proposed_today=True,
)
TWO = replace(BEFORE, trials=(trial(0.341), trial(0.322)), mean_m=0.3315, best_m=0.341)
LONGEST = "Ottokar Freiherr von Quellmann-Rosenborn"
STATES = {
    "before": BEFORE,
    "two trials": TWO,
    "lower": replace(BEFORE, trials=(trial(0.301),), mean_m=0.301, best_m=0.301),
    "again": replace(TWO, trials=(trial(0.33), trial(0.37, WHY)), again=WHY),
    "too little history": replace(TWO, usual=UsualJump(1, None, None, None)),
    "did not play": replace(TWO, day_kind="MD+3, did not play"),
    "trouble": replace(
        TWO,
        troubles=(TroubleLine("link", "Belt 2 is not in range.", "Switch it on and bring it near.", True),),
    ),
    "nobody": replace(BEFORE, queue=(), current=None),
    "longest name": replace(TWO, queue=tiles(LONGEST), current=tiles(LONGEST)[0]),
}


class Touched:
    """Notes what people did."""

    def __init__(self) -> None:
        self.done: list[str] = []

    def jumps_now(self, athlete_id: str) -> None:
        self.done.append(f"now {athlete_id}")

    def later(self) -> None:
        self.done.append("later")

    def strike_last(self) -> None:
        self.done.append("strike")

    def undo(self) -> None:
        self.done.append("undo")


def shown(
    qtbot: QtBot, view: JumpLineView, screen: ScreenGeometry = SMALL, theme: ThemeName = "dark"
) -> tuple[JumpLineWindow, Touched]:
    actions = Touched()
    window = JumpLineWindow(actions, theme, screen)
    qtbot.addWidget(window)
    with qtbot.waitActive(window):
        window.show()
        window.activateWindow()
    window.show_view(view)
    return window, actions


@pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("name", STATES)
def test_every_state_is_legible_complete_and_touchable(
    qtbot: QtBot, screen: ScreenGeometry, theme: ThemeName, name: str
) -> None:
    window, _ = shown(qtbot, STATES[name], screen, theme)
    for row in text_rows(window, window.look.metrics):
        assert row.arc_minutes >= (30 if row.size is TextSize.NUMBER else 20)
        assert row.contrast >= 7
    check_text_boxes(window)
    assert [s for s in control_sizes_mm(window, screen) if min(s[1], s[2]) < 19.99] == []
    cut = {line.text for line in lettered(window) if not line.complete}
    assert cut == set() if name != "longest name" else all("100" in text for text in cut)


def test_the_number_is_read_from_four_metres(qtbot: QtBot) -> None:
    window, _ = shown(qtbot, TWO)
    rows = {row.size: row for row in text_rows(window, window.look.metrics)}
    assert rows[TextSize.NUMBER].distance_m == 4.0
    assert rows[TextSize.NUMBER].arc_minutes >= 30


def test_it_says_height_mean_best_and_verdict(qtbot: QtBot) -> None:
    window, _ = shown(qtbot, TWO)
    assert window.number.accessibleName() == "Kaja Zellerdal: 32.2 centimetres"
    assert window.scale.accessibleName() == "mean 33.1 · best 34.1 cm as usual for MD+3"
    window.show_view(STATES["lower"])
    assert "lower than usual for MD+3" in window.scale.accessibleName()
    window.show_view(STATES["too little history"])
    assert "too little history: 1 like today" in window.scale.accessibleName()


def test_again_please_has_its_reason(qtbot: QtBot) -> None:
    window, _ = shown(qtbot, STATES["again"])
    words = [line.text for line in lettered(window.number)]
    assert "Again, please" in words
    assert WHY in " ".join(words)


def test_trouble_and_caution_stand_in_the_strip(qtbot: QtBot) -> None:
    window, _ = shown(qtbot, BEFORE)
    assert CAUTION in window.strip.words()
    window.show_view(STATES["trouble"])
    assert window.strip.words() == "Belt 2 is not in range. Switch it on and bring it near."


def test_what_people_touch_is_passed_on(qtbot: QtBot) -> None:
    window, actions = shown(qtbot, TWO)
    qtbot.mouseClick(window.queue.buttons[2], LEFT)
    for button in (window.later, window.strike, window.undo):
        qtbot.mouseClick(button, LEFT)
    qtbot.keyClick(window, Qt.Key.Key_F2)
    qtbot.keyClick(window, Qt.Key.Key_U)
    assert actions.done == ["now 2", "later", "strike", "undo", "now 1", "undo"]
