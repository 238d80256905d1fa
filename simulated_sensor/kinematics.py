"""How a bar moves: a path on a fine time grid, and what an ideal sensor clamped to it feels.

World axes: x along the bar, y away from the rack, z up. The path is made of pieces appended one after another;
every derivative is taken numerically on the fine grid, so position, velocity, force and rotation agree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d
from scipy.signal import bilinear, lfilter, lfiltic
from scipy.spatial.transform import Rotation

from drivers.samples import FloatArray, IntArray

FINE_RATE_HZ = 2000.0
GRAVITY_M_S2 = 9.80665
_MUSCLE_SMOOTHING_S = 0.012
_WHIP_HZ, _WHIP_DAMPING, _WHIP_SHARE = 7.0, 0.1, 0.2
# With its plates on the floor the bar alone is stiffer, and hands hold it (orders of magnitude, no source).
_UNLOADED_HZ, _UNLOADED_DAMPING = 25.0, 0.7


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
        tip = np.radians(tip_deg) * _wander(self.rng, self.length, 0.5) * held
        yaw = gaussian_filter1d(np.concatenate(self._yaw), 0.03 * FINE_RATE_HZ)
        yaw += np.radians(2.0) * _wander(self.rng, self.length, 0.2) * held
        ringing = shock_ringing(self.rng, self.length, self._shocks)
        ringing += _rattle(self.rng, np.abs(velocity[:, 2]), rattle_m_s2)
        angles = np.column_stack([roll, tip, yaw])
        return BarMotion(position, angles, ringing, tuple(self._movements))


def bar_whip(height_m: FloatArray, on_floor: Sequence[tuple[int, int]] = ()) -> FloatArray:
    """How far the bar at the sensor's place is bent away from where a stiff one would be, shape (n,), m.

    A loaded bar is a spring: what the hands do to it makes it swing on. A damped oscillator driven by the hands'
    acceleration; near the collars a share of what the plates do (frequency and damping: common practice, no source).

    Args:
        height_m: of a stiff bar, shape (n,).
        on_floor: stretches (first, stop) of the grid in which the plates stand on the floor.
    """
    swings, stands = _oscillator(_WHIP_HZ, _WHIP_DAMPING), _oscillator(_UNLOADED_HZ, _UNLOADED_DAMPING)
    driven = height_m - height_m[0]
    bent = np.zeros(len(driven))
    done = 0
    for first, stop in [*on_floor, (len(driven), len(driven))]:
        for until, oscillator in ((first, swings), (stop, stands)):
            _swing_on(bent, driven, done, until, oscillator)
            done = until
    return bent


def _oscillator(natural_hz: float, damping: float) -> tuple[FloatArray, FloatArray]:
    """Digital filter from the hands' height to the bend, by the bilinear transform."""
    natural = 2 * np.pi * natural_hz
    numerator, denominator = bilinear(
        [-_WHIP_SHARE, 0.0, 0.0], [1.0, 2 * damping * natural, natural**2], fs=FINE_RATE_HZ
    )
    return numerator, denominator


def _swing_on(
    bent: FloatArray, driven: FloatArray, first: int, stop: int, oscillator: tuple[FloatArray, FloatArray]
) -> None:
    """Fill in the bend from `first` on, with the swing there is by then."""
    if stop > first:
        now = lfiltic(*oscillator, bent[:first][:-3:-1], driven[:first][:-3:-1])
        bent[first:stop], _ = lfilter(*oscillator, driven[first:stop], zi=now)


def samples(seconds: float) -> int:
    """Grid points in so many seconds, at least two."""
    return max(2, round(seconds * FINE_RATE_HZ))


def minimum_jerk_progress(n: int) -> FloatArray:
    """0 to 1 along a minimum-jerk curve, shape (n,) (Flash & Hogan 1985, doi 10.1523/JNEUROSCI.05-07-01688.1985)."""
    s: FloatArray = np.linspace(0.0, 1.0, n)
    progress: FloatArray = s**3 * (10 - 15 * s + 6 * s**2)
    return progress


def minimum_jerk_velocity(distance_m: float, seconds: float) -> FloatArray:
    """Velocity of a minimum-jerk move on the fine grid; its sum over the grid is the distance."""
    s = (np.arange(samples(seconds)) + 0.5) / samples(seconds)
    shape = 30 * s**2 * (1 - s) ** 2
    return _scaled_to(shape, distance_m)


def push_velocity(distance_m: float, mean_m_s: float, rise: float, fall: float) -> FloatArray:
    """Velocity of an upward push, proportional to s^rise (1 - s)^fall, with that distance and mean."""
    n = samples(distance_m / mean_m_s)
    s = (np.arange(n) + 0.5) / n
    shape = s**rise * (1 - s) ** fall
    return _scaled_to(shape, distance_m)


