"""Upward movements read off a smoothed curve: what belongs together, what surrounds it, how sure its figures are."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt

import numpy as np

from station.motion.attitude import Stillness
from station.motion.bounds import Movement, UpwardRun
from station.motion.curve import Curve
from station.motion.events import RepMeasured
from station.motion.judge import Ascent, Judge
from station.motion.live import BIAS, PLACE_OFF_AXIS
from station.motion.parameters import STANDARD_GRAVITY_M_S2, EngineParameters

LONGEST_STALL_S = 2.0
_TURNED_BACK_M = 0.02
_LEFT_ALONE_FRAMES = 4  # a bar caught and held hard may seem so for less
_TILT_AT_LEAST_RAD = 0.015  # a roll leaves this much, and over a slow rep it looks like half a metre sideways


def joined(runs: list[UpwardRun], curve: Curve, judge: Judge) -> list[UpwardRun]:
    """Runs with those made one that are parts of one rep: short of one, stalled, and gone on without turning back."""
    joined: list[UpwardRun] = []
    for run in runs:
        before = joined[-1] if joined else None
        if (
            before is not None
            and curve.time_s[run.first] - curve.time_s[before.last] < LONGEST_STALL_S
            and judge.is_attempt(rise(curve, before.first, before.last))
            and not turned_back(curve, before, run.first)
        ):
            joined[-1] = UpwardRun(before.first, run.last, run.final, run.came_down)
        else:
            joined.append(run)
    return joined


def rise(curve: Curve, first: int, last: int) -> float:
    """How far the bar goes up between two samples, m."""
    return float(curve.height_m[last] - curve.height_m[first])


def turned_back(curve: Curve, run: UpwardRun, stop: int) -> bool:
    """Whether the bar comes down by 2 cm, beyond doubt, between a run's end and a later sample."""
    after = curve.height_m[run.last : stop]
    down = np.maximum.accumulate(after) - after
    if len(down) == 0 or down.max() < _TURNED_BACK_M:
        return False
    nodes = (
        curve.node_near(curve.time_s[run.last]),
        curve.node_near(curve.time_s[run.last + int(down.argmax())]),
    )
    unsure = sqrt(max(curve.smoothed.variance_of_rise(*nodes), 0.0))
    return bool(down.max() >= _TURNED_BACK_M + 2 * unsure)


def surroundings(curve: Curve, run: UpwardRun, movement: Movement) -> Ascent:
    """A movement with what the judge asks about: where it began, what went before, how it turned and strayed."""
    start = int(np.searchsorted(curve.time_s, movement.start_time_s))
    start = min(start, len(curve.time_s) - 1)
    height = curve.height_m
    before = curve.time_s[: start + 1] > movement.start_time_s - 6.0
    dropped = float(height[: start + 1][before].max(initial=height[start]) - height[start])
    near = (curve.frame_time_s[1:] > movement.start_time_s - 0.6) & (
        curve.frame_time_s[1:] < movement.start_time_s + 0.1
    )
    frames_alone = curve.frames[near][curve.stillness[near] == Stillness.ALONE].sum()
    return Ascent(
        movement.displacement_m,
        movement.mean_velocity_m_s,
        float(height[start]),
        dropped,
        bool(frames_alone >= _LEFT_ALONE_FRAMES),
        *_sideways(curve, movement),
        run.came_down,
        half_width(curve, movement) * movement.duration_s,
    )


def _sideways(curve: Curve, movement: Movement) -> tuple[float, float, float]:
    """Turn about the vertical and all turning of a movement, rad, and its stray beyond uncertainty, m."""
    frames = curve.frames_in(movement.start_time_s, movement.end_time_s)
    turns, up, place = curve.turn_rad[frames], curve.up[frames], curve.place_m[frames]
    turned = abs(float((turns * up).sum()))
    rolled = float(np.sqrt((turns**2).sum(axis=1)).sum())
    speed_sd, tilt_sd = curve.place_spread[frames][0]
    tilt_sd = max(tilt_sd, _TILT_AT_LEAST_RAD)
    t = movement.duration_s
    unsure = sqrt((speed_sd * t) ** 2 + (0.5 * STANDARD_GRAVITY_M_S2 * tilt_sd * t * t) ** 2)
    strayed = sqrt(float(((place[-1] - place[0]) ** 2).sum()))
    return turned, rolled, max(strayed - 2 * unsure, 0.0)


def half_width(curve: Curve, movement: Movement) -> float:
    """Half the width of the 95 % interval of mean velocity, without what the sensor's scale adds, m/s."""
    nodes = curve.node_near(movement.start_time_s), curve.node_near(movement.end_time_s)
    variance = curve.smoothed.variance_of_rise(*nodes)
    return 1.96 * sqrt(max(variance, 0.0)) / movement.duration_s


def uncertainty(curve: Curve, movement: Movement, p: EngineParameters, spread_m_s: float) -> float:
    """Half the width of the 95 % interval of mean velocity, m/s: smoothing, scale, and where the bounds fall.

    Args:
        spread_m_s: of mean velocity with its bounds, as `spread_of_mean_velocity` gives it.
    """
    step = float(np.median(np.diff(curve.time_s)))
    bounds = p.bounds_share * step / movement.duration_s
    by_speed = 1.96 * hypot(p.scale_sd, bounds) * movement.mean_velocity_m_s
    nodes = curve.node_near(movement.start_time_s), curve.node_near(movement.end_time_s)
    by_place, by_bias = (
        1.96 * sqrt(max(curve.smoothed.variance_by(constants, *nodes), 0.0)) / movement.duration_s
        for constants in (PLACE_OFF_AXIS, BIAS)
    )
    rest = sqrt(max(half_width(curve, movement) ** 2 - by_place**2 - by_bias**2, 0.0))
    share, bias_share = _shares(curve, p)
    smoothing = max(hypot(share * rest, by_place, bias_share * by_bias), 1.96 * spread_m_s)
    return hypot(smoothing, by_speed)


def _shares(curve: Curve, p: EngineParameters) -> tuple[float, float]:
    """What is to be expected of what the smoother leaves open: without the bias, and of the bias."""
    if curve.lost_s.any():
        return p.lost_share, p.lost_share
    if curve.blind:
        return p.blind_share, p.blind_share
    return p.sure_share, p.bias_share


def as_rep(
    curve: Curve,
    movement: Movement,
    number: int,
    now: float,
    flags: tuple[str, ...],
    p: EngineParameters,
    spread_m_s: float = 0.0,
) -> RepMeasured:
    """The movement as a repetition, flagged where its samples had holes or clipped."""
    start, end = movement.start_time_s, movement.end_time_s
    if curve.between(curve.lost_s, start, end) > 0:
        flags = (*flags, "gap")
    if curve.between(curve.clipped, start, end) > 0:
        flags = (*flags, "clipped")
    return RepMeasured(
        number,
        start,
        end,
        movement.mean_velocity_m_s,
        movement.mean_propulsive_velocity_m_s,
        movement.peak_velocity_m_s,
        movement.displacement_m,
        movement.duration_s,
        now,
        uncertainty(curve, movement, p, spread_m_s),
        flags,
        movement.curve_time_s,
        movement.curve_m_s,
    )


def renumbered(rep: RepMeasured, number: int, now: float) -> RepMeasured:
    """The same repetition under another number, decided now."""
    return replace(rep, number=number, decided_time_s=now)
