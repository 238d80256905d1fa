"""The causal estimate of height and vertical velocity, frame by frame, and how sure that is.

Small on purpose: it runs every frame. What an athlete reads is smoothed afterwards from the same model.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np

from drivers.samples import FloatArray
from station.motion.parameters import EngineParameters

CONSTANTS = 10
"""Upward offset, accelerometer bias on the sensor's axes (3), the sensor's place off the bar's axis (3), and the
heights of the movement's top and bottom and of its middle."""
BIAS, PLACE_OFF_AXIS = slice(0, 4), slice(4, 7)
TOP, BOTTOM, MIDDLE = 7, 8, 9
STATES = 2 + CONSTANTS
"""Height, vertical velocity, and the constants."""
_ANYWHERE_M2 = 1.0
_HERE_M2 = 1e-4
_HEIGHTS = [0, 2 + TOP, 2 + BOTTOM, 2 + MIDDLE]
_CLOSURE_DOUBT = 4.0


class VerticalStep(NamedTuple):
    """What one frame says about the bar's height and vertical velocity.

    Attributes:
        duration_s: of the frame.
        dv_m_s, ds_m: single and double integral of vertical acceleration over it.
        move: what each unit of the state before adds to height and velocity after it, shape (2, 12).
        velocity_noise: variance of what is left unexplained of the velocity step, m2/s2.
        wander_m: spread of height about its mean, over a second.
    """

    duration_s: float
    dv_m_s: float
    ds_m: float
    move: FloatArray
    velocity_noise: float
    wander_m: float


