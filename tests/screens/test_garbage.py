"""What a program with screens leaves behind is taken apart on the screen's thread."""

from __future__ import annotations

import gc
import threading
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtWidgets import QApplication, QMenu, QWidget
from pytestqt.qtbot import QtBot

from station.screens.garbage import EVERYTHING_EVERY_S, CollectHere, due
from station.screens.opening import screens_application

three = st.tuples(st.integers(0, 3000), st.integers(0, 30), st.integers(0, 30))


class Noted(QWidget):
    """A widget with a menu, held by a cycle; it says on which thread it went."""

    went: list[str]

    def __init__(self, went: list[str]) -> None:
        super().__init__()
        self.itself = self
        self.menu = QMenu(self)
        self.menu.addAction("one")
        self.went = went

    def __del__(self) -> None:
        self.went.append(threading.current_thread().name)


class Clock:
    """Seconds as a test sets them."""

    now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def collector(qapp: QApplication) -> Iterator[CollectHere]:
    made = CollectHere(qapp, Clock())
    yield made
    made.setParent(None)
    made.deleteLater()


def _allocate() -> list[list[int]]:
    return [[n] for n in range(50_000)]


def test_a_worker_that_allocates_takes_no_widget_apart(qtbot: QtBot, collector: CollectHere) -> None:
    went: list[str] = []
    Noted(went)
    worker = threading.Thread(target=_allocate, name="worker")
    worker.start()
    worker.join()
    assert went == []
    kept = _allocate()
    collector.collect()
    assert len(kept) == 50_000
    assert went == [threading.main_thread().name]


def test_every_program_with_screens_collects_on_one_thread(qtbot: QtBot) -> None:
    application = screens_application()
    assert screens_application() is application
    assert len(application.findChildren(CollectHere)) == 1
    assert not gc.isenabled()


def test_everything_is_looked_through_once_a_minute_at_most(
    collector: CollectHere, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[int] = []
    monkeypatch.setattr(gc, "get_count", lambda: (701, 11, 11))
    monkeypatch.setattr(gc, "collect", done.append)
    clock = collector._clock_s
    assert isinstance(clock, Clock)
    collector.collect()
    clock.now_s = EVERYTHING_EVERY_S
    collector.collect()
    collector.collect()
    assert done == [1, 2, 1]


@given(counts=three, thresholds=three)
def test_what_is_due_has_passed_its_threshold_and_nothing_older_has(
    counts: tuple[int, int, int], thresholds: tuple[int, int, int]
) -> None:
    generation = due(counts, thresholds)
    passed = [n for n in range(3) if counts[n] > thresholds[n]]
    assert generation == max(passed, default=None)
    assert due(counts, thresholds, everything=False) == max((n for n in passed if n < 2), default=None)
