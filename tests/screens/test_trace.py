"""The live trace: a ring of fixed size, painted only when something is new and somebody can see it."""

from __future__ import annotations

import numpy as np
import pytest
from pytestqt.qtbot import QtBot

from station.capture.rack_view import LiveTrace
from station.screens.sample_views import states
from station.screens.trace_plot import MOST_POINTS, TraceBuffer, thinned
from tests.screens.conftest import ShowRack


def chunk(start_s: float, count: int, step_s: float = 0.01) -> LiveTrace:
    time = start_s + step_s * np.arange(count)
    return LiveTrace(time, np.sin(time))


def test_an_empty_ring_gives_nothing() -> None:
    time, velocity = TraceBuffer().last(8.0)
    assert time.size == velocity.size == 0


def test_time_runs_up_to_the_newest_sample() -> None:
    ring = TraceBuffer(capacity=50)
    ring.add(chunk(5.0, 3))
    time, velocity = ring.last(8.0)
    assert time == pytest.approx([-0.02, -0.01, 0.0])
    assert velocity == pytest.approx(np.sin([5.0, 5.01, 5.02]))


@pytest.mark.parametrize("size", [1, 7, 64, 200])
def test_the_ring_keeps_the_newest_in_order_for_any_chunk_size(size: int) -> None:
    ring = TraceBuffer(capacity=100)
    for first in range(0, 600, size):
        ring.add(chunk(first * 0.01, min(size, 600 - first)))
    time, velocity = ring.last(100.0)
    assert time == pytest.approx(-0.01 * np.arange(99, -1, -1))
    assert velocity == pytest.approx(np.sin(5.99 + time))


def test_only_the_asked_stretch_is_given() -> None:
    ring = TraceBuffer(capacity=1000)
    ring.add(chunk(0.0, 900))
    time, _ = ring.last(2.0)
    assert time[0] == pytest.approx(-2.0, abs=0.011)


@pytest.mark.parametrize("count", [0, 1, MOST_POINTS, MOST_POINTS + 1, 5 * MOST_POINTS + 3])
def test_thinning_keeps_the_newest_point(count: int) -> None:
    values = np.arange(float(count))
    kept = thinned(values)
    assert kept.size <= MOST_POINTS
    assert list(kept[-1:]) == list(values[-1:])
    assert np.all(np.diff(kept) > 0)


def test_the_coach_sees_the_newest_samples(qtbot: QtBot, show_rack: ShowRack) -> None:
    window = show_rack(states()["mid set"])
    window.add_trace(chunk(0.0, 300))
    qtbot.waitUntil(lambda: window.trace.shown_points() == 300)
    window.add_trace(chunk(3.0, 100))
    qtbot.waitUntil(lambda: window.trace.shown_points() == 400)


def test_the_athletes_part_is_not_repainted_by_the_trace(qtbot: QtBot, show_rack: ShowRack) -> None:
    window = show_rack(states()["mid set"])
    painted: list[str] = []
    number = window.now.number
    original = number.paint
    number.paint = lambda *args: (painted.append("number"), original(*args))  # type: ignore[method-assign]
    window.add_trace(chunk(0.0, 200))
    qtbot.waitUntil(lambda: window.trace.shown_points() == 200)
    assert painted == []


def test_a_hidden_trace_is_not_painted(show_rack: ShowRack) -> None:
    window = show_rack(states()["slower"])
    assert not window.trace.isVisible()
    window.add_trace(chunk(0.0, 200))
    window.trace.paint_now()
    assert window.trace.shown_points() == 0


@pytest.mark.benchmark(group="screens")
def test_a_rep_is_painted_quickly(benchmark, show_rack: ShowRack) -> None:  # type: ignore[no-untyped-def]
    window = show_rack(states()["mid set"])
    views = [states()["mid set"], states()["stop reached"]]
    turn = iter(range(10**9))

    def show() -> None:
        window.show_view(views[next(turn) % 2])
        window.repaint()

    benchmark(show)
