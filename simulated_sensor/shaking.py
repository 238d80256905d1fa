"""What shakes a bar besides the lift: its whip, sway and tremor of who holds it, shocks, rattling plates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.signal import bilinear, lfilter, lfiltic

from drivers.samples import FloatArray
from simulated_sensor.velocity_shapes import FINE_RATE_HZ, samples

_WHIP_HZ, _WHIP_DAMPING, _WHIP_SHARE = 7.0, 0.1, 0.2
# With its plates on the floor the bar alone is stiffer, and hands hold it (orders of magnitude, no source).
_UNLOADED_HZ, _UNLOADED_DAMPING = 25.0, 0.7


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


def wander(rng: np.random.Generator, n: int, corner_hz: float) -> FloatArray:
    """Slow random movement of unit variance: a few sines below the corner frequency."""
    t = np.arange(n) / FINE_RATE_HZ
    out = np.zeros(n)
    for _ in range(6):
        out += np.sin(2 * np.pi * corner_hz * rng.uniform(0.15, 1.0) * t + rng.uniform(0, 2 * np.pi))
    scaled: FloatArray = out / np.sqrt(3.0)
    return scaled


def standing_sway(rng: np.random.Generator, n: int) -> FloatArray:
    """Standing sway, breathing and tremor of a held bar, m (orders of magnitude, from memory)."""
    sway = np.column_stack([wander(rng, n, 0.8), wander(rng, n, 0.8), wander(rng, n, 0.6)])
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


def plate_rattle(rng: np.random.Generator, speed_m_s: FloatArray, peak_m_s2: float) -> FloatArray:
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
