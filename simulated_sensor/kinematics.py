"""How a bar moves: a path on a fine time grid, and what an ideal sensor clamped to it feels.

World axes: x along the bar, y away from the rack, z up. The path is made of pieces appended one after another;
every derivative is taken numerically on the fine grid, so position, velocity, force and rotation agree.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

from drivers.samples import FloatArray, IntArray
from simulated_sensor.shaking import bar_whip, plate_rattle, shock_ringing, standing_sway, wander
from simulated_sensor.velocity_shapes import FINE_RATE_HZ, minimum_jerk_progress, samples

GRAVITY_M_S2 = 9.80665
_MUSCLE_SMOOTHING_S = 0.012


@dataclass(frozen=True, eq=False, slots=True)
class BarMotion:
    """The movement of the bar's axis at the clamp, on the fine grid.

    Attributes:
        position_m: shape (n, 3), world axes.
        angles_rad: roll about the bar, tip (one end up) and yaw, shape (n, 3).
        ringing_m: displacement of shocks and rattle on top, shape (n, 3): felt by the sensor, no part of the truth.
        movements: upward movements as (first, last, kind) with indices into the grid.
    """

    position_m: FloatArray
    angles_rad: FloatArray
    ringing_m: FloatArray
    movements: tuple[tuple[int, int, str], ...]

    @property
    def vertical_velocity_m_s(self) -> FloatArray:
        """True vertical velocity on the fine grid, shape (n,)."""
        return np.gradient(self.position_m[:, 2], 1.0 / FINE_RATE_HZ)

    def attitude(self, at: IntArray | slice = slice(None)) -> Rotation:
        """From bar axes to world axes, at these points of the grid."""
        return Rotation.from_euler("ZYX", self.angles_rad[at, ::-1])


@dataclass(frozen=True, slots=True)
class Mounting:
    """How the sensor sits: its orientation on the bar, and its place off the bar's axis (m, bar axes)."""

    orientation: Rotation
    offset_m: FloatArray

    @classmethod
    def random(cls, rng: np.random.Generator, off_axis_m: float = 0.03) -> Mounting:
        """Any orientation; `off_axis_m` from the bar's axis in any direction round it."""
        angle = rng.uniform(0, 2 * np.pi)
        offset = np.array([0.0, off_axis_m * np.cos(angle), off_axis_m * np.sin(angle)])
        return cls(Rotation.random(rng=rng), offset)


