"""The direction of up over a decision's reach, from both sides: what the causal tilt could not know yet.

Same model as the tilt filter, linearised about its causal course: position, velocity and remaining tilt at every
frame end, one banded problem for both horizontal axes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivers.samples import FloatArray
from station.motion.banded import solved
from station.motion.parameters import STANDARD_GRAVITY_M_S2

_STATES = 3


@dataclass(frozen=True, eq=False, slots=True)
class TiltInput:
    """One stretch of n frames.

    Attributes:
        duration_s: shape (n,).
        dv_m_s: integral of specific force over each frame, inertial frame, shape (n, 3).
        up: causal direction of up at each frame, shape (n, 3).
        velocity_noise, tilt_noise: variances of the steps, shape (n,).
        rest_sigma_m_s: of zero velocity at each frame end, shape (n,); 0 where it is not assumed.
        stray_m, drift_m_s: spread of horizontal place and velocity about zero over a second, shape (n,).
        first_spread: variances of position, velocity and tilt at the start, shape (3,).
    """

    duration_s: FloatArray
    dv_m_s: FloatArray
    up: FloatArray
    velocity_noise: FloatArray
    tilt_noise: FloatArray
    rest_sigma_m_s: FloatArray
    stray_m: FloatArray
    drift_m_s: FloatArray
    first_spread: FloatArray


def smoothed_up(known: TiltInput) -> FloatArray:
    """Direction of up in the middle of each frame, unit vectors, shape (n, 3)."""
    n, t, g = len(known.duration_s), known.duration_s, STANDARD_GRAVITY_M_S2
    weight = np.stack(
        [
            1.0 / (known.velocity_noise * t * t / 3 + 1e-10),
            1.0 / known.velocity_noise,
            1.0 / known.tilt_noise,
        ],
        axis=1,
    )
    move = np.zeros((n, 3, 3))
    move[:, [0, 1, 2], [0, 1, 2]] = 1.0
    move[:, 0, 1], move[:, 0, 2], move[:, 1, 2] = t, -0.5 * g * t * t, -g * t
    along = (known.dv_m_s * known.up).sum(axis=1)
    horizontal = known.dv_m_s - along[:, None] * known.up
    turned = np.diff(known.up, axis=0, append=known.up[-1:])
    step = np.stack([0.5 * t[:, None] * horizontal, horizontal, -turned], axis=1)
    back = (move * weight[:, :, None]).transpose(0, 2, 1)
    blocks = np.zeros((n + 1, 3, 3))
    blocks[:-1] += np.matmul(back, move)
    blocks[1:, [0, 1, 2], [0, 1, 2]] += weight
    blocks[1:, 0, 0] += t / known.stray_m**2
    rest = known.rest_sigma_m_s > 0
    held = np.where(rest, 1.0 / np.where(rest, 2 * known.rest_sigma_m_s, 1.0) ** 2, 0.0)
    blocks[1:, 1, 1] += t / known.drift_m_s**2 + held
    blocks[0, [0, 1, 2], [0, 1, 2]] += 1.0 / known.first_spread
    right = np.zeros((n + 1, 3, 3))
    right[1:] += weight[:, :, None] * step
    right[:-1] -= np.matmul(back, step)
    nodes = solved(_banded(blocks, -back), right.reshape(-1, 3))
    remaining = nodes.reshape(-1, 3, 3)[:, 2]
    up = known.up + 0.5 * (remaining[:-1] + remaining[1:])
    unit: FloatArray = up / np.sqrt((up * up).sum(axis=1))[:, None]
    return unit


def _banded(blocks: FloatArray, above: FloatArray) -> FloatArray:
    """Upper banded form (6, 3 (n + 1)) of a block tridiagonal matrix with 3 x 3 blocks."""
    banded = np.zeros((2 * _STATES, _STATES * len(blocks)))
    for i in range(_STATES):
        for j in range(i, _STATES):
            banded[5 + i - j, j::3] = blocks[:, i, j]
        for j in range(_STATES):
            banded[2 + i - j, 3 + j :: 3] = above[:, i, j]
    return banded
