"""Countermovement jumps as a belt sensor feels them, with exact take-off, landing and height."""

from __future__ import annotations

import numpy as np

from simulated_sensor.imu_errors import SensorErrors, bench_calibrated_sensor, sense
from simulated_sensor.jump_path import BeltFit, BeltPath, PlannedJump, TrueJump
from simulated_sensor.kinematics import Mounting, felt_by_sensor
from simulated_sensor.trace import SensorTrace
from simulated_sensor.velocity_shapes import FINE_RATE_HZ

TIGHT = BeltFit()


def make_steps_trace(*, seed: int, count: int = 4, sensor: SensorErrors | None = None) -> SensorTrace:
    """Quiet stance and steps up and down: nothing of it is a jump."""
    rng = np.random.default_rng(seed)
    path = BeltPath(rng)
    path.stand(3.0)
    for _ in range(count):
        path.step_off()
        path.stand(rng.uniform(1.5, 3.0))
    return _sensed(path, rng, sensor, TIGHT)


def make_hops_trace(
    *, seed: int, count: int = 6, height_m: float = 0.08, sensor: SensorErrors | None = None
) -> SensorTrace:
    """Quiet stance, hopping on the spot to keep warm, quiet stance: nothing of it is a jump."""
    rng = np.random.default_rng(seed)
    path = BeltPath(rng)
    path.stand(3.0)
    path.hops(count, height_m)
    path.stand(2.0)
    return _sensed(path, rng, sensor, TIGHT)


def make_handling_trace(*, seed: int, sensor: SensorErrors | None = None) -> SensorTrace:
    """A belt that is put on, pulled tight and turned round the waist while its wearer shifts from foot to foot."""
    rng = np.random.default_rng(seed)
    path = BeltPath(rng)
    path.stand(1.0)
    for _ in range(6):
        path.pulled(rng.uniform(0.3, 0.8), rng.uniform(-0.05, 0.08), rng.uniform(-40.0, 40.0))
    path.stand(2.0)
    return _sensed(path, rng, sensor, TIGHT)


def make_turns_trace(
    turns: list[list[PlannedJump]],
    waits_s: list[float],
    *,
    seed: int,
    sensor: SensorErrors | None = None,
) -> tuple[SensorTrace, tuple[TrueJump, ...]]:
    """A belt along a jump line: before each turn a wait in which it is put on, then stance and that turn's jumps.

    Args:
        turns: the jumps of each athlete who wears it, in order.
        waits_s: how long the belt has before each turn.
    """
    rng = np.random.default_rng(seed)
    path = BeltPath(rng)
    truth = []
    for turn, wait_s in zip(turns, waits_s, strict=True):
        begun = path.length
        path.stand(0.5)
        while path.length - begun < (wait_s - 3.5) * FINE_RATE_HZ:  # put on, then stance
            path.pulled(rng.uniform(0.3, 0.6), rng.uniform(-0.04, 0.06), rng.uniform(-30.0, 30.0))
        path.stand(max(wait_s - (path.length - begun) / FINE_RATE_HZ, 1.5))
        for plan in turn:
            truth.append(path.jump(plan))
            path.stand(rng.uniform(2.0, 2.5))
    return _sensed(path, rng, sensor, TIGHT), tuple(truth)


def make_jump_trace(
    jumps: list[PlannedJump], *, seed: int, sensor: SensorErrors | None = None, fit: BeltFit = TIGHT
) -> tuple[SensorTrace, tuple[TrueJump, ...]]:
    """Quiet stance, the jumps with some seconds between, quiet stance."""
    rng = np.random.default_rng(seed)
    path = BeltPath(rng)
    path.stand(3.0)
    truth = []
    for plan in jumps:
        truth.append(path.jump(plan))
        path.stand(rng.uniform(2.0, 4.0))
    return _sensed(path, rng, sensor, fit), tuple(truth)


def _sensed(
    path: BeltPath, rng: np.random.Generator, sensor: SensorErrors | None, fit: BeltFit
) -> SensorTrace:
    motion = path.build(fit)
    errors = sensor or bench_calibrated_sensor(rng)
    mounting = Mounting.random(rng, 0.0)
    force, rate = felt_by_sensor(motion, mounting)
    acc, gyr = sense(force, rate, errors, rng)
    return SensorTrace(errors.rate_hz, acc, gyr)
