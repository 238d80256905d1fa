"""The path of a belt through countermovement jumps, steps and hops, piece by piece.

A chain of quintic pieces and one ballistic piece: height and flight time are exact by construction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BPoly

from drivers.samples import FloatArray
from simulated_sensor.kinematics import GRAVITY_M_S2, BarMotion
from simulated_sensor.shaking import standing_sway
from simulated_sensor.velocity_shapes import FINE_RATE_HZ

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
    """How one jump is done.

    Attributes:
        height_m: rise after take-off.
        depth_m: countermovement.
        landing_above_m: landing above take-off; below (negative) with tucked knees.
        pitch_deg: of the trunk at the bottom.
        double_dip: a shallow dip and rise just before the countermovement.
        rebound_m: height of a second hop right out of the landing; 0: none.
        arm_swing_m_s2: what arms that swing in flight make the trunk feel.
    """

    height_m: float
    depth_m: float = 0.30
    landing_above_m: float = 0.0
    pitch_deg: float = 30.0
    double_dip: bool = False
    rebound_m: float = 0.0
    arm_swing_m_s2: float = 0.0


@dataclass(frozen=True, slots=True)
class BeltFit:
    """How the belt sits.

    Attributes:
        soft_tissue_m_s2: ringing of the belt on the body at take-off and landing.
        slide_m, slide_deg: by how much it slips down and turns at every landing.
    """

    soft_tissue_m_s2: float = 8.0
    slide_m: float = 0.0
    slide_deg: float = 0.0


class BeltPath:
    """Collects the pieces of the belt's height and the trunk's pitch."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.height: list[FloatArray] = []
        self.pitch: list[FloatArray] = []
        self.bumps: list[int] = []
        self.swings: list[tuple[int, int, float]] = []
        self.length = 0

    def stand(self, seconds: float) -> None:
        """Quiet stance."""
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
        if plan.double_dip:
            self._quintic((0.0, 0.0, 0.0), (-0.15, 0.0, 7.0), 0.35, 0.0, 0.5 * plan.pitch_deg)
            self._quintic((-0.15, 0.0, 7.0), (0.0, 0.0, -5.0), 0.30, 0.5 * plan.pitch_deg, 0.0)
            self._quintic((0.0, 0.0, -5.0), bottom, 0.40, 0.0, plan.pitch_deg)
        else:
            self._quintic((0.0, 0.0, 0.0), bottom, self.rng.uniform(0.45, 0.65), 0.0, plan.pitch_deg)
        self._quintic(bottom, takeoff, (plan.depth_m + top_of_push) / (0.55 * leave), plan.pitch_deg, 0.0)
        start_s = self.length / FINE_RATE_HZ
        self.bumps.append(self.length)
        t = np.arange(round(flight_s * FINE_RATE_HZ)) / FINE_RATE_HZ
        self._add(top_of_push + leave * t - 0.5 * GRAVITY_M_S2 * t * t, 0.0, 5.0)
        self.swings.append((self.bumps[-1], self.length, plan.arm_swing_m_s2))
        self.bumps.append(self.length)
        drop = landing[0] - caught[0]
        self._quintic(landing, caught, drop / (0.5 * -meet), 5.0, 0.6 * plan.pitch_deg)
        if plan.rebound_m:
            self._rebound(caught, plan)
        self._quintic(caught, (0.0, 0.0, 0.0), self.rng.uniform(0.6, 1.0), 0.6 * plan.pitch_deg, 0.0)
        return TrueJump(start_s, start_s + flight_s, plan.height_m)

    def _rebound(self, caught: State, plan: PlannedJump) -> None:
        """Out of the landing into a second, smaller hop, and caught at the same depth again."""
        leave = float(np.sqrt(2 * GRAVITY_M_S2 * plan.rebound_m))
        up: State = (0.05, leave, -GRAVITY_M_S2)
        rise = 0.05 - caught[0]
        self._quintic(caught, up, rise / (0.55 * leave), 0.6 * plan.pitch_deg, 0.0)
        seconds = _on_grid(2 * leave / GRAVITY_M_S2)
        t = np.arange(round(seconds * FINE_RATE_HZ)) / FINE_RATE_HZ
        self._add(0.05 + leave * t - 0.5 * GRAVITY_M_S2 * t * t, 0.0, 0.0)
        self.bumps += [self.length, self.length]  # one that shakes little, one that shakes like a landing
        meet = leave - GRAVITY_M_S2 * seconds
        down: State = (0.05 + leave * seconds - 0.5 * GRAVITY_M_S2 * seconds**2, meet, -GRAVITY_M_S2)
        self._quintic(down, caught, (down[0] - caught[0]) / (0.5 * -meet), 0.0, 0.6 * plan.pitch_deg)

    def hops(self, count: int, height_m: float) -> None:
        """One hop after the other out of slightly bent knees."""
        caught: State = (-0.10, 0.0, 6.0)
        self._quintic((0.0, 0.0, 0.0), caught, 0.35, 0.0, 6.0)
        for _ in range(count):
            self._rebound(caught, PlannedJump(0.3, rebound_m=height_m, pitch_deg=10.0))
        self._quintic(caught, (0.0, 0.0, 0.0), 0.7, 6.0, 0.0)

    def pulled(self, seconds: float, up_m: float, turn_deg: float) -> None:
        """Hands move and tilt the belt there and back."""
        there: State = (up_m, 0.0, 0.0)
        self._quintic((0.0, 0.0, 0.0), there, seconds, 0.0, turn_deg)
        self._quintic(there, (0.0, 0.0, 0.0), seconds, turn_deg, 0.0)

    def step_off(self) -> None:
        """A step up and down instead of a jump: one light moment, never free of the floor."""
        self._quintic((0.0, 0.0, 0.0), (-0.06, 0.0, 4.0), 0.30, 0.0, 8.0)
        self._quintic((-0.06, 0.0, 4.0), (0.10, 0.0, -6.5), 0.30, 8.0, 0.0)
        self.bumps += [self.length, self.length + round(0.25 * FINE_RATE_HZ)]
        self._quintic((0.10, 0.0, -6.5), (-0.05, 0.0, 9.0), 0.25, 0.0, 6.0)
        self._quintic((-0.05, 0.0, 9.0), (0.0, 0.0, 0.0), 0.45, 6.0, 0.0)

    def build(self, fit: BeltFit) -> BarMotion:
        """The whole movement as the sensor feels it."""
        self.stand(3.0)
        height = np.concatenate(self.height)
        n = len(height)
        position = np.column_stack([np.zeros(n), np.zeros(n), height]) + standing_sway(self.rng, n)
        pitch = np.radians(np.concatenate(self.pitch))
        slipped = self._slipped(n)
        position[:, 2] -= fit.slide_m * slipped
        turn = np.radians(fit.slide_deg) * slipped
        angles = np.column_stack([pitch, turn, np.zeros(n)])
        ringing = self._soft_tissue(n, fit.soft_tissue_m_s2)
        ringing[:, 2] += self._arms(n)
        return BarMotion(position, angles, ringing, ())

    def _slipped(self, n: int) -> FloatArray:
        """How many landings the belt has slipped at so far: a smooth step over 0.12 s at each."""
        out = np.zeros(n)
        for start in self.bumps[1::2]:
            s = np.clip((np.arange(n) - start) / (0.12 * FINE_RATE_HZ), 0.0, 1.0)
            out += s**3 * (10 - 15 * s + 6 * s * s)
        return out

    def _arms(self, n: int) -> FloatArray:
        """Displacement of the trunk by arms that go up and come down in flight: a raised cosine over it."""
        out = np.zeros(n)
        for start, stop, felt in self.swings:
            t = np.linspace(0.0, 2 * np.pi, stop - start)
            omega = 2 * np.pi * FINE_RATE_HZ / (stop - start)
            out[start:stop] += felt / omega**2 * (np.cos(t) - 1.0)
        return out

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
