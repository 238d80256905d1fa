"""Sets of the ten lifts as bar movement: from the rack or the floor, rep by rep, and back.

Distances and durations are common practice, from memory; only their variety matters, since truth is computed.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from drivers.samples import FloatArray
from simulated_sensor.kinematics import MotionBuilder
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.velocity_shapes import (
    FINE_RATE_HZ,
    grinding_velocity,
    minimum_jerk_velocity,
    push_velocity,
    samples,
)

_TURNS_WITH_TRUNK = {"back squat", "front squat", "box squat", "hip thrust"}


def perform(builder: MotionBuilder, plan: PlannedSet) -> None:
    """Append the whole set to the builder, rest before and after included."""
    _PERFORMANCES[plan.lift](builder, plan)


def rest_on_rack(builder: MotionBuilder, seconds: float) -> None:
    """The bar hangs still in the rack or lies on the floor."""
    builder.still(seconds, held=0.0)


def _squat(b: MotionBuilder, plan: PlannedSet) -> None:
    _unrack_and_walk(b)
    _down_and_up(b, plan, pause_at_bottom=(0.0, 0.15))
    _walk_in_and_rack(b, plan)


def _box_squat(b: MotionBuilder, plan: PlannedSet) -> None:
    _unrack_and_walk(b)
    _down_and_up(b, plan, pause_at_bottom=(0.4, 1.0))
    _walk_in_and_rack(b, plan)


def _bench_press(b: MotionBuilder, plan: PlannedSet) -> None:
    b.still(b.rng.uniform(0.3, 1.0), held=0.0)
    b.move(minimum_jerk_velocity(0.05, 0.7), velocity_y_m_s=minimum_jerk_velocity(0.12, 0.7))
    b.still(b.rng.uniform(0.8, 1.6), held=1.0)
    _down_and_up(b, plan, pause_at_bottom=(0.0, 0.8))
    if not plan.fail_last:
        b.move(minimum_jerk_velocity(-0.04, 0.8), velocity_y_m_s=minimum_jerk_velocity(-0.12, 0.8))
    b.shock(30.0)


def _overhead_press(b: MotionBuilder, plan: PlannedSet) -> None:
    _unrack_and_walk(b)
    _up_and_down(b, plan, soft_bottom=True)
    _walk_in_and_rack(b, plan)


def _pull_from_floor(b: MotionBuilder, plan: PlannedSet) -> None:
    b.still(b.rng.uniform(0.8, 1.5), held=0.0)
    _up_and_down(b, plan, soft_bottom=False)


def _hang_pull(b: MotionBuilder, plan: PlannedSet) -> None:
    b.still(b.rng.uniform(0.6, 1.2), held=0.0)
    _up_and_down(b, plan, soft_bottom=True)


def _power_clean(b: MotionBuilder, plan: PlannedSet) -> None:
    b.still(b.rng.uniform(0.8, 1.5), held=0.0)
    for mean in plan.mean_velocities_m_s:
        top = plan.range_of_motion_m * b.rng.uniform(0.98, 1.02)
        catch = b.rng.uniform(0.10, 0.18)
        stand = b.rng.uniform(0.15, 0.30)
        b.move(push_velocity(top, mean, 1.6, 1.0), roll_by_rad=np.radians(plan.roll_deg), kind="rep")
        b.move(minimum_jerk_velocity(-catch - stand, 0.35))
        b.shock(20.0)
        b.still(b.rng.uniform(0.0, 0.4), held=1.0)
        b.move(push_velocity(stand, 0.45, 1.2, 1.2))
        b.still(b.rng.uniform(0.3, 1.0), held=1.0)
        _lower_to_floor(b, top - catch, 0.0)
        b.still(b.rng.uniform(0.8, max(1.0, plan.longest_pause_s)), held=0.0, on_floor=True)


def _unrack_and_walk(b: MotionBuilder) -> None:
    b.still(b.rng.uniform(0.5, 1.5), held=0.0)
    b.move(
        minimum_jerk_velocity(b.rng.uniform(0.03, 0.06), 0.6), roll_to_rad=np.radians(b.rng.uniform(-5, 5))
    )
    b.still(b.rng.uniform(0.2, 0.6), held=1.0)
    for _ in range(int(b.rng.integers(2, 5))):
        _step(b, b.rng.uniform(0.15, 0.25))
    b.still(b.rng.uniform(0.7, 2.0), held=1.0)


def _walk_in_and_rack(b: MotionBuilder, plan: PlannedSet) -> None:
    if plan.fail_last and plan.lift != "overhead press":
        return  # the bar stays on the safety arms
    b.still(b.rng.uniform(0.3, 1.0), held=1.0)
    for _ in range(3):
        _step(b, -0.2)
    b.shock(b.rng.uniform(15.0, 60.0))
    b.move(minimum_jerk_velocity(-0.045, 0.35), roll_to_rad=0.0)
    b.shock(b.rng.uniform(20.0, 90.0))


def _step(b: MotionBuilder, forward_m: float) -> None:
    seconds = b.rng.uniform(0.45, 0.65)
    dip = b.rng.uniform(0.008, 0.02)
    n = samples(seconds)
    bob = -dip * np.pi / seconds * np.sin(2 * np.pi * np.arange(n) / n)
    b.move(bob, velocity_y_m_s=minimum_jerk_velocity(forward_m, seconds)[:n])


def _down_and_up(b: MotionBuilder, plan: PlannedSet, pause_at_bottom: tuple[float, float]) -> None:
    stays, comes_back = _roll(plan)
    rom = plan.range_of_motion_m
    for mean in plan.mean_velocities_m_s:
        depth = rom * b.rng.uniform(0.98, 1.02)
        _lower(b, depth, stays)
        _pause(b, *pause_at_bottom)
        push = _push(b, plan, depth + b.rng.normal(0, 0.003), mean)
        b.move(push, roll_to_rad=0.0, roll_by_rad=comes_back, kind="rep")
        _pause_at_top(b, plan)
    if plan.fail_last:
        _lower(b, rom, stays)
        _fail(b, plan, floor_below_m=0.05)


def _up_and_down(b: MotionBuilder, plan: PlannedSet, *, soft_bottom: bool) -> None:
    stays, comes_back = _roll(plan)
    for mean in plan.mean_velocities_m_s:
        height = plan.range_of_motion_m * b.rng.uniform(0.98, 1.02)
        b.move(_push(b, plan, height, mean), roll_to_rad=stays, roll_by_rad=comes_back, kind="rep")
        _pause(b, 0.0, 0.8)
        if soft_bottom:
            _lower(b, height, 0.0)
        else:
            _lower_to_floor(b, height, 0.0)
        _pause_at_top(b, plan, on_floor=not soft_bottom)
    if plan.fail_last:
        _fail(b, plan, floor_below_m=0.0)


def _roll(plan: PlannedSet) -> tuple[float, float]:
    """How far the bar rolls and stays, and how far it rolls out and back, rad."""
    roll = float(np.radians(plan.roll_deg))
    stays = plan.lift in _TURNS_WITH_TRUNK and not plan.rolls_back
    return (roll, 0.0) if stays else (0.0, roll)


def _push(b: MotionBuilder, plan: PlannedSet, distance_m: float, mean_m_s: float) -> FloatArray:
    if mean_m_s < 0.4:
        return grinding_velocity(distance_m, mean_m_s, plan.sticking_m_s, b.rng)
    return push_velocity(distance_m, mean_m_s, b.rng.uniform(1.0, 1.6), b.rng.uniform(1.0, 1.8))


def _fail(b: MotionBuilder, plan: PlannedSet, floor_below_m: float) -> None:
    """An attempt that turns back, and the bar set down on what is below it."""
    part = plan.range_of_motion_m * b.rng.uniform(0.2, 0.55)
    b.move(push_velocity(part, b.rng.uniform(0.15, 0.35), 1.0, 1.5), kind="failed")
    b.still(b.rng.uniform(0.0, 0.5), held=1.0)
    _land(b, part + floor_below_m, b.rng.uniform(0.6, 1.0))
    b.still(2.0, held=0.0, on_floor=floor_below_m == 0.0)


def _lower(b: MotionBuilder, distance_m: float, roll_to: float) -> None:
    seconds = distance_m / b.rng.uniform(0.35, 0.6)
    b.move(minimum_jerk_velocity(-distance_m, seconds), roll_to_rad=roll_to)


def _lower_to_floor(b: MotionBuilder, distance_m: float, roll_to: float) -> None:
    _land(b, distance_m, distance_m / b.rng.uniform(0.5, 0.8), roll_to)


def _land(b: MotionBuilder, distance_m: float, seconds: float, roll_to: float | None = None) -> None:
    """Down onto something hard: the bar still moves when it meets it."""
    n = samples(seconds)
    s = (np.arange(n) + 0.5) / n
    shape = np.minimum(s / 0.3, 1.0) * np.clip((1.0 - s) / 0.3, 0.45, 1.0)
    b.move(-shape * distance_m * FINE_RATE_HZ / shape.sum(), roll_to_rad=roll_to)
    b.shock(b.rng.uniform(20.0, 100.0))


def _pause(b: MotionBuilder, shortest_s: float, longest_s: float) -> None:
    b.still(b.rng.uniform(shortest_s, longest_s), held=1.0)


def _pause_at_top(b: MotionBuilder, plan: PlannedSet, *, on_floor: bool = False) -> None:
    longest = 0.08 if plan.touch_and_go else plan.longest_pause_s
    b.still(b.rng.uniform(0.0, longest), held=0.0 if on_floor else 1.0, on_floor=on_floor)


_PERFORMANCES: dict[str, Callable[[MotionBuilder, PlannedSet], None]] = {
    "back squat": _squat,
    "front squat": _squat,
    "box squat": _box_squat,
    "bench press": _bench_press,
    "deadlift": _pull_from_floor,
    "hexagonal-bar deadlift": _pull_from_floor,
    "overhead press": _overhead_press,
    "hip thrust": _pull_from_floor,
    "bench pull": _hang_pull,
    "power clean": _power_clean,
}
