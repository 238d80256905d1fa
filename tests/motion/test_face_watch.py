"""A sensor laid on its faces and leaned: what is seen, what is missing, and what a touch does."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from station.motion.calibration import Calibration, calibrated
from station.motion.face_watch import REST_S, FaceWatch
from station.motion.rest_geometry import FACES, LEANS

RATE_HZ = 100.0
ENOUGH = int(REST_S * RATE_HZ) + 1


def lying(face: str, samples: int = ENOUGH, seed: int = 1) -> np.ndarray:
    up = np.zeros(3)
    up["xyz".index(face[1])] = 1.0 if face[0] == "+" else -1.0
    return held(up, samples, seed)


def held(up: np.ndarray, samples: int = ENOUGH, seed: int = 1) -> np.ndarray:
    force = 9.81 * up / np.linalg.norm(up)
    return force + np.random.default_rng(seed).normal(0, 0.03, (samples, 3))


def leaned(*ups: tuple[float, float, float]) -> list[np.ndarray]:
    return [held(np.array(up)) for up in ups]


def on_all_faces() -> FaceWatch:
    watch = FaceWatch(RATE_HZ)
    for face in FACES:
        watch.take(lying(face))
    return watch


def test_six_faces_in_any_order_and_six_leans_are_enough_to_calibrate() -> None:
    watch = FaceWatch(RATE_HZ)
    for face in reversed(FACES):
        assert face in watch.missing
        assert watch.take(lying(face))
    assert watch.missing == []
    assert not watch.complete
    for lean in leaned((1, 1, 0), (0.6, 0, -0.8), (0, -0.8, 0.6), (-1, -1.4, 0), (-1, 0, 1), (0, 1, -1)):
        assert watch.take(lean)
    assert watch.complete
    assert abs(calibrated(watch.all_rests, 9.81).bias_m_s2).max() < 0.01


def test_a_face_that_is_touched_is_not_taken_until_it_has_lain_still() -> None:
    watch = FaceWatch(RATE_HZ)
    touched = lying("+z")
    touched[ENOUGH // 2] += [2.0, 0.0, 0.0]
    assert not watch.take(touched)
    assert "+z" in watch.missing
    assert watch.take(lying("+z"))


def test_a_sensor_in_the_hand_lies_on_no_face() -> None:
    watch = FaceWatch(RATE_HZ)
    tilted = np.tile(9.81 * np.array([0.6, 0.6, 0.53]), (3 * ENOUGH, 1))
    assert not watch.take(tilted)
    assert watch.face is None
    assert watch.missing == list(FACES)


def test_after_the_faces_the_leans_are_missing_one_by_one() -> None:
    watch = on_all_faces()
    assert watch.missing_leans == list(LEANS)
    for lean in leaned((1, 1, 0), (0, -1, 1)):
        watch.take(lean)
    assert watch.missing_leans == ["x/y turned over", "x/z", "x/z turned over", "y/z turned over"]
    watch.take(
        *leaned((-1, 1, 0))
    )  # between these faces as well, but not the same lean upside down: used all the same
    assert watch.missing_leans == ["x/y turned over", "x/z", "x/z turned over", "y/z turned over"]
    for lean in leaned((-1, -1, 0), (1, 0, 1), (0, 1, -1)):
        watch.take(lean)
    assert watch.missing_leans == ["x/z turned over"]
    watch.take(*leaned((-1, 0, -1)))
    assert watch.complete
    assert len(watch.all_rests) == 13


def test_a_lean_seen_before_counts_once() -> None:
    watch = on_all_faces()
    assert watch.take(*leaned((1, 1, 0)))
    assert not watch.take(*leaned((1, 0.9, 0.1)))
    assert (watch.lean, watch.share, len(watch.leans)) == (None, 1.0, 1)


def test_a_lean_is_followed_while_it_rests() -> None:
    watch = on_all_faces()
    watch.take(held(np.array([1.0, 0.0, -1.0]), ENOUGH // 2))
    assert watch.lean == "x/z"
    watch.take(held(np.array([1.0, 0.0, -1.0])))
    watch.take(held(np.array([-1.0, 0.0, 1.0]), ENOUGH // 2))
    assert watch.lean == "x/z turned over"
    assert 0.4 < watch.share < 0.6


def test_a_lean_that_slips_is_not_taken_until_it_rests() -> None:
    watch = on_all_faces()
    angle = np.linspace(np.radians(35), np.radians(55), ENOUGH)
    slipping = 9.81 * np.column_stack([np.cos(angle), np.sin(angle), np.zeros(ENOUGH)])
    assert not watch.take(slipping)
    assert "x/y" in watch.missing_leans
    assert watch.take(held(np.array([1.0, 1.0, 0.0]), 2 * ENOUGH))


def test_values_that_are_no_numbers_are_not_taken() -> None:
    watch = FaceWatch(RATE_HZ)
    broken = lying("+x")
    broken[5] = np.nan
    assert not watch.take(broken)


@settings(max_examples=20)
@given(st.integers(1, 60))
def test_blocks_of_any_size_finish_a_face(size: int) -> None:
    watch, samples = FaceWatch(RATE_HZ), lying("-y", 2 * ENOUGH)
    assert sum(watch.take(samples[i : i + size]) for i in range(0, len(samples), size)) == 1


def test_a_calibration_comes_back_from_plain_numbers() -> None:
    made = Calibration(
        np.array([0.1, -0.2, 0.3]), np.diag([1.01, 0.99, 1.0]), 9.8, 0.01, cross_axis_known=True
    )
    back = Calibration.from_row(made.as_row())
    assert np.array_equal(back.bias_m_s2, made.bias_m_s2)
    assert np.array_equal(back.matrix, made.matrix)
    assert (back.gravity_m_s2, back.residual_m_s2) == (9.8, 0.01)
    assert back.cross_axis_known
