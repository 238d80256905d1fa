"""Which face a sensor lies on, between which it leans, and which cross-axis terms its rests can tell."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.motion.rest_geometry import (
    FACES,
    LEANS,
    PAIRS,
    face_of,
    missing_faces,
    missing_leans,
    open_pairs,
    pair_of,
    same_lean,
    turned_over,
)

AXES = np.concatenate([np.eye(3), -np.eye(3)])


def leaning(pair: str, degrees: float = 45.0) -> np.ndarray:
    force = np.zeros(3)
    angle = np.radians(degrees)
    force["xyz".index(pair[0])], force["xyz".index(pair[2])] = np.cos(angle), np.sin(angle)
    return 9.81 * force


def test_a_tilted_sensor_lies_on_no_face() -> None:
    assert face_of(np.array([5.0, 6.0, 5.5])) is None
    assert face_of(np.array([0.2, -9.7, 0.5])) == "-y"


def test_the_faces_not_seen_are_missing() -> None:
    assert missing_faces(AXES[:5]) == ["-z"]
    assert missing_faces(np.empty((0, 3))) == list(FACES)


@pytest.mark.parametrize("pair", PAIRS)
@given(degrees=st.floats(30, 60), signs=st.tuples(*[st.sampled_from([-1, 1])] * 3))
def test_a_lean_of_30_to_60_degrees_is_between_two_faces_and_tells_their_cross_axis_term_alone(
    pair: str, degrees: float, signs: tuple[int, int, int]
) -> None:
    lean = leaning(pair, degrees) * signs
    assert face_of(lean) is None
    assert pair_of(lean) == pair
    assert open_pairs(np.vstack([9.81 * AXES, lean])) == [other for other in PAIRS if other != pair]


def test_a_corner_and_a_face_are_no_lean_between_two_faces() -> None:
    assert pair_of(np.array([5.6, -5.6, 5.6])) is None
    assert pair_of(np.array([0.1, 9.8, 0.1])) is None


def test_a_slight_lean_tells_no_cross_axis_term() -> None:
    assert open_pairs(np.vstack([9.81 * AXES, *[leaning(pair, 10.0) for pair in PAIRS]])) == list(PAIRS)


def test_leans_within_25_degrees_are_the_same() -> None:
    assert same_lean(leaning("x/y", 35.0), leaning("x/y", 55.0))
    assert not same_lean(leaning("x/y"), leaning("x/z"))
    assert not same_lean(leaning("x/y"), -leaning("x/y"))


def test_of_each_pair_a_lean_and_the_same_turned_over_are_asked_for() -> None:
    leans = [leaning(pair, degrees) for pair in PAIRS for degrees in (35.0, 50.0)]
    assert missing_leans([]) == list(LEANS)
    assert missing_leans(leans) == [f"{pair} turned over" for pair in PAIRS]
    assert missing_leans([*leans, -leaning("x/z")]) == ["x/y turned over", "y/z turned over"]
    assert missing_leans([*leans, *[-lean for lean in leans]]) == []


def test_a_lean_to_the_other_side_is_not_turned_over() -> None:
    assert turned_over(leaning("x/y", 30.0), -leaning("x/y", 60.0))
    assert not turned_over(leaning("x/y"), leaning("x/y") * [-1, 1, 1])


@given(seed=st.integers(0, 10_000))
def test_all_that_is_asked_for_tells_every_cross_axis_term_however_askew_it_lay(seed: int) -> None:
    rng = np.random.default_rng(seed)
    askew = [_turned(up, rng.uniform(0, 12), rng) for up in AXES]
    leans = [sign * _turned(leaning(pair, rng.uniform(32, 58)), 8, rng) for pair in PAIRS for sign in (1, -1)]
    assert missing_faces(np.array(askew)) == []
    assert missing_leans(leans) == []
    assert open_pairs(np.array(askew + leans)) == []


def _turned(up: np.ndarray, degrees: float, rng: np.random.Generator) -> np.ndarray:
    """The same force, turned by so much to any side."""
    aside = np.cross(up, rng.normal(size=3))
    angle = np.radians(degrees)
    return np.cos(angle) * up + np.sin(angle) * np.linalg.norm(up) / np.linalg.norm(aside) * aside
