import numpy as np
import pytest

from station.motion.calibration import (
    Calibration,
    CalibrationRefused,
    calibrated,
    normal_gravity_m_s2,
    rest_is_off,
)

RNG = np.random.default_rng(3)
AXES = [sign * np.eye(3)[axis] for axis in range(3) for sign in (1.0, -1.0)]
TILTED = [np.array(v) / np.linalg.norm(v) for v in ([1, 1, 0], [1, 0, -1], [0, -1, 1], [-1, 1, 1])]
EDGES = [sign * lean for lean in TILTED[:3] for sign in (1.0, -1.0)]


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
    directions: list[np.ndarray],
    bias: np.ndarray,
    gain: np.ndarray,
    noise: float = 0.03,
    rng: np.random.Generator = RNG,
) -> list[np.ndarray]:
    return [gain @ (9.81 * up) + bias + rng.normal(0, noise, (400, 3)) for up in directions]


def test_faces_and_leans_give_back_bias_and_scale() -> None:
    bias, gain = np.array([0.3, -0.2, 0.15]), np.diag([1.02, 0.985, 1.01])
    found = calibrated(_rests(AXES + TILTED, bias, gain), 9.81)
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


@pytest.mark.parametrize("seed", range(12))
def test_a_cheap_sensor_is_known_to_a_tenth_of_a_percent_across_and_two_thousandths_of_g(seed: int) -> None:
    rng = np.random.default_rng(seed)
    bias = rng.choice([-1, 1], 3) * 0.04 * 9.81
    cross = 0.01 * rng.choice([-1, 1], (3, 3))  # not symmetric: the sensor is also turned in its housing
    gain = np.diag(1 + 0.03 * rng.choice([-1, 1], 3)) + cross - np.diag(np.diag(cross))
    found = calibrated(_rests(AXES + EDGES, bias, gain, rng=rng), 9.81)
    whole = found.matrix @ gain  # but for the turn
    np.testing.assert_allclose(whole.T @ whole, np.eye(3), atol=2 * 0.001)
    np.testing.assert_allclose(found.bias_m_s2, bias, atol=0.002 * 9.81)
    assert found.cross_axis_known


def test_an_attitude_never_shown_reads_gravity_only_after_leans() -> None:
    gain = np.array([[1.0, 0.01, 0.01], [0.01, 1.0, 0.01], [0.01, 0.01, 1.0]])
    found = calibrated(_rests(AXES + TILTED, np.zeros(3), gain), 9.81)
    unseen = gain @ (9.81 * np.ones(3) / np.sqrt(3))
    assert np.linalg.norm(unseen) == pytest.approx(9.81 * 1.02, rel=1e-4)  # what the six faces leave as it is
    assert np.linalg.norm(found.apply(unseen[None])) == pytest.approx(9.81, abs=0.01)


@pytest.mark.parametrize(
    ("leans", "reason"),
    [
        ([], "between its faces x/y, x/z, y/z"),
        (TILTED[:1], "between its faces x/z, y/z"),
        ([-TILTED[0], TILTED[2]], "between its faces x/z"),
        (TILTED[3:], "between its faces x/y, x/z, y/z"),
        ([TILTED[0]] * 4, "between its faces x/z, y/z"),
        (TILTED[:3], "One lean more"),
    ],
    ids=["none", "one", "two", "a corner alone", "the same four times", "nothing to check them"],
)
def test_a_sensor_leaned_too_little_is_refused_and_told_what_is_missing(
    leans: list[np.ndarray], reason: str
) -> None:
    with pytest.raises(CalibrationRefused, match=reason):
        calibrated(_rests(AXES + leans, np.zeros(3), np.eye(3)), 9.81)


@pytest.mark.parametrize("bad", range(12))
def test_any_rest_that_was_pushed_is_found_out_by_the_others(bad: int) -> None:
    rests = _rests(AXES + EDGES, np.zeros(3), np.eye(3))
    rests[bad] = rests[bad] * 1.025
    with pytest.raises(CalibrationRefused, match="do not agree"):
        calibrated(rests, 9.81)


def test_a_calibration_kept_from_six_faces_is_read_and_says_that_cross_axis_is_not_known() -> None:
    row = {
        "bias_m_s2": [0.1, 0.0, 0.0],
        "matrix": np.eye(3).tolist(),
        "gravity_m_s2": 9.8,
        "residual_m_s2": 0.0,
    }
    assert not Calibration.from_row(row).cross_axis_known
    assert Calibration.from_row(row | {"cross_axis_known": True}).cross_axis_known


def test_the_missing_face_is_named() -> None:
    rests = _rests(AXES[:5], np.zeros(3), np.eye(3))
    with pytest.raises(CalibrationRefused, match="-z"):
        calibrated(rests)


@pytest.mark.parametrize(
    ("rests", "reason"),
    [
        (_rests(AXES, np.zeros(3), np.eye(3), noise=0.5), "moved"),
        (_rests(AXES + TILTED, np.array([2.5, 0, 0]), np.eye(3)), "bias"),
        (_rests(AXES + TILTED, np.zeros(3), np.diag([1.2, 1.0, 1.0])), "scale"),
        (
            _rests(AXES + TILTED, np.zeros(3), np.eye(3) + 0.08 * np.eye(3)[[1, 0, 2]] * [1, 1, 0]),
            "cross-axis",
        ),
    ],
    ids=["moved", "bias", "scale", "cross-axis"],
)
def test_a_bad_run_is_refused_with_the_reason(rests: list[np.ndarray], reason: str) -> None:
    with pytest.raises(CalibrationRefused, match=reason):
        calibrated(rests, 9.81)


def test_a_sensor_off_by_over_half_a_percent_at_rest_is_noticed() -> None:
    assert rest_is_off(np.array([0.0, 0.0, 9.81]), Calibration(gravity_m_s2=9.81)) is None
    assert rest_is_off(np.array([0.0, 0.0, 9.87]), Calibration(gravity_m_s2=9.81)) == pytest.approx(
        0.0061, abs=1e-4
    )
