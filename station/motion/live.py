"""The causal estimate, frame by frame: which way is up, how fast the bar is, and how sure that is.

Small on purpose: it runs every frame. What an athlete reads is smoothed afterwards from the same model.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from drivers.samples import FloatArray
from station.motion.attitude import Stillness, StillnessReading
from station.motion.parameters import STANDARD_GRAVITY_M_S2, EngineParameters

Vector = tuple[float, float, float]
STATES = 5
"""Height, vertical velocity, accelerometer bias on the sensor's three axes."""


@dataclass
class TiltFollower:
    """The direction of up in the drifting inertial frame.

    In movement, horizontal position and velocity are pulled towards zero with one triple time constant: a bar that
    stays in place takes horizontal acceleration back; what stays is tilt. At rest, up is where the force points.
    """

    settling_s: float
    up: Vector = (0.0, 0.0, 0.0)
    _velocity: Vector = (0.0, 0.0, 0.0)
    _position: Vector = (0.0, 0.0, 0.0)

    def follow(self, dv: Vector, duration: float, stillness: Stillness) -> None:
        """One frame: `dv` is the integral of specific force over it, in the inertial frame."""
        if self.up == (0.0, 0.0, 0.0):
            self.up = _unit(dv)
        if stillness:
            share = 0.3 if stillness == Stillness.ALONE else 0.15
            towards = _unit(dv)
            self.up = _unit(_add(self.up, _scaled(_add(towards, _scaled(self.up, -1.0)), share)))
            self._velocity = (0.0, 0.0, 0.0)
            self._position = _scaled(self._position, 0.8)
            return
        rate = 1.0 / self.settling_s
        along = _dot(dv, self.up)
        horizontal = _add(dv, _scaled(self.up, -along))
        velocity = _add(self._velocity, horizontal)
        position = _add(self._position, _scaled(velocity, duration))
        duration = min(duration, 0.2)
        self._velocity = _add(velocity, _scaled(position, -3 * rate * rate * duration))
        self._position = _scaled(position, 1 - min(3 * rate * duration, 0.9))
        kick = rate**3 / STANDARD_GRAVITY_M_S2 * duration
        self.up = _unit(_add(self.up, _scaled(position, kick)))


class VerticalFilter:
    """Kalman filter of height, vertical velocity and the accelerometer's bias on its own three axes.

    When the bar turns, its axes take turns in pointing up: a bias kept on the sensor's axes stays what it is.
    """

    def __init__(self, parameters: EngineParameters) -> None:
        self.parameters = parameters
        self.state = np.zeros(STATES)
        self.covariance = np.diag([1e-4, 1.0, *[parameters.first_bias_m_s2**2] * 3])
        self._step = np.eye(STATES)

    @property
    def height(self) -> float:
        """m, from an origin that is moved now and then."""
        return float(self.state[0])

    @property
    def velocity(self) -> float:
        """Up positive, m/s."""
        return float(self.state[1])

    @property
    def velocity_variance(self) -> float:
        """m2/s2."""
        return float(self.covariance[1, 1])

    def vertical_bias(self, up_on_axes: FloatArray) -> tuple[float, float]:
        """The bias along up and its standard deviation, m/s2; `up_on_axes` is up on the sensor's axes, shape (3,)."""
        variance = float(up_on_axes @ self.covariance[2:, 2:] @ up_on_axes)
        return float(up_on_axes @ self.state[2:]), sqrt(max(variance, 0.0))

    def predict(
        self, dv: float, ds: float, duration: float, up_on_axes: FloatArray, velocity_noise: float
    ) -> None:
        """One frame on: `dv`, `ds` single and double integral of vertical acceleration; noise as a variance."""
        t = duration
        f = self._step
        f[0, 1] = t
        f[1, 2:] = -t * up_on_axes
        f[0, 2:] = 0.5 * t * f[1, 2:]
        self.state = f @ self.state
        self.state[0] += ds
        self.state[1] += dv
        self.covariance = f @ self.covariance @ f.T
        diagonal = self.covariance.reshape(-1)[:: STATES + 1]
        diagonal[0] += velocity_noise * t * t / 3 + 1e-12
        diagonal[1] += velocity_noise
        diagonal[2:] += self.parameters.bias_walk_m_s2_rts**2 * t

    def at_rest(self, sigma_m_s: float) -> None:
        """Velocity is zero, within sigma."""
        gain = self.covariance[:, 1] / (self.covariance[1, 1] + sigma_m_s * sigma_m_s)
        self.state = self.state - gain * self.state[1]
        self.covariance = self.covariance - np.multiply.outer(gain, self.covariance[1])

    def forget_height(self) -> None:
        """The present height is sure: heights are only ever compared within a decision's reach."""
        self.covariance[0, :] = self.covariance[:, 0] = 0.0
        self.covariance[0, 0] = 1e-4

    def lost(self) -> None:
        """After a hole in the data nothing is known of the velocity."""
        self.state[1] = 0.0
        self.covariance[1, :] = self.covariance[:, 1] = 0.0
        self.covariance[1, 1] = 1.0
        self.covariance[0, 0] += 0.01


def rest_sigma(
    reading: StillnessReading,
    vertical: VerticalFilter,
    vertical_acc_m_s2: float,
    up_on_axes: FloatArray,
    parameters: EngineParameters,
) -> float:
    """How well zero velocity may be assumed now, m/s; 0: not at all.

    A rest that is none acts backwards through the smoother and does more harm than a missed one, so a held bar must
    be predicted slow within what is known, its mean acceleration near zero; only long stillness overrules that.
    """
    p = parameters
    if not reading.stillness:
        return 0.0
    alone = reading.stillness == Stillness.ALONE
    sigma = (
        p.hard_rest_speed_m_s if alone else p.soft_rest_speed_m_s * max(reading.acc_spread_m_s2 / 0.1, 0.7)
    )
    if reading.for_s > (0.6 if alone else 1.5):
        return sigma
    known = sqrt(vertical.velocity_variance + sigma * sigma)
    bias, bias_sd = vertical.vertical_bias(up_on_axes)
    if abs(vertical_acc_m_s2 - bias) > p.rest_mean_acc_m_s2 + 2 * bias_sd:
        return 0.0
    limit = min(3 * known, 0.5) if alone else min(2.5 * known, p.rest_speed_m_s + 0.5 * known)
    return sigma if abs(vertical.velocity) < limit else 0.0


def _add(a: Vector, b: Vector) -> Vector:
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def _scaled(a: Vector, by: float) -> Vector:
    return (a[0] * by, a[1] * by, a[2] * by)


def _dot(a: Vector, b: Vector) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _unit(a: Vector) -> Vector:
    size = sqrt(_dot(a, a))
    return _scaled(a, 1.0 / size) if size > 1e-9 else (0.0, 0.0, 1.0)
