"""Figures of jump height over simulated belts with exact truth, and beside force plates.

`python -m tests.validation.jumps` prints the tables alone.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
from rich.console import Console
from rich.table import Table

from drivers.samples import TimedBlock
from simulated_sensor.imu_errors import bench_calibrated_sensor
from simulated_sensor.jump_path import BeltFit, PlannedJump
from simulated_sensor.jumps import make_jump_trace, make_steps_trace
from station.motion.engine import MotionEngine
from station.motion.events import JumpMeasured
from tests.motion.recordings import DATA, columns_of
from tests.motion.streams import as_block, run

HELD_OUT_SEEDS_FROM = 960_000
TRACES, PER_TRACE = 40, 4
LOWEST_M, HIGHEST_M = 0.15, 0.60
SD_M, MEAN_M = 0.010, 0.005
NEAR_S = 0.3
FORCE_PLATES = (
    ("vertical_jump_force/jump_600hz", 0.0),
    ("vertical_jump_force/jump_450hz", 1.4),
    *((f"squat_jump_force/subject_{subject}", 0.0) for subject in ("003", "010", "011", "013")),
)


@dataclass(frozen=True, slots=True)
class Condition:
    """One row: how the belt sits, what sensor it is, what people do; `flag` is wanted on every jump."""

    name: str
    fit: dict[str, float] = field(default_factory=dict)
    plan: dict[str, float | bool] = field(default_factory=dict)
    range_g: float = 16.0
    rate_hz: float = 200.0
    has_gyro: bool = True
    flag: str = ""


CONDITIONS = (
    Condition("standard"),
    Condition("100 samples a second", rate_hz=100.0),
    Condition("no gyro", has_gyro=False),
    Condition("much ringing, 20 m/s2", {"soft_tissue_m_s2": 20.0}),
    Condition("clipped landings, 3 g", {"soft_tissue_m_s2": 15.0}, range_g=3.0),
    Condition("belt slides 1 cm and 3 degrees a landing", {"slide_m": 0.01, "slide_deg": 3.0}),
    Condition("rebound out of the landing", plan={"rebound_m": 0.08}),
    Condition("tucked knees", plan={"landing_above_m": -0.12}, flag="tucked"),
    Condition("arm swing", plan={"arm_swing_m_s2": 2.5}, flag="arm swing"),
    Condition("two dips", plan={"double_dip": True}, flag="double dip"),
)


@dataclass
class Found:
    """Errors of one condition, m, and what was missed or invented."""

    height: list[float] = field(default_factory=list)
    flight: list[float] = field(default_factory=list)
    impulse: list[float] = field(default_factory=list)
    covered: list[bool] = field(default_factory=list)
    late_s: list[float] = field(default_factory=list)
    flags: Counter[str] = field(default_factory=Counter)
    missed: int = 0
    invented: int = 0


def jumps_of(block: TimedBlock, range_g: float = 16.0) -> list[JumpMeasured]:
    """The jumps that a belt's samples give."""
    events = run(MotionEngine("belt", range_m_s2=range_g * 9.80665), [block])
    return [event for event in events if isinstance(event, JumpMeasured)]


def measured(condition: Condition, traces: int = TRACES, seeds_from: int = HELD_OUT_SEEDS_FROM) -> Found:
    """Every jump of one condition against its truth."""
    found = Found()
    for seed in range(seeds_from, seeds_from + traces):
        rng = np.random.default_rng(seed)
        sensor = bench_calibrated_sensor(
            rng, range_g=condition.range_g, nominal_rate_hz=condition.rate_hz, has_gyro=condition.has_gyro
        )
        fit = BeltFit(**({"soft_tissue_m_s2": float(rng.uniform(2.0, 12.0))} | condition.fit))
        plans = [_plan(rng, condition) for _ in range(PER_TRACE)]
        trace, truth = make_jump_trace(plans, seed=seed, sensor=sensor, fit=fit)
        jumps = jumps_of(as_block(trace), condition.range_g)
        for true in truth:
            near = [j for j in jumps if abs(j.takeoff_time_s - true.takeoff_time_s) < NEAR_S]
            if not near:
                found.missed += 1
                continue
            jump = near[0]
            jumps.remove(jump)
            error = jump.jump_height_m - true.height_m
            found.height.append(error)
            found.flight.append(jump.height_from_flight_m - true.height_m)
            found.impulse.append(jump.height_from_impulse_m - true.height_m)
            found.covered.append(abs(error) <= (jump.uncertainty_m or 0.0))
            found.late_s.append(jump.decided_time_s - true.landing_time_s)
            found.flags.update(jump.flags)
        found.invented += len(jumps)
    return found


