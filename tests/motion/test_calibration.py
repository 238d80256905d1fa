import numpy as np
import pytest

from station.motion.calibration import (
    Calibration,
    CalibrationRefused,
    calibrated,
    face_of,
    missing_faces,
    normal_gravity_m_s2,
    rest_is_off,
)

RNG = np.random.default_rng(3)
AXES = [sign * np.eye(3)[axis] for axis in range(3) for sign in (1.0, -1.0)]
TILTED = [np.array(v) / np.linalg.norm(v) for v in ([1, 1, 0], [1, 0, -1], [0, -1, 1], [-1, 1, 1])]


@pytest.mark.parametrize(
    ("latitude_deg", "height_m", "gravity"),
    [
        (0.0, 0.0, 9.7803253359),  # WGS-84, NIMA TR8350.2: at the equator
        (90.0, 0.0, 9.8321849378),  # and at the pole
        (45.0, 0.0, 9.8061978),  # Somigliana's formula, computed apart
        (50.0, 0.0, 9.810702135603085),  # worked examples in the documentation of the package ahrs
        (50.0, 100.0, 9.810393625316983),
    ],
)
def test_normal_gravity_is_that_of_wgs_84(latitude_deg: float, height_m: float, gravity: float) -> None:
    assert normal_gravity_m_s2(latitude_deg, height_m) == pytest.approx(gravity, abs=6e-8)


def _rests(
    directions: list[np.ndarray], bias: np.ndarray, gain: np.ndarray, noise: float = 0.03
) -> list[np.ndarray]:
    return [gain @ (9.81 * up) + bias + RNG.normal(0, noise, (400, 3)) for up in directions]


def test_six_faces_give_back_bias_and_scale() -> None:
    bias, gain = np.array([0.3, -0.2, 0.15]), np.diag([1.02, 0.985, 1.01])
    found = calibrated(_rests(AXES, bias, gain), 9.81)
    np.testing.assert_allclose(found.bias_m_s2, bias, atol=0.01)
    np.testing.assert_allclose(np.diag(found.matrix @ gain), 1.0, atol=0.001)


def test_more_faces_give_back_cross_axis_too() -> None:
    cross = np.array([[1.01, 0.008, -0.005], [0.008, 0.99, 0.004], [-0.005, 0.004, 1.02]])
    found = calibrated(_rests(AXES + TILTED, np.array([0.1, 0.2, -0.3]), cross), 9.81)
    np.testing.assert_allclose(found.matrix @ cross, np.eye(3), atol=0.002)


def test_calibrated_force_at_rest_has_the_size_of_gravity_on_any_face() -> None:
    rests = _rests(AXES + TILTED, np.array([0.3, -0.2, 0.15]), np.diag([1.02, 0.985, 1.01]))
    found = calibrated(rests, 9.81)
    sizes = [np.linalg.norm(found.apply(rest).mean(axis=0)) for rest in rests]
    np.testing.assert_allclose(sizes, 9.81, atol=0.01)


def test_the_missing_face_is_named() -> None:
    rests = _rests(AXES[:5], np.zeros(3), np.eye(3))
    assert missing_faces(rests) == ["-z"]
    with pytest.raises(CalibrationRefused, match="-z"):
        calibrated(rests)


def test_a_tilted_sensor_lies_on_no_face() -> None:
    assert face_of(np.array([5.0, 6.0, 5.5])) is None
    assert face_of(np.array([0.2, -9.7, 0.5])) == "-y"


@pytest.mark.parametrize(
    ("rests", "reason"),
    [
        (_rests(AXES, np.zeros(3), np.eye(3), noise=0.5), "moved"),
        (_rests(AXES, np.array([2.5, 0, 0]), np.eye(3)), "bias"),
        (_rests(AXES, np.zeros(3), np.diag([1.2, 1.0, 1.0])), "scale"),
    ],
    ids=["moved", "bias", "scale"],
)
def test_a_bad_run_is_refused_with_the_reason(rests: list[np.ndarray], reason: str) -> None:
    with pytest.raises(CalibrationRefused, match=reason):
        calibrated(rests, 9.81)


def test_a_sensor_off_by_over_half_a_percent_at_rest_is_noticed() -> None:
    assert rest_is_off(np.array([0.0, 0.0, 9.81]), Calibration(gravity_m_s2=9.81)) is None
    assert rest_is_off(np.array([0.0, 0.0, 9.87]), Calibration(gravity_m_s2=9.81)) == pytest.approx(
        0.0061, abs=1e-4
    )
