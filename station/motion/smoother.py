"""The fixed-interval smoother over a decision's reach: height, velocity and bias at every frame end, from both sides.

Same model as the live filter, solved as one banded least-squares problem: 5 unknowns a frame, LAPACK does the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded

from drivers.samples import FloatArray
from station.motion.live import STATES


@dataclass(frozen=True, eq=False, slots=True)
class SmootherInput:
    """What is known of one stretch of frames.

    Attributes:
        duration_s: of each frame, shape (n,).
        dv_m_s, ds_m: single and double integral of vertical acceleration over each frame, shape (n,).
        velocity_noise: variance of the velocity step, shape (n,), m2/s2.
        up_on_axes: up on the sensor's axes, shape (n, 3).
        bias_noise: variance of the bias step, shape (n,).
        rest_sigma_m_s: of zero velocity at each frame end, shape (n,); 0 where it is not assumed.
        first_state: at the start, shape (5,).
        first_covariance: shape (5, 5).
    """

    duration_s: FloatArray
    dv_m_s: FloatArray
    ds_m: FloatArray
    velocity_noise: FloatArray
    up_on_axes: FloatArray
    bias_noise: FloatArray
    rest_sigma_m_s: FloatArray
    first_state: FloatArray
    first_covariance: FloatArray


@dataclass(frozen=True, eq=False, slots=True)
class Smoothed:
    """States at start and frame ends, shapes (n + 1,) and (n + 1, 3), and the factor to ask variances from."""

    height_m: FloatArray
    velocity_m_s: FloatArray
    bias_m_s2: FloatArray
    factor: FloatArray

    def variance_of_rise(self, first: int, last: int) -> float:
        """Variance of the height difference between two nodes, m2."""
        pick = np.zeros(STATES * len(self.height_m))
        pick[STATES * last] += 1.0
        pick[STATES * first] -= 1.0
        return float(pick @ cho_solve_banded((self.factor, False), pick))


def smooth(known: SmootherInput) -> Smoothed:
    """Most likely course of the states given everything in the stretch."""
    n = len(known.duration_s)
    t = known.duration_s
    velocity_noise, size = known.velocity_noise, STATES
    weight = np.empty((n, size))
    weight[:, 0] = 1.0 / (velocity_noise * t * t / 3 + 1e-12)
    weight[:, 1] = 1.0 / velocity_noise
    weight[:, 2:] = (1.0 / known.bias_noise)[:, None]
    step = np.zeros((n, size))
    step[:, 0], step[:, 1] = known.ds_m, known.dv_m_s
    # rows of "next - move @ previous = step", each weighed by its noise
    move = np.zeros((n, size, size))
    move[:, np.arange(size), np.arange(size)] = 1.0
    move[:, 0, 1] = t
    move[:, 1, 2:] = -t[:, None] * known.up_on_axes
    move[:, 0, 2:] = 0.5 * t[:, None] * move[:, 1, 2:]
    weighed = move * weight[:, :, None]
    blocks = np.zeros((n + 1, size, size))
    blocks[:-1] += np.matmul(move.transpose(0, 2, 1), weighed)
    blocks[1:, np.arange(size), np.arange(size)] += weight
    right = np.zeros((n + 1, size))
    right[1:] += weight * step
    right[:-1] -= (weighed * step[:, :, None]).sum(axis=1)
    rest = known.rest_sigma_m_s > 0
    blocks[1:, 1, 1] += np.where(rest, 1.0 / np.where(rest, known.rest_sigma_m_s, 1.0) ** 2, 0.0)
    prior = np.linalg.inv(known.first_covariance)
    blocks[0] += prior
    right[0] += prior @ known.first_state
    factor = cholesky_banded(_banded(blocks, -weighed.transpose(0, 2, 1)), check_finite=False)
    states = cho_solve_banded((factor, False), right.ravel(), check_finite=False).reshape(-1, size)
    return Smoothed(states[:, 0], states[:, 1], states[:, 2:], factor)


def _banded(blocks: FloatArray, above: FloatArray) -> FloatArray:
    """Upper banded form (2 s, s (n+1)) of a block tridiagonal matrix with s x s blocks."""
    size = blocks.shape[1]
    top = 2 * size - 1
    banded = np.zeros((2 * size, size * len(blocks)))
    for i in range(size):
        for j in range(i, size):
            banded[top + i - j, j::size] = blocks[:, i, j]
        for j in range(size):
            banded[top + i - j - size, size + j :: size] = above[:, i, j]
    return banded