@dataclass
class MotionBuilder:
    """Appends pieces of movement; `build` turns them into one smooth BarMotion."""

    rng: np.random.Generator
    _velocity: list[NDArray[np.float64]] = field(default_factory=list)
    _roll: list[NDArray[np.float64]] = field(default_factory=list)
    _yaw: list[NDArray[np.float64]] = field(default_factory=list)
    _held: list[NDArray[np.float64]] = field(default_factory=list)
    _on_floor: list[tuple[int, int]] = field(default_factory=list)
    _shocks: list[tuple[int, float]] = field(default_factory=list)
    _movements: list[tuple[int, int, str]] = field(default_factory=list)
    length: int = 0
    yaw_rad: float = 0.0
    roll_rad: float = 0.0

    def move(
        self,
        velocity_z_m_s: FloatArray,
        *,
        velocity_y_m_s: FloatArray | None = None,
        held: float = 1.0,
        roll_to_rad: float | None = None,
        roll_by_rad: float = 0.0,
        turn_by_rad: float = 0.0,
        kind: str = "",
    ) -> None:
        """Append a piece: vertical (and fore-aft) velocity on the fine grid.

        `held` scales body sway (0: racked); the bar rolls to `roll_to_rad` and stays there, and by `roll_by_rad` out
        and back on top; it turns about the vertical by `turn_by_rad`; `kind` marks a movement of the truth.
        """
        n = len(velocity_z_m_s)
        sideways = np.zeros(n) if velocity_y_m_s is None else velocity_y_m_s
        self._velocity.append(np.column_stack([np.zeros(n), sideways, velocity_z_m_s]))
        target = self.roll_rad if roll_to_rad is None else roll_to_rad
        there_and_back = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(n) / n)
        stays = self.roll_rad + (target - self.roll_rad) * minimum_jerk_progress(n)
        self._roll.append(stays + roll_by_rad * there_and_back)
        self.roll_rad = target
        self._yaw.append(self.yaw_rad + turn_by_rad * minimum_jerk_progress(n))
        self.yaw_rad += turn_by_rad
        self._held.append(np.full(n, held))
        if kind:
            self._movements.append((self.length, self.length + n, kind))
        self.length += n

    def still(self, seconds: float, *, held: float, on_floor: bool = False) -> None:
        """Append rest: `held` 0 on rack or floor, 1 in the athlete's hands or on the back.

        `on_floor`: the plates stand on it and swing no longer.
        """
        first = self.length
        self.move(np.zeros(samples(seconds)), held=held)
        if on_floor:
            self._on_floor.append((first, self.length))

    def shock(self, peak_m_s2: float) -> None:
        """A knock at the present instant, ringing at 30 to 90 Hz."""
        self._shocks.append((self.length, peak_m_s2))

    def build(
        self, *, fore_aft_m: float = 0.03, tip_deg: float = 1.0, rattle_m_s2: float = 1.0, whip: bool = False
    ) -> BarMotion:
        """The whole movement, with sway while held, a curved bar path, tipping, rattle and shocks.

        With `whip` the bar bends and swings on; what is true is then the movement of the bent bar at the clamp.
        """
        velocity = gaussian_filter1d(
            np.concatenate(self._velocity), _MUSCLE_SMOOTHING_S * FINE_RATE_HZ, axis=0
        )
        held = gaussian_filter1d(np.concatenate(self._held), 0.15 * FINE_RATE_HZ)
        position = np.cumsum(velocity, axis=0) / FINE_RATE_HZ
        if whip:
            position[:, 2] += bar_whip(position[:, 2], self._on_floor)
        travel = position[:, 2] - position[0, 2]
        position[:, 1] += fore_aft_m * np.sin(2.5 * travel) * held
        position += standing_sway(self.rng, self.length) * held[:, None]
        roll = gaussian_filter1d(np.concatenate(self._roll), 0.03 * FINE_RATE_HZ)
        tip = np.radians(tip_deg) * wander(self.rng, self.length, 0.5) * held
        yaw = gaussian_filter1d(np.concatenate(self._yaw), 0.03 * FINE_RATE_HZ)
        yaw += np.radians(2.0) * wander(self.rng, self.length, 0.2) * held
        ringing = shock_ringing(self.rng, self.length, self._shocks)
        ringing += plate_rattle(self.rng, np.abs(velocity[:, 2]), rattle_m_s2)
        angles = np.column_stack([roll, tip, yaw])
        return BarMotion(position, angles, ringing, tuple(self._movements))


def felt_by_sensor(motion: BarMotion, mounting: Mounting) -> tuple[FloatArray, FloatArray]:
    """Specific force (n, 3) in m/s2 and angular rate (n, 3) in rad/s on the fine grid, on an ideal sensor's axes."""
    bar = motion.attitude()
    step = 1.0 / FINE_RATE_HZ
    position = motion.position_m + motion.ringing_m + bar.apply(mounting.offset_m)
    acceleration = np.gradient(np.gradient(position, step, axis=0), step, axis=0)
    turn = (bar[:-1].inv() * bar[1:]).as_rotvec() / step
    rate = np.vstack([turn[:1], 0.5 * (turn[:-1] + turn[1:]), turn[-1:]])
    force = bar.inv().apply(acceleration + np.array([0.0, 0.0, GRAVITY_M_S2]))
    to_sensor = mounting.orientation.inv()
    return to_sensor.apply(force), to_sensor.apply(rate)
