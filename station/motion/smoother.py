"""The fixed-interval smoother over a decision's reach: height and velocity at every frame end, from both sides.

Same model as the live filter, solved as one banded least-squares problem (two unknowns a frame, LAPACK does the rest)
bordered by the sensor's constants.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivers.samples import FloatArray, IntArray
from station.motion.banded import factorised, solved_by_factor
from station.motion.live import BOTTOM, CONSTANTS, MIDDLE, TOP


@dataclass(frozen=True, eq=False, slots=True)
class SmootherInput:
    """What is known of one stretch of n frames.

    Attributes:
        duration_s: of each frame, shape (n,).
        dv_m_s, ds_m: single and double integral of vertical acceleration over each frame, shape (n,).
        on_velocity, on_height: what each unit of the constants adds to the two, shape (n, 10).
        velocity_noise: variance of the velocity step, shape (n,), m2/s2.
        rest_sigma_m_s: of zero velocity at each frame end, shape (n,); 0 where it is not assumed.
        top_sigma_m, bottom_sigma_m: of the height about the movement's top or bottom, shape (n,); 0: no turn there.
        wander_m: spread of height about its mean over a second, shape (n,).
        first_state, first_covariance: height, velocity and constants at the start, shapes (12,) and (12, 12).
    """

    duration_s: FloatArray
    dv_m_s: FloatArray
    ds_m: FloatArray
    on_velocity: FloatArray
    on_height: FloatArray
    velocity_noise: FloatArray
    rest_sigma_m_s: FloatArray
    top_sigma_m: FloatArray
    bottom_sigma_m: FloatArray
    wander_m: FloatArray
    first_state: FloatArray
    first_covariance: FloatArray


@dataclass(frozen=True, eq=False, slots=True)
class Smoothed:
    """Height and velocity at start and frame ends, shape (n + 1,), and what variances are computed from."""

    height_m: FloatArray
    velocity_m_s: FloatArray
    constants: FloatArray
    _factor: FloatArray
    _spread_by_constants: FloatArray
    _constants_covariance: FloatArray

    def variance_of_rise(self, first: int, last: int) -> float:
        """Variance of the height difference between two nodes, m2."""
        pick = np.zeros(2 * len(self.height_m))
        pick[2 * last] += 1.0
        pick[2 * first] -= 1.0
        return self._variance(pick)

    def variance_by(self, constants: slice, first: int, last: int) -> float:
        """The part of it that some of the constants make, m2."""
        by_these = (self._spread_by_constants[2 * last] - self._spread_by_constants[2 * first])[constants]
        return float(by_these @ self._constants_covariance[constants, constants] @ by_these)

    def variance_of_velocity(self, node: int) -> float:
        """Variance of the velocity at a node, m2/s2."""
        pick = np.zeros(2 * len(self.height_m))
        pick[2 * node + 1] = 1.0
        return self._variance(pick)

    def velocity_covariance(self, nodes: IntArray) -> FloatArray:
        """Covariance of the velocities at some nodes, shape (k, k), m2/s2."""
        pick = np.zeros((2 * len(self.height_m), len(nodes)))
        pick[2 * nodes + 1, np.arange(len(nodes))] = 1.0
        own = solved_by_factor(self._factor, pick)[2 * nodes + 1]
        by_constants = self._spread_by_constants[2 * nodes + 1]
        together: FloatArray = own + by_constants @ self._constants_covariance @ by_constants.T
        return together

    def _variance(self, pick: FloatArray) -> float:
        own = float(pick @ solved_by_factor(self._factor, pick))
        by_constants = pick @ self._spread_by_constants
        return own + float(by_constants @ self._constants_covariance @ by_constants)


def smooth(known: SmootherInput) -> Smoothed:
    """Most likely course of height and velocity given everything in the stretch."""
    n, t = len(known.duration_s), known.duration_s
    weight = np.stack([1.0 / (known.velocity_noise * t * t / 3 + 1e-12), 1.0 / known.velocity_noise], axis=1)
    step = np.stack([known.ds_m, known.dv_m_s], axis=1)
    by_constants = np.stack([known.on_height, known.on_velocity], axis=1)
    move = np.zeros((n, 2, 2))
    move[:, 0, 0] = move[:, 1, 1] = 1.0
    move[:, 0, 1] = t
    # rows of "next - move @ previous - by_constants @ constants = step", each weighed by its noise
    back = (move * weight[:, :, None]).transpose(0, 2, 1)
    blocks = np.zeros((n + 1, 2, 2))
    blocks[:-1] += np.matmul(back, move)
    blocks[1:, 0, 0] += weight[:, 0] + t / known.wander_m**2
    rest = known.rest_sigma_m_s > 0
    blocks[1:, 1, 1] += weight[:, 1] + np.where(
        rest, 1.0 / np.where(rest, known.rest_sigma_m_s, 1.0) ** 2, 0.0
    )
    right = np.zeros((n + 1, 2, 1 + CONSTANTS))
    columns = np.concatenate([step[:, :, None], -by_constants], axis=2)
    right[1:] += weight[:, :, None] * columns
    right[:-1] -= np.matmul(back, columns)
    weighed = (weight[:, :, None] * by_constants).reshape(-1, CONSTANTS)
    square = by_constants.reshape(-1, CONSTANTS).T @ weighed
    pull = -weighed.T @ step.ravel()
    stays = t / known.wander_m**2
    right[1:, 0, 1 + MIDDLE] -= stays
    square[MIDDLE, MIDDLE] += stays.sum()
    for which, sigma in ((TOP, known.top_sigma_m), (BOTTOM, known.bottom_sigma_m)):
        for node in np.flatnonzero(sigma):
            weight_here = 1.0 / sigma[node] ** 2
            blocks[node + 1, 0, 0] += weight_here
            right[node + 1, 0, 1 + which] -= weight_here
            square[which, which] += weight_here
    prior = np.linalg.inv(known.first_covariance)
    at_first = prior @ known.first_state
    blocks[0] += prior[:2, :2]
    right[0, :, 0] += at_first[:2]
    right[0, :, 1:] += prior[:2, 2:]
    return _solved(
        blocks, -back, right.reshape(-1, 1 + CONSTANTS), square + prior[2:, 2:], pull + at_first[2:]
    )


def _solved(
    blocks: FloatArray, above: FloatArray, right: FloatArray, square: FloatArray, pull: FloatArray
) -> Smoothed:
    """Solve the bordered system: first column of `right` is the right side, the others couple to the constants."""
    factor = factorised(_banded(blocks, above))
    solved = solved_by_factor(factor, right)
    covariance: FloatArray = np.linalg.inv(square - right[:, 1:].T @ solved[:, 1:]).astype(np.float64)
    constants = covariance @ (pull - right[:, 1:].T @ solved[:, 0])
    nodes = (solved[:, 0] - solved[:, 1:] @ constants).reshape(-1, 2)
    return Smoothed(nodes[:, 0], nodes[:, 1], constants, factor, solved[:, 1:], covariance)


def _banded(blocks: FloatArray, above: FloatArray) -> FloatArray:
    """Upper banded form (4, 2 (n + 1)) of a block tridiagonal matrix with 2 x 2 blocks."""
    banded = np.zeros((4, 2 * len(blocks)))
    for i in range(2):
        for j in range(i, 2):
            banded[3 + i - j, j::2] = blocks[:, i, j]
        for j in range(2):
            banded[1 + i - j, 2 + j :: 2] = above[:, i, j]
    return banded