class VerticalFilter:
    """Kalman filter of height, vertical velocity and the constants.

    The sensor's constants: an offset that points up whatever the attitude (scale, local gravity), the accelerometer's
    bias on its own axes (when the bar turns they take turns in pointing up), and its place off the bar's axis.
    The movement's: the heights of its top and bottom, where reps turn.

    Attributes:
        believed: state and covariance, one above the other, shape (13, 12): what is done to the covariance from the
            right is done to the state, and array operations are what this filter spends its time on.
        state, covariance: the two, shapes (12,) and (12, 12), as parts of `believed`.
    """

    def __init__(self, parameters: EngineParameters) -> None:
        self.parameters = parameters
        p = parameters
        constants = [
            p.first_offset_m_s2**2,
            *[p.first_bias_m_s2**2] * 3,
            *[p.off_axis_m**2] * 3,
            *[_ANYWHERE_M2] * 3,
        ]
        self.believed = np.zeros((1 + STATES, STATES))
        self.state, self.covariance = self.believed[0], self.believed[1:]
        self._diagonal = self.covariance.reshape(-1)[:: STATES + 1]
        self._diagonal[:] = [_HERE_M2, 1.0, *constants]
        self._walk = np.array([0.0, 0.0, *[p.bias_walk_m_s2_rts**2] * 4, *[0.0] * 6])
        self._columns = self.believed[:, 0, None], self.believed[:, 1, None]
        self._moving, self._moving_rows = self.believed[:, :2], self.believed[1:3]
        self._by_constants = self.believed[:, 2:]
        heights = np.zeros(STATES)
        heights[_HEIGHTS] = 1.0
        self._keeps = (1.0 - heights) * (1.0 - heights)[:, None]
        self._forgotten = _ANYWHERE_M2 * heights
        self._forgotten[0] = _HERE_M2

    @property
    def height(self) -> float:
        """m, from an origin that is moved now and then."""
        return self.believed.item(0)

    @property
    def velocity(self) -> float:
        """Up positive, m/s."""
        return self.believed.item(1)

    @property
    def velocity_variance(self) -> float:
        """m2/s2."""
        return self.covariance.item(1, 1)

    def acceleration_offset(self, step: VerticalStep) -> tuple[float, float]:
        """What the constants add to measured vertical acceleration, and its standard deviation, m/s2."""
        by_constants = step.move[1, 2:]
        shared = self._by_constants.dot(by_constants)
        variance = float(by_constants.dot(shared[3:]))
        return shared.item(0) / -step.duration_s, sqrt(max(variance, 0.0)) / step.duration_s

    def predict(self, step: VerticalStep) -> None:
        """One frame on: height and velocity move, the constants stay what they are."""
        t, noise, move = step.duration_s, step.velocity_noise, step.move
        moved = self.believed.dot(move.T)
        spread = move.dot(moved[1:])
        spread[0, 0] += noise * t * t / 3 + 1e-12
        spread[1, 1] += noise
        moved[0, 0] += step.ds_m
        moved[0, 1] += step.dv_m_s
        moved[1:3] = spread
        self._moving[:] = moved
        self._moving_rows[:] = moved[1:].T
        self._diagonal += self._walk * t
        self._stays(step.wander_m**2 / max(t, 1e-3))

    def at_rest(self, sigma_m_s: float) -> None:
        """Velocity is zero, within sigma."""
        self._observe(1, sigma_m_s * sigma_m_s)

    def moves_at(self, velocity_m_s: float, sigma_m_s: float) -> None:
        """Velocity is this, within sigma."""
        self.state[1] -= velocity_m_s
        self.at_rest(sigma_m_s)
        self.state[1] += velocity_m_s

    def _observe(self, which: int, variance: float) -> None:
        """That state is zero, with this variance."""
        column = self._columns[which]
        self.believed -= column * (column[1:, 0] * (1.0 / (column.item(1 + which) + variance)))

    def _stays(self, variance: float) -> None:
        """The bar is about the middle of where it is, with this variance."""
        column = self.believed[:, 0] - self.believed[:, 2 + MIDDLE]
        self.believed -= np.multiply.outer(
            column, column[1:] * (1.0 / (column.item(1) - column.item(3 + MIDDLE) + variance))
        )

    def turned(self, which: int, sigma_m: float, above_m: float = 0.0) -> float:
        """The bar turned at the top or bottom it has turned at before, within sigma; returns the sigma that was used.

        It did so here, or a moment ago `above_m` higher than here. Where the height is too far off for that, the bar
        did not come back there: the closure loosens accordingly.
        """
        state = 2 + which
        off, predicted, doubtful = self.off_turn(which, sigma_m, above_m)
        row = self.covariance[0] - self.covariance[state]
        used = off * off - predicted if doubtful else sigma_m**2
        gain = row / (predicted + used)
        self.state += gain * off
        self.covariance -= np.multiply.outer(gain, row)
        return sqrt(used)

    def off_turn(self, which: int, sigma_m: float, above_m: float = 0.0) -> tuple[float, float, bool]:
        """How far the bar is from where it turned before, m; the variance of that; and whether it is beyond doubt."""
        state = 2 + which
        row = self.covariance[0] - self.covariance[state]
        predicted = float(row[0] - row[state])
        off = float(self.state[state] - self.state[0]) - above_m
        return off, predicted, off * off > _CLOSURE_DOUBT * (predicted + sigma_m**2)

    def doubt_velocity(self, variance: float, since_s: float) -> None:
        """The velocity may have been off by this variance, m2/s2, for so long; the height then is as well."""
        off = np.array([since_s, 1.0])
        self.covariance[:2, :2] += variance * np.multiply.outer(off, off)

    def forget_height(self) -> None:
        """The present height is sure: heights are only ever compared within a decision's reach."""
        self.covariance *= self._keeps
        self._diagonal += self._forgotten

    def restart(self) -> None:
        """After a hole in the data or a fall only the sensor's constants are still known."""
        self.state[:2] = 0.0
        self.covariance[:2, :] = self.covariance[:, :2] = 0.0
        self.covariance[1, 1] = 1.0
        self.forget_height()


def forget_turns(covariance: FloatArray) -> None:
    """Nothing is known of the heights of top and bottom any more, in each of the covariances (n, 12, 12)."""
    for state in (2 + TOP, 2 + BOTTOM):
        covariance[:, state, :] = covariance[:, :, state] = 0.0
        covariance[:, state, state] = _ANYWHERE_M2
