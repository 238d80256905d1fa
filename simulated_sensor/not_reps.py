"""What happens at a rack that is no lift: loading, walking with the bar, racking, knocks, carrying the sensor."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from simulated_sensor.kinematics import MotionBuilder
from simulated_sensor.velocity_shapes import (
    FINE_RATE_HZ,
    minimum_jerk_progress,
    minimum_jerk_velocity,
    samples,
)


def between_lifts(builder: MotionBuilder, seconds: float) -> None:
    """At least so many seconds of a rack where nobody lifts."""
    end = builder.length + samples(seconds)
    deeds: list[Callable[[MotionBuilder], None]] = [
        _knock,
        _load,
        _carry_bar,
        _rerack,
        _carry_sensor,
        _roll_on_floor,
    ]
    while builder.length < end:
        builder.still(builder.rng.uniform(1.0, 8.0), held=0.0)
        deeds[int(builder.rng.integers(len(deeds)))](builder)


def _knock(b: MotionBuilder) -> None:
    for _ in range(int(b.rng.integers(1, 4))):
        b.shock(b.rng.uniform(10.0, 100.0))
        b.still(b.rng.uniform(0.2, 0.8), held=0.0)


def _load(b: MotionBuilder) -> None:
    """A plate goes on: a shock, the end of the bar dips by a centimetre and comes back, the bar shifts along."""
    for _ in range(int(b.rng.integers(1, 5))):
        b.shock(b.rng.uniform(15.0, 60.0))
        dip = b.rng.uniform(0.002, 0.012)
        b.move(minimum_jerk_velocity(-dip, b.rng.uniform(0.1, 0.3)))
        b.move(minimum_jerk_velocity(dip, b.rng.uniform(0.1, 0.4)))
        b.still(b.rng.uniform(0.5, 3.0), held=0.0)


def _rerack(b: MotionBuilder) -> None:
    """Out of the hooks, a few steps, and back: no rep in between."""
    up = b.rng.uniform(0.03, 0.07)
    b.move(minimum_jerk_velocity(up, 0.6))
    _walk(b, b.rng.uniform(1.0, 5.0), 0.4)
    b.shock(b.rng.uniform(20.0, 60.0))
    b.move(minimum_jerk_velocity(-up, 0.4))
    b.shock(b.rng.uniform(20.0, 90.0))


def _carry_bar(b: MotionBuilder) -> None:
    """Two people lift the bar to other hooks, turning it end for end a little on the way."""
    height = b.rng.uniform(0.15, 0.9) * b.rng.choice([-1, 1])
    seconds = b.rng.uniform(1.5, 3.0)
    turn = b.rng.uniform(0.6, 2.0) * b.rng.choice([-1, 1])
    away = minimum_jerk_velocity(b.rng.uniform(0.4, 1.2), seconds)
    b.move(minimum_jerk_velocity(height, seconds), velocity_y_m_s=away, turn_by_rad=turn)
    _walk(b, b.rng.uniform(1.0, 4.0), 0.8)
    back = minimum_jerk_velocity(-b.rng.uniform(0.4, 1.2), seconds)
    b.move(minimum_jerk_velocity(-height, seconds), velocity_y_m_s=back, turn_by_rad=-turn)
    b.shock(b.rng.uniform(20.0, 60.0))


def _carry_sensor(b: MotionBuilder) -> None:
    """The sensor is taken off, carried about in a hand, and clamped on again."""
    down = b.rng.uniform(0.2, 0.8) * b.rng.choice([-1, 1])
    roll = b.rng.uniform(1.0, 3.0) * b.rng.choice([-1, 1])
    seconds = b.rng.uniform(0.8, 1.6)
    away = minimum_jerk_velocity(b.rng.uniform(0.3, 1.0), seconds)
    turn = b.rng.uniform(-1.5, 1.5)
    b.move(
        minimum_jerk_velocity(down, seconds),
        velocity_y_m_s=away,
        roll_to_rad=b.roll_rad + roll,
        turn_by_rad=turn,
    )
    _walk(b, b.rng.uniform(2.0, 10.0), 1.2)
    b.move(
        minimum_jerk_velocity(-down, seconds),
        velocity_y_m_s=-away,
        roll_to_rad=b.roll_rad - roll,
        turn_by_rad=-turn,
    )
    b.shock(b.rng.uniform(10.0, 40.0))


def _roll_on_floor(b: MotionBuilder) -> None:
    """The bar rolls away a little and is stopped by a foot."""
    distance = b.rng.uniform(0.1, 0.5)
    seconds = b.rng.uniform(0.8, 2.0)
    roll = distance / 0.225
    b.move(
        np.zeros(samples(seconds)),
        velocity_y_m_s=minimum_jerk_velocity(distance, seconds),
        roll_to_rad=b.roll_rad - roll,
        held=0.0,
    )


def _walk(b: MotionBuilder, seconds: float, speed_m_s: float) -> None:
    """Steps at about two a second: up and down by some centimetres, forward at a speed, a slow turn."""
    n = samples(seconds)
    t = np.arange(n) / FINE_RATE_HZ
    fade = minimum_jerk_progress(n)
    window = np.minimum(1.0, 4 * np.minimum(fade, fade[::-1]))
    bob = b.rng.uniform(0.01, 0.03)
    rate = 2 * np.pi * b.rng.uniform(1.6, 2.1)
    b.move(
        window * bob * rate * np.cos(rate * t),
        velocity_y_m_s=window * speed_m_s * (1 + 0.2 * np.sin(rate * t)),
        turn_by_rad=b.rng.uniform(-1.0, 1.0) * speed_m_s,
    )
