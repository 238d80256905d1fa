"""What is known at a frame's end, for whoever follows the running estimate."""

from __future__ import annotations

from typing import NamedTuple

from station.motion.attitude import Stillness
from station.motion.frames import Three


class FrameEstimate(NamedTuple):
    """What is known at a frame's end.

    Attributes:
        end_s, duration_s: of the frame.
        velocity_m_s, height_m: causal estimate.
        stillness: of the last window.
        resting: zero velocity was assumed.
        lost_s: longest hole in the frame, s.
        low_m_s2, high_m_s2: smallest and largest value of each axis.
        force_m_s2: size of the mean specific force.
        turn_rad: the frame's turn in the inertial frame; zero without a gyro.
        frames: of the usual length that it stands for.
    """

    end_s: float
    duration_s: float
    velocity_m_s: float
    height_m: float
    stillness: Stillness
    resting: bool
    lost_s: float
    low_m_s2: list[float]
    high_m_s2: list[float]
    force_m_s2: float
    turn_rad: Three
    with_gyro: bool
    frames: int = 1
