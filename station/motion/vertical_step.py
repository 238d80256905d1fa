"""What is vertical of one frame, made ready for the filter, and how much of it may be noise."""

from __future__ import annotations

from math import sqrt

from drivers.samples import FloatArray
from station.motion.frames import Three
from station.motion.live import STATES, VerticalStep
from station.motion.parameters import STANDARD_GRAVITY_M_S2, EngineParameters
from station.motion.steps import FrameStep

_TILT_LASTS_S = 0.3
_CLIPPED_M_S = 0.1  # what a blow with samples at the range's limit may miss at least


class StepNoise:
    """How much of each frame's velocity step its samples leave unexplained."""

    def __init__(self, parameters: EngineParameters) -> None:
        self._parameters = parameters
        self._missed_m_s = 0.0

    def of(self, frame: FrameStep) -> tuple[float, float]:
        """Variance of the step, m2/s2, and what its shocks may have spoilt of the velocity, m/s."""
        p, lost = self._parameters, frame.lost_s
        clip = self._missed(frame)
        shock = p.shock_share * frame.jolt_m_s
        hole = 1.5 * lost * min(lost / 0.1, 1.0)
        variance = p.acc_walk_m_s2_rthz**2 * frame.duration_s + shock**2 + hole**2 + clip**2
        return variance, frame.jolt_m_s + clip

    def _missed(self, frame: FrameStep) -> float:
        """What samples at the range's limit may miss of the velocity step, m/s: frame after frame to one side."""
        if not frame.clipped:
            self._missed_m_s = 0.0
            return 0.0
        before = self._missed_m_s
        self._missed_m_s = max(before + frame.missed_m_s, _CLIPPED_M_S)
        return sqrt(self._missed_m_s**2 - before**2)


def vertical_step(
    frame: FrameStep, up: Three, missing_m_s2: float, move: FloatArray, noise: float, wander_m: float
) -> VerticalStep:
    """What is vertical of a frame's integrals.

    Args:
        frame: one frame, with integrals in the inertial frame.
        up: direction of up in it.
        missing_m_s2: of gravity does not show along this `up`.
        move: what each unit of the state before adds to height and velocity, shape (24,).
        noise: variance of the velocity step, m2/s2.
        wander_m: spread of height about its mean, over a second.
    """
    t, (x, y, z), (vx, vy, vz), (sx, sy, sz) = frame.duration_s, up, frame.dv, frame.ds
    gravity = STANDARD_GRAVITY_M_S2 - missing_m_s2
    return VerticalStep(
        t,
        vx * x + vy * y + vz * z - gravity * t,
        sx * x + sy * y + sz * z - 0.5 * gravity * t * t,
        move.reshape(2, STATES),
        noise + missing_m_s2**2 * _TILT_LASTS_S * t,
        wander_m,
    )
