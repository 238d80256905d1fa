"""A session without a mouse and without a finger: a real rack behind the real window, and keys alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QWidget
from pytestqt.qtbot import QtBot

from station.capture.rack_view import Decision, LiveTrace, RackView, RepStatus
from station.screens.rack_window import RackWindow
from station.screens.sample_views import states
from tests.capture.bench import DAY, WARMUP, Bench
from tests.screens.conftest import ShowRack
from tests.screens.test_touches import WAIT_MS

MOST_TABS = 60


class Keys:
    """Somebody at a keyboard."""

    def __init__(self, qtbot: QtBot, window: RackWindow) -> None:
        self.qtbot, self.window = qtbot, window

    @property
    def view(self) -> RackView:
        assert self.window.view is not None
        return self.window.view

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        self.qtbot.keyClick(self.window.focusWidget() or self.window, key, modifier)

    def letter(self, key: Qt.Key, opens: QWidget) -> None:
        """A letter is taken for a shortcut once it is clear that it is no badge."""
        self.press(key)
        self.qtbot.waitUntil(opens.isVisible, timeout=WAIT_MS)

    def pick(self, words: str) -> None:
        """Tab to the control with these words, turning pages, and Enter."""
        for _ in range(MOST_TABS):
            focused = self.window.focusWidget()
            if isinstance(focused, QAbstractButton) and getattr(focused, "words", "") == words:
                self.press(Qt.Key.Key_Return)
                return
            on_last = focused is self.window.drawer.more_button
            self.press(Qt.Key.Key_Return if on_last else Qt.Key.Key_Tab)
        raise AssertionError(f"no key leads to {words!r}")

    def more(self, *pages: str) -> None:
        self.letter(Qt.Key.Key_M, self.window.drawer)
        for words in pages:
            self.pick(words)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    made.record.add_rows("staff", [{"name": "Coach Minke"}])
    yield made
    made.rack.close()
    made.record.close()


@pytest.fixture
def keys(qtbot: QtBot, bench: Bench, show_rack: ShowRack, monkeypatch: pytest.MonkeyPatch) -> Keys:
    bench.rack._use_setup(replace(bench.rack.setup, staff=("Coach Minke",)))
    window = show_rack(bench.view)

    def show(item: RackView | LiveTrace) -> None:
        window.show_view(item) if isinstance(item, RackView) else window.add_trace(item)

    monkeypatch.setattr(bench.rack, "_show", show)
    monkeypatch.setattr(window._touches, "_actions", bench.rack)
    for button, act in ((window.controls.undo, bench.rack.undo), (window.controls.end, bench.rack.end_set)):
        button.clicked.disconnect()
        button.clicked.connect(act)
    bench.rack.publish()
    return Keys(qtbot, window)


def test_a_whole_session_with_keys_alone(bench: Bench, keys: Keys) -> None:
    window = keys.window
    assert window.cautions.isVisible()
    keys.press(Qt.Key.Key_Return)
    assert not window.cautions.isVisible()
    keys.more("Sign in", "Coach Minke")
    assert keys.view.staff == "Coach Minke"
    # Who: by shirt number, by place in the group, out of all names.
    keys.qtbot.keyClicks(window, "8")
    keys.press(Qt.Key.Key_Return)
    assert keys.view.athlete is not None
    assert keys.view.athlete.name == "Bela"
    keys.press(Qt.Key.Key_F1)
    assert keys.view.athlete.name == "Aino"
    keys.letter(Qt.Key.Key_A, window.everybody)
    keys.pick("8")
    assert keys.view.athlete.name == "Bela"
    # The bar: lift, a load that is offered, a step.
    keys.letter(Qt.Key.Key_B, window.drawer)
    keys.pick("95 kg")
    keys.press(Qt.Key.Key_Minus)
    assert keys.view.load_kg == 92.5
    keys.press(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    keys.press(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert keys.view.load_kg == 60.0
    keys.letter(Qt.Key.Key_B, window.drawer)
    keys.pick("Stop")
    keys.pick("15 % loss")
    assert keys.view.stop_loss == 0.15
    # The set, its end, and what the coach makes of the suggestion.
    bench.lift(WARMUP)
    assert keys.view.set is not None
    assert not keys.view.set.is_open
    keys.letter(Qt.Key.Key_C, window.drawer)
    keys.pick("82.5 kg")
    assert (keys.view.decision, keys.view.load_kg) == (Decision.CHANGE, 82.5)
    # A rep struck out and put back, effort marked, the set moved, all by keys.
    keys.letter(Qt.Key.Key_S, window.drawer)
    keys.pick(f"Rep 3 {keys.view.set.reps[2].mean_velocity_m_s:.2f}")
    assert keys.view.set.reps[2].status is RepStatus.STRUCK
    keys.press(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert keys.view.set.reps[2].status is not RepStatus.STRUCK
    keys.press(Qt.Key.Key_F)
    keys.qtbot.waitUntil(lambda: keys.view.set is not None and keys.view.set.not_full_effort, timeout=WAIT_MS)
    keys.letter(Qt.Key.Key_S, window.drawer)
    keys.pick("Aino")
    assert [row.athlete_id for row in bench.record.sets_on(DAY)] == ["a"]
    # One load wrong for all sets from a time on.
    first = keys.view.session_sets[0]
    keys.more("Several sets", f"{first.clock} {first.athlete}", "62.5 kg")
    assert [row.load_kg for row in bench.record.sets_on(DAY)] == [62.5]
    # The next one, a guest, nobody, another lift, the screen itself.
    keys.press(Qt.Key.Key_N)
    keys.qtbot.waitUntil(lambda: keys.view.next_athlete_id is None, timeout=WAIT_MS)
    keys.more("Guest")
    assert keys.view.athlete.name == "Guest 1"
    keys.more("No name")
    assert keys.view.athlete is None
    keys.letter(Qt.Key.Key_B, window.drawer)
    keys.pick("Lift")
    keys.pick("bench press")
    assert keys.view.lift == "bench press"
    keys.more("Screen", "Size", "125 %")
    assert keys.view.settings.scale_percent == 125
    keys.more("Limits", "5 % down")
    assert keys.view.settings.most_down == 0.05
    keys.more("Athlete")
    assert window.coach.isVisible()
    keys.press(Qt.Key.Key_Escape)
    assert not window.coach.isVisible()
    with bench.record.database.read() as connection:
        by = connection.exec_driver_sql("SELECT DISTINCT staff FROM corrections").scalars().all()
    assert by == ["Coach Minke"]


@pytest.mark.parametrize("state", ["session start", "mid set", "slower", "set over", "ask a coach"])
@pytest.mark.parametrize("large", [False, True], ids=["100", "200"])
def test_tab_reaches_every_control_in_every_state(
    qtbot: QtBot, show_rack: ShowRack, state: str, large: bool
) -> None:
    view = states()[state]
    settings = replace(view.settings, scale_percent=200 if large else 100)
    window = show_rack(replace(view, settings=settings))
    usable = {b for b in window.findChildren(QAbstractButton) if b.isVisible() and b.isEnabled()}
    reached = set()
    for _ in range(len(usable) + 6):
        qtbot.keyClick(window.focusWidget() or window, Qt.Key.Key_Tab)
        reached.add(window.focusWidget())
    assert usable <= reached
