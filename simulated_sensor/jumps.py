"""Countermovement jumps as a belt sensor feels them, with exact take-off, landing and height.

The path is a chain of quintic pieces and one ballistic piece: height and flight time are exact by construction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BPoly

from drivers.samples import FloatArray
from simulated_sensor.imu_errors import SensorErrors, bench_calibrated_sensor, sense
from simulated_sensor.kinematics import (
    FINE_RATE_HZ,
    GRAVITY_M_S2,
    BarMotion,
    Mounting,
    felt_by_sensor,
    standing_sway,
)
from simulated_sensor.trace import SensorTrace

State = tuple[float, float, float]
"""Height, velocity, acceleration."""


@dataclass(frozen=True, slots=True)
class TrueJump:
    """One jump: flight from take-off to landing, and the belt's rise after take-off."""

    takeoff_time_s: float
    landing_time_s: float
    height_m: float


@dataclass(frozen=True, slots=True)
class PlannedJump:
    """How one jump is done: rise after take-off, countermovement, landing above take-off, trunk pitch."""

    height_m: float
    depth_m: float = 0.30
    landing_above_m: float = 0.0
    pitch_deg: float = 30.0


def make_jump_trace(
    jumps: list[PlannedJump], *, seed: int, sensor: SensorErrors | None = None, soft_tissue_m_s2: float = 8.0
) -> tuple[SensorTrace, tuple[TrueJump, ...]]:
    """Quiet stance, the jumps with some seconds between, quiet stance."""
    rng = np.random.default_rng(seed)
    path = _Path(rng)
    path.stand(3.0)
    truth = []
    for plan in jumps:
        truth.append(path.jump(plan))
        path.stand(rng.uniform(2.0, 4.0))
    motion = path.build(soft_tissue_m_s2)
    errors = sensor or bench_calibrated_sensor(rng)
    mounting = Mounting.random(rng, 0.0)
    force, rate = felt_by_sensor(motion, mounting)
    acc, gyr = sense(force, rate, errors, rng)
    return SensorTrace(errors.rate_hz, acc, gyr), tuple(truth)


class _Path:
    """Collects the pieces of the belt's height and the trunk's pitch."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.height: list[FloatArray] = []
        self.pitch: list[FloatArray] = []
        self.bumps: list[int] = []
        self.length = 0

    def stand(self, seconds: float) -> None:
        self._add(np.zeros(round(seconds * FINE_RATE_HZ)), 0.0, 0.0)

    def jump(self, plan: PlannedJump) -> TrueJump:
        """Down, up, flight, landing, and up to stance again."""
        leave = float(np.sqrt(2 * GRAVITY_M_S2 * plan.height_m))
        top_of_push = 0.09
        fall = plan.height_m - plan.landing_above_m
        flight_s = _on_grid((leave + float(np.sqrt(2 * GRAVITY_M_S2 * fall))) / GRAVITY_M_S2)
        meet = leave - GRAVITY_M_S2 * flight_s
        rise = leave * flight_s - 0.5 * GRAVITY_M_S2 * flight_s**2
        bottom: State = (-plan.depth_m, 0.0, self.rng.uniform(8.0, 13.0))
        takeoff: State = (top_of_push, leave, -GRAVITY_M_S2)
        landing: State = (top_of_push + rise, meet, -GRAVITY_M_S2)
        caught: State = (-0.5 * plan.depth_m, 0.0, 6.0)
        self._quintic((0.0, 0.0, 0.0), bottom, self.rng.uniform(0.45, 0.65), 0.0, plan.pitch_deg)
        self._quintic(bottom, takeoff, (plan.depth_m + top_of_push) / (0.55 * leave), plan.pitch_deg, 0.0)
        start_s = self.length / FINE_RATE_HZ
        self.bumps.append(self.length)
        t = np.arange(round(flight_s * FINE_RATE_HZ)) / FINE_RATE_HZ
        self._add(top_of_push + leave * t - 0.5 * GRAVITY_M_S2 * t * t, 0.0, 5.0)
        self.bumps.append(self.length)
        drop = landing[0] - caught[0]
        self._quintic(landing, caught, drop / (0.5 * -meet), 5.0, 0.6 * plan.pitch_deg)
        self._quintic(caught, (0.0, 0.0, 0.0), self.rng.uniform(0.6, 1.0), 0.6 * plan.pitch_deg, 0.0)
        return TrueJump(start_s, start_s + flight_s, plan.height_m)

    def build(self, soft_tissue_m_s2: float) -> BarMotion:
        """The whole movement as the sensor feels it."""
        self.stand(3.0)
        height = np.concatenate(self.height)
        n = len(height)
        position = np.column_stack([np.zeros(n), np.zeros(n), height]) + standing_sway(self.rng, n)
        pitch = np.radians(np.concatenate(self.pitch))
        angles = np.column_stack([pitch, np.zeros(n), np.zeros(n)])
        return BarMotion(position, angles, self._soft_tissue(n, soft_tissue_m_s2), ())

    def _soft_tissue(self, n: int, peak_m_s2: float) -> FloatArray:
        """Ringing of the belt on the body at 8 to 16 Hz after take-off and landing."""
        out = np.zeros((n, 3))
        for index, start in enumerate(self.bumps):
            strength = 1.0 if index % 2 else 0.4  # landings shake more than take-offs
            t = np.arange(min(round(0.6 * FINE_RATE_HZ), n - start)) / FINE_RATE_HZ
            omega = 2 * np.pi * self.rng.uniform(8.0, 16.0)
            wave = (1 - np.exp(-((t / 0.03) ** 2))) * np.exp(-t / 0.10) * np.sin(omega * t)
            out[start : start + len(t), 2] += wave * strength * peak_m_s2 / omega**2
        return out

    def _quintic(self, before: State, after: State, seconds: float, pitch: float, pitch_after: float) -> None:
        seconds = _on_grid(seconds)
        piece = BPoly.from_derivatives([0.0, seconds], [list(before), list(after)])
        t = np.arange(round(seconds * FINE_RATE_HZ)) / FINE_RATE_HZ
        self._add(np.asarray(piece(t), dtype=np.float64), pitch, pitch_after)

    def _add(self, height: FloatArray, pitch: float, pitch_after: float) -> None:
        s = np.linspace(0.0, 1.0, len(height))
        self.height.append(height)
        self.pitch.append(pitch + (pitch_after - pitch) * s**3 * (10 - 15 * s + 6 * s * s))
        self.length += len(height)


def _on_grid(seconds: float) -> float:
    """A whole number of grid steps: pieces must join without a jerk."""
    return round(seconds * FINE_RATE_HZ) / FINE_RATE_HZ