def _plan(rng: np.random.Generator, condition: Condition) -> PlannedJump:
    usual: dict[str, float | bool] = {
        "height_m": float(rng.uniform(LOWEST_M, HIGHEST_M)),
        "depth_m": float(rng.uniform(0.20, 0.40)),
        "landing_above_m": float(rng.uniform(-0.03, 0.03)),
        "pitch_deg": float(rng.uniform(20.0, 40.0)),
    }
    return PlannedJump(**(usual | condition.plan))  # type: ignore[arg-type]


def simulated_table() -> tuple[Table, list[str]]:
    """The table, and a sentence for each figure that is not reached."""
    out = Table(title="Jumps of 0.15 to 0.60 m, simulated belts, held-out seeds", title_justify="left")
    for head in "condition|jumps|missed|invented|SD|mean|flight mean / SD|impulse mean / SD".split("|"):
        out.add_column(head)
    for head in ("within ±U", "final after, 95 %", "flagged"):
        out.add_column(head)
    missed = []
    for condition in CONDITIONS:
        f = measured(condition)
        height = np.array(f.height)
        sd, mean, flagged = (
            float(height.std(ddof=1)),
            float(height.mean()),
            f.flags[condition.flag] / len(height),
        )
        spoiled = bool(condition.flag)
        wrong = bool(f.missed or f.invented) or (not spoiled and (sd > SD_M or abs(mean) > MEAN_M))
        wrong = wrong or (spoiled and flagged < 0.95)
        if wrong:
            missed.append(f"jumps, {condition.name}: not reached")
        out.add_row(
            condition.name + (" *" if wrong else ""),
            str(len(height)),
            str(f.missed),
            str(f.invented),
            f"{sd:.4f}",
            f"{mean:+.4f}",
            f"{np.mean(f.flight):+.4f} / {np.std(f.flight):.4f}",
            f"{np.mean(f.impulse):+.4f} / {np.std(f.impulse):.4f}",
            f"{np.mean(f.covered):.0%}",
            f"{np.percentile(f.late_s, 95):.1f} s",
            f"{condition.flag} {flagged:.0%}"
            if spoiled
            else ", ".join(f"{k} {n}" for k, n in f.flags.items()),
        )
    steps = sum(
        len(jumps_of(as_block(make_steps_trace(seed=HELD_OUT_SEEDS_FROM + n)))) for n in range(TRACES)
    )
    out.add_row("steps instead of jumps", "0", "", f"{steps}{' *' if steps else ''}")
    return out, missed


def force_plate_table() -> Table:
    """Each jump on a force plate: both heights, and the flight by a threshold of 20 N on the same force."""
    out = Table(title="Force plates (force over mass as an accelerometer)", title_justify="left")
    for head in ("series", "flight at 20 N", "flight", "impulse", "height ± U", "flags"):
        out.add_column(head)
    for name, start_s in FORCE_PLATES:
        time, force = _force(name, start_s)
        for jump in jumps_of(_as_belt(time, force)):
            by_threshold = _height_at_threshold(time, force, jump.takeoff_time_s)
            out.add_row(
                name,
                "" if by_threshold is None else f"{by_threshold:.3f}",
                f"{jump.height_from_flight_m:.3f}",
                f"{jump.height_from_impulse_m:.3f}",
                f"{jump.jump_height_m:.3f} ± {jump.uncertainty_m or 0.0:.3f}",
                ", ".join(jump.flags),
            )
    return out


def _force(name: str, start_s: float) -> tuple[np.ndarray, np.ndarray]:
    table = columns_of(DATA / f"{name}.parquet")
    force = table["force_n"] if "force_n" in table else table["force_right_n"] + table["force_left_n"]
    kept = table["time_s"] >= start_s
    time = table["time_s"][kept]
    return time - time[0], force[kept]


def _as_belt(time: np.ndarray, force: np.ndarray) -> TimedBlock:
    acc = np.zeros((len(time), 3))
    acc[:, 2] = force / np.median(force[force > 100]) * 9.80665
    return TimedBlock(time, np.arange(len(time)), acc)


def _height_at_threshold(time: np.ndarray, force: np.ndarray, takeoff_s: float) -> float | None:
    """g t^2 / 8 of the stretch under 20 N that begins near a take-off, m."""
    free = np.flatnonzero((force < 20.0) & (np.abs(time - takeoff_s - 0.1) < 0.15))
    if not len(free):
        return None
    landed = np.flatnonzero((force >= 20.0) & (time > time[free[0]]))
    return float(9.80665 * (time[landed[0]] - time[free[0]]) ** 2 / 8) if len(landed) else None


def report(console: Console) -> list[str]:
    """Print both tables; a sentence for each figure that is not reached."""
    table, missed = simulated_table()
    console.print(table)
    console.print(force_plate_table())
    return missed


if __name__ == "__main__":
    report(Console(width=190))