def grinding_velocity(
    distance_m: float, mean_m_s: float, sticking_m_s: float, rng: np.random.Generator
) -> FloatArray:
    """Velocity of a heavy rep: a first peak, a sticking region down to `sticking_m_s`, a second peak."""
    n = samples(distance_m / mean_m_s)
    s = (np.arange(n) + 0.5) / n
    knots = np.array([0.0, rng.uniform(0.12, 0.2), rng.uniform(0.38, 0.55), rng.uniform(0.72, 0.85), 1.0])
    second = rng.uniform(0.8, 1.3)

    def curve(peak: float) -> FloatArray:
        heights = np.array([0.0, peak, min(sticking_m_s, 0.9 * peak), second * peak, 0.0])
        return np.asarray(PchipInterpolator(knots, heights)(s), dtype=np.float64)

    low, high = 0.2 * mean_m_s, 8.0 * mean_m_s
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if curve(middle).mean() < mean_m_s else (low, middle)
    shape = curve(high)
    return _scaled_to(shape, distance_m)


def _scaled_to(shape: FloatArray, distance_m: float) -> FloatArray:
    velocity: FloatArray = shape * (distance_m * FINE_RATE_HZ / float(shape.sum()))
    return velocity


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


def _wander(rng: np.random.Generator, n: int, corner_hz: float) -> FloatArray:
    """Slow random movement of unit variance: a few sines below the corner frequency."""
    t = np.arange(n) / FINE_RATE_HZ
    out = np.zeros(n)
    for _ in range(6):
        out += np.sin(2 * np.pi * corner_hz * rng.uniform(0.15, 1.0) * t + rng.uniform(0, 2 * np.pi))
    scaled: FloatArray = out / np.sqrt(3.0)
    return scaled


def standing_sway(rng: np.random.Generator, n: int) -> FloatArray:
    """Standing sway, breathing and tremor of a held bar, m (orders of magnitude, from memory)."""
    sway = np.column_stack([_wander(rng, n, 0.8), _wander(rng, n, 0.8), _wander(rng, n, 0.6)])
    sway *= np.array([0.004, 0.006, 0.0015])
    t = np.arange(n) / FINE_RATE_HZ
    sway[:, 2] += 0.002 * np.sin(2 * np.pi * rng.uniform(0.2, 0.4) * t + rng.uniform(0, 6.3))
    for axis in range(3):
        frequency = rng.uniform(7.0, 12.0)
        swell = 1.0 + 0.5 * np.sin(2 * np.pi * 0.7 * t + rng.uniform(0, 6.3))
        tremor = 0.08 / (2 * np.pi * frequency) ** 2
        sway[:, axis] += tremor * swell * np.sin(2 * np.pi * frequency * t + rng.uniform(0, 6.3))
    return sway


def shock_ringing(rng: np.random.Generator, n: int, shocks: list[tuple[int, float]]) -> FloatArray:
    """Damped vibration after each shock, as displacement (n, 3)."""
    out = np.zeros((n, 3))
    for start, peak in shocks:
        t = np.arange(min(samples(0.3), n - start)) / FINE_RATE_HZ
        omega = 2 * np.pi * rng.uniform(30.0, 90.0)
        onset = 1 - np.exp(-((t / 0.004) ** 2))
        wave = onset * np.exp(-t / rng.uniform(0.02, 0.05)) * np.sin(omega * t) * peak / omega**2
        out[start : start + len(t)] += wave[:, None] * np.array([0.2, 0.4, 1.0])
    return out


def _rattle(rng: np.random.Generator, speed_m_s: FloatArray, peak_m_s2: float) -> FloatArray:
    """Plates rattling at 30 to 90 Hz while the bar moves, as displacement (n, 3)."""
    n = len(speed_m_s)
    t = np.arange(n) / FINE_RATE_HZ
    strength = gaussian_filter1d(np.minimum(speed_m_s / 0.5, 1.0), 0.02 * FINE_RATE_HZ)
    out = np.zeros((n, 3))
    for axis in range(3):
        for _ in range(2):
            omega = 2 * np.pi * rng.uniform(30.0, 90.0)
            swell = 0.5 + 0.5 * np.sin(2 * np.pi * rng.uniform(1, 3) * t + rng.uniform(0, 6.3))
            out[:, axis] += peak_m_s2 / omega**2 * swell * np.sin(omega * t + rng.uniform(0, 6.3))
    rattle: FloatArray = out * strength[:, None]
    return rattle
