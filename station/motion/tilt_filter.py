"""The causal estimate of which way is up, frame by frame, and how sure that is.

Plain numbers throughout: see `Three`.
"""

from __future__ import annotations

from math import sqrt

from station.motion.frames import Three
from station.motion.parameters import STANDARD_GRAVITY_M_S2, EngineParameters

_FIRST_TILT_RAD = 0.09
_LARGEST_TILT_VARIANCE = 0.5


class TiltFilter:
    """Kalman filter of the direction of up in the drifting inertial frame, by what the bar does horizontally.

    Horizontal position and velocity are pulled towards zero, hard at rest and softly in movement: a bar that stays in
    place takes horizontal acceleration back; what stays is tilt. Both horizontal axes share one covariance; position,
    velocity and tilt are vectors in the inertial frame, tilt being what has to be added to `up`.
    """

    def __init__(self, parameters: EngineParameters) -> None:
        self.parameters = parameters
        self.restart()

    def restart(self) -> None:
        """After a hole in the data or a fall neither velocity nor attitude is known."""
        self._up = self._place = self._velocity = (0.0, 0.0, 0.0)
        self._covariance = (0.01, 0.0, 0.0, 1.0, 0.0, _FIRST_TILT_RAD**2)
        """pp, pv, pt, vv, vt, tt"""

    @property
    def spread(self) -> tuple[float, float, float]:
        """Standard deviations of horizontal place (m) and velocity (m/s) and of tilt (rad), on either axis."""
        pp, _, _, vv, _, tt = self._covariance
        return sqrt(max(pp, 1e-12)), sqrt(max(vv, 1e-12)), sqrt(max(tt, 1e-12))

    @property
    def up(self) -> Three:
        """Direction of up in the inertial frame; zero before the first frame."""
        return self._up

    @property
    def place_m(self) -> Three:
        """Horizontal place, pulled towards zero, in the inertial frame."""
        return self._place

    @property
    def tilt_variance(self) -> float:
        """Of either axis, rad2."""
        return max(self._covariance[5], 1e-12)

    @property
    def speed_m_s(self) -> float:
        """Horizontal speed."""
        x, y, z = self._velocity
        return sqrt(x * x + y * y + z * z)

    def predict(
        self, dv: Three, duration: float, velocity_noise: float, tilt_noise: float, *, blind: bool
    ) -> None:
        """One frame on: `dv` is the integral of specific force; noises as variances; `blind`: without a gyro."""
        x, y, z = dv
        if not any(self._up):
            size = max(sqrt(x * x + y * y + z * z), 1e-9)
            self._up = (x / size, y / size, z / size)
        t = duration
        (ux, uy, uz), (px, py, pz), (vx, vy, vz) = self._up, self._place, self._velocity
        along = x * ux + y * uy + z * uz
        hx, hy, hz = x - along * ux, y - along * uy, z - along * uz
        self._place = (px + t * (vx + 0.5 * hx), py + t * (vy + 0.5 * hy), pz + t * (vz + 0.5 * hz))
        self._velocity = (vx + hx, vy + hy, vz + hz)
        self._spread_on(t, velocity_noise, tilt_noise)
        p = self.parameters
        self._pull(0, (p.stray_blind_m if blind else p.stray_m) ** 2 / max(t, 1e-3))
        self._pull(1, (p.drift_blind_m_s if blind else p.drift_m_s) ** 2 / max(t, 1e-3))

    def at_rest(self, sigma_m_s: float) -> None:
        """Horizontal velocity is zero, within sigma."""
        self._pull(1, sigma_m_s * sigma_m_s)

    def _spread_on(self, t: float, velocity_noise: float, tilt_noise: float) -> None:
        """The covariance one frame on: place' = velocity, velocity' = -g tilt."""
        pp, pv, pt, vv, vt, tt = self._covariance
        a, b = -0.5 * STANDARD_GRAVITY_M_S2 * t * t, -STANDARD_GRAVITY_M_S2 * t
        place_tilt = pt + t * vt + a * tt
        velocity_tilt = vt + b * tt
        place_velocity = pv + t * vv + a * vt + b * place_tilt
        self._covariance = (
            pp + t * pv + a * pt + t * (pv + t * vv + a * vt) + a * place_tilt,
            place_velocity,
            place_tilt,
            vv + b * vt + b * velocity_tilt + velocity_noise,
            velocity_tilt,
            min(tt + tilt_noise, _LARGEST_TILT_VARIANCE),
        )

    def _pull(self, which: int, variance: float) -> None:
        """Place (0) or velocity (1) is zero, with this variance; the tilt it shows goes into `up`."""
        pp, pv, pt, vv, vt, tt = self._covariance
        ox, oy, oz = self._velocity if which else self._place
        to_place, to_velocity, to_tilt = (pv, vv, vt) if which else (pp, pv, pt)
        scale = 1.0 / ((vv if which else pp) + variance)
        (ux, uy, uz), (px, py, pz), (vx, vy, vz) = self._up, self._place, self._velocity
        on_place, on_velocity, on_up = to_place * scale, to_velocity * scale, to_tilt * scale
        self._place = (px - on_place * ox, py - on_place * oy, pz - on_place * oz)
        self._velocity = (vx - on_velocity * ox, vy - on_velocity * oy, vz - on_velocity * oz)
        self._covariance = (
            pp - to_place * to_place * scale,
            pv - to_place * to_velocity * scale,
            pt - to_place * to_tilt * scale,
            vv - to_velocity * to_velocity * scale,
            vt - to_velocity * to_tilt * scale,
            tt - to_tilt * to_tilt * scale,
        )
        ux, uy, uz = ux - on_up * ox, uy - on_up * oy, uz - on_up * oz
        size = sqrt(ux * ux + uy * uy + uz * uz)
        if size > 1e-6:
            self._up = (ux / size, uy / size, uz / size)
