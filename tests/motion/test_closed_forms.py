"""Motions with exact answers. Values: closed forms, recomputed to five places (g = 9.80665)."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from drivers.samples import TimedBlock
from simulated_sensor.truth import true_rep
from station.motion.attitude import AttitudeChain, rotated
from station.motion.bounds import mean_velocity, measure, upward_runs
from station.motion.engine import MotionEngine
from station.motion.frames import frame_ends, integrals, padded, turned_within
from station.motion.parameters import EngineParameters
from tests.motion.streams import reps_of, run

P = EngineParameters()
RATE_HZ = 2000.0


def _half_sine(peak: float, seconds: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    t = np.arange(round((seconds + 2) * RATE_HZ)) / RATE_HZ - 1.0
    inside = (t >= 0) & (t <= seconds)
    phase = np.pi * t / seconds
    velocity = np.where(inside, peak * np.sin(phase), 0.0)
    acceleration = np.where(inside, peak * np.pi / seconds * np.cos(phase), 0.0)
    return t + 1.0, velocity, acceleration


def _minimum_jerk(distance: float, seconds: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    t = np.arange(round((seconds + 2) * RATE_HZ)) / RATE_HZ - 1.0
    s = np.clip(t / seconds, 0.0, 1.0)
    velocity = distance / seconds * 30 * s**2 * (1 - s) ** 2
    acceleration = distance / seconds**2 * 60 * s * (1 - s) * (1 - 2 * s)
    return t + 1.0, velocity, acceleration


# peak velocity, duration, range of motion, mean and mean propulsive velocity of a half-sine: MV = 2 Vp / pi; braking
# harder than gravity begins at t* = T / pi arccos(-g T / (pi Vp)) where pi Vp / T > g
HALF_SINES = [
    (0.6, 1.2, 0.45837, 0.38197, 0.38197),
    (1.0, 0.7, 0.44563, 0.63662, 0.63662),
    (1.5, 0.4, 0.38197, 0.95493, 1.07610),
    (2.0, 0.4, 0.50930, 1.27324, 1.44702),
]


@pytest.mark.parametrize(("peak", "seconds", "rom", "mean", "propulsive"), HALF_SINES)
def test_half_sine_gives_its_closed_form(
    peak: float, seconds: float, rom: float, mean: float, propulsive: float
) -> None:
    time, velocity, acceleration = _half_sine(peak, seconds)
    (run_,) = upward_runs(time, velocity, P)
    rep = measure(time, velocity, acceleration, run_, P)
    assert rep.peak_velocity_m_s == pytest.approx(peak, abs=1e-4)
    assert rep.displacement_m == pytest.approx(rom, abs=3e-4)
    assert rep.mean_velocity_m_s == pytest.approx(mean, rel=2e-3)
    assert rep.mean_propulsive_velocity_m_s == pytest.approx(propulsive, rel=3e-3)


# MV = D / T, PV = 1.875 D / T; the bounds rule cuts a minimum-jerk curve's slow ends, so MV is a little larger
@pytest.mark.parametrize(
    ("distance", "seconds", "peak", "propulsive_share"),
    [(0.60, 1.00, 1.12500, 1.0), (0.50, 0.60, 1.56250, 1.0), (0.60, 0.50, 2.25000, 1.41171 / 1.2)],
)
def test_minimum_jerk_gives_its_closed_form(
    distance: float, seconds: float, peak: float, propulsive_share: float
) -> None:
    time, velocity, acceleration = _minimum_jerk(distance, seconds)
    (run_,) = upward_runs(time, velocity, P)
    rep = measure(time, velocity, acceleration, run_, P)
    assert rep.peak_velocity_m_s == pytest.approx(peak, abs=1e-4)
    assert rep.displacement_m == pytest.approx(distance, rel=0.01)
    assert 1.0 < rep.mean_velocity_m_s / (distance / seconds) < 1.12
    share = rep.mean_propulsive_velocity_m_s / rep.mean_velocity_m_s
    assert share == pytest.approx(propulsive_share, rel=0.03)


@pytest.mark.parametrize(("peak", "seconds", "rom", "mean", "propulsive"), HALF_SINES)
def test_the_simulators_truth_follows_the_same_rule(
    peak: float, seconds: float, rom: float, mean: float, propulsive: float
) -> None:
    time, velocity, acceleration = _half_sine(peak, seconds)
    (run_,) = upward_runs(time, velocity, P)
    rep = measure(time, velocity, acceleration, run_, P)
    true = true_rep(velocity, 0, len(velocity))
    assert true is not None
    assert true.mean_velocity_m_s == pytest.approx(rep.mean_velocity_m_s, rel=1e-4)
    assert true.mean_propulsive_velocity_m_s == pytest.approx(rep.mean_propulsive_velocity_m_s, rel=2e-3)
    assert true.displacement_m == pytest.approx(rep.displacement_m, rel=1e-4)


def test_the_engine_measures_a_half_sine_felt_by_a_tilted_sensor() -> None:
    """An ideal sensor, 200 Hz, any attitude. Half a sample of its jump in acceleration is 0.011 m/s."""
    _, _, acceleration = _half_sine(1.0, 0.7)
    still = np.zeros(round(3 * RATE_HZ))
    force = np.zeros((2 * len(still) + len(acceleration), 3))
    force[:, 2] = 9.80665 + np.concatenate([still, acceleration, still])
    sensor = Rotation.from_euler("xyz", [0.4, -1.1, 2.0])
    acc = sensor.apply(force)[::10]
    n = len(acc)
    block = TimedBlock(np.arange(n) / 200.0, np.arange(n), acc, np.zeros((n, 3)))
    (rep,) = reps_of(run(MotionEngine("bar"), [block]))
    assert rep.mean_velocity_m_s == pytest.approx(0.63662, abs=0.008)
    assert rep.peak_velocity_m_s == pytest.approx(1.0, abs=0.012)
    assert rep.displacement_m == pytest.approx(0.44563, abs=0.009)


def test_mean_velocity_alone_is_the_one_that_goes_with_the_other_figures() -> None:
    time, velocity, acceleration = _half_sine(0.7, 0.9)
    (run,) = upward_runs(time, velocity, P)
    together = measure(time, velocity, acceleration, run, P).mean_velocity_m_s
    assert mean_velocity(time, velocity, run, P, velocity) == together


def test_movements_that_never_pass_8_cm_s_are_no_reps() -> None:
    time, velocity, _ = _half_sine(0.079, 3.0)
    assert upward_runs(time, velocity, P) == []


def test_a_sticking_region_belongs_to_the_movement() -> None:
    time = np.arange(0, 4, 0.001)
    velocity = np.interp(time, [0, 1, 1.3, 1.6, 1.75, 2.2, 2.6, 4], [0, 0, 0.4, 0.03, 0.03, 0.4, 0, 0])
    assert len(upward_runs(time, velocity, P)) == 1


def test_attitude_agrees_with_scipy_rotation_on_the_same_turning() -> None:
    """Strapdown integration against scipy's Rotation, composed sample by sample."""
    rng = np.random.default_rng(4)
    t = np.arange(2000) / 200.0
    rate = np.column_stack([2 * np.sin(2 * t), 1.5 * np.cos(3 * t), np.sin(t + 1)])
    acc = rng.normal(0, 5, (len(t), 3))
    frames = padded(t, acc, rate, frame_ends(t, P.frame_s))
    force, angle = turned_within(frames, np.zeros((len(frames.time_s), 3)))
    attitude = AttitudeChain().turn(angle)
    steps = Rotation.from_rotvec(0.5 * (rate[1:] + rate[:-1]) / 200.0)
    expected = Rotation.identity()
    for step in steps[: int(frames.samples.sum())]:
        expected = expected * step
    off = (Rotation.from_matrix(attitude[-1]).inv() * expected).magnitude()
    assert np.degrees(off) < 0.01
    _, double = integrals(frames.time_s, rotated(attitude[:-1], force))
    assert np.isfinite(double).all()
