"""Real sensors: strokes against optics, and walking that is no lift. Sources: tests/data/README.md."""

import numpy as np
import pytest

from station.commands.replay import PlacementChoice
from station.motion.events import FailedRep, JumpMeasured, RepMeasured
from tests.motion.recordings import HAND, WALKS, events_of, optical_strokes


@pytest.fixture(scope="module")
def strokes_and_reps() -> tuple[np.ndarray, list[RepMeasured]]:
    events = events_of(HAND, PlacementChoice.BAR)
    return optical_strokes(), [event for event in events if isinstance(event, RepMeasured)]


def _overlapping(stroke: np.ndarray, reps: list[RepMeasured]) -> list[RepMeasured]:
    middle = 0.5 * (stroke[0] + stroke[1])
    return [rep for rep in reps if rep.start_time_s < middle < rep.end_time_s]


def test_every_stroke_over_20_cm_is_found_once(
    strokes_and_reps: tuple[np.ndarray, list[RepMeasured]],
) -> None:
    strokes, reps = strokes_and_reps
    long_ones = strokes[strokes[:, 2] > 0.2]
    assert len(long_ones) == 11
    assert [len(_overlapping(stroke, reps)) for stroke in long_ones] == [1] * 11


def test_no_stroke_over_20_cm_is_invented(strokes_and_reps: tuple[np.ndarray, list[RepMeasured]]) -> None:
    strokes, reps = strokes_and_reps
    found = [rep for stroke in strokes for rep in _overlapping(stroke, reps)]
    assert [rep for rep in reps if rep not in found and rep.displacement_m > 0.2] == []


def test_mean_velocity_agrees_with_the_optics(strokes_and_reps: tuple[np.ndarray, list[RepMeasured]]) -> None:
    strokes, reps = strokes_and_reps
    pairs = [(_overlapping(s, reps)[0], s) for s in strokes if s[2] > 0.2]
    errors = np.array([rep.mean_velocity_m_s - stroke[3] for rep, stroke in pairs])
    assert np.abs(errors).max() < 0.03
    assert np.abs(errors.mean()) < 0.012
    stated = np.array([rep.uncertainty_m_s for rep, _ in pairs])
    assert (np.abs(errors) < stated).all()
    peaks = np.array([rep.peak_velocity_m_s / stroke[4] - 1 for rep, stroke in pairs])
    assert np.abs(peaks.mean()) < 0.03


@pytest.mark.parametrize("path", WALKS, ids=lambda path: path.stem)
def test_walking_gives_no_rep(path) -> None:
    events = events_of(path, PlacementChoice.BAR)
    assert [event for event in events if isinstance(event, RepMeasured | FailedRep)] == []


@pytest.mark.parametrize("path", WALKS, ids=lambda path: path.stem)
def test_walking_gives_no_jump(path) -> None:
    assert [e for e in events_of(path, PlacementChoice.BELT) if isinstance(e, JumpMeasured)] == []
