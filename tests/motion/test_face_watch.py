"""A sensor laid on its faces: which are seen, which are missing, and what a touch does."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from station.motion.calibration import FACES, Calibration, calibrated
from station.motion.face_watch import REST_S, FaceWatch

RATE_HZ = 100.0
ENOUGH = int(REST_S * RATE_HZ) + 1


def lying(face: str, samples: int = ENOUGH, seed: int = 1) -> np.ndarray:
    up = np.zeros(3)
    up["xyz".index(face[1])] = 1.0 if face[0] == "+" else -1.0
    return 9.81 * up + np.random.default_rng(seed).normal(0, 0.03, (samples, 3))


def test_six_faces_in_any_order_are_enough_to_calibrate() -> None:
    watch = FaceWatch(RATE_HZ)
    for face in reversed(FACES):
        assert face in watch.missing
        assert watch.take(lying(face))
    assert watch.missing == []
    assert abs(calibrated(list(watch.rests.values()), 9.81).bias_m_s2).max() < 0.01


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
    made = Calibration(np.array([0.1, -0.2, 0.3]), np.diag([1.01, 0.99, 1.0]), 9.8, 0.01)
    back = Calibration.from_row(made.as_row())
    assert np.array_equal(back.bias_m_s2, made.bias_m_s2)
    assert np.array_equal(back.matrix, made.matrix)
    assert (back.gravity_m_s2, back.residual_m_s2) == (9.8, 0.01)
