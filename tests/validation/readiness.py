"""Figures of the readiness statistics on simulated squads with known truth, seeds held out from any tuning.

`python -m tests.validation.readiness` prints the table alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby, pairwise

import numpy as np
from rich.console import Console
from rich.progress import track
from rich.table import Table

from simulated_sensor.squads import LIFT, SimulatedSquad, SquadRules, SquadSession, make_squad
from station.readiness.results import Verdict
from station.readiness.squad_day import DayLine, DayPlan, assess_day
from station.squad.lifts import LIFTS
from station.squad.sets import SetObservation
from tests.validation.yardsticks import ewma_rule, last_six, two_point_1rm_kg

# The block 880_000 was looked at while choices were made; this one was not.
HELD_OUT_SEEDS_FROM = 910_000
DROP_M_S = 0.07
SQUADS = 8


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table: a squad's rules, and which load is the warm-up load.

    Attributes:
        coverage: lowest and highest share of unchanged days inside the range.
        own_velocity_at_1rm: the station knows each athlete's own velocity at 1RM (to 0.01 m/s).
        second_is_warmup: the heavier of the two loads is the warm-up load.
    """

    name: str
    rules: SquadRules
    coverage: tuple[float, float] = (0.77, 0.86)
    own_velocity_at_1rm: bool = True
    second_is_warmup: bool = False


ROWS = (
    Row("standard", SquadRules(), (0.78, 0.82)),
    Row("standard, published velocity at 1RM", SquadRules(), (0.78, 0.82), own_velocity_at_1rm=False),
    Row("standard, heavier warm-up load", SquadRules(), (0.78, 0.82), second_is_warmup=True),
    Row("two sessions a week", SquadRules(sessions_a_week=2)),
    Row("drift up to 1 % a week", SquadRules(drift_per_week=0.01)),
    Row("drift, heavier warm-up load", SquadRules(drift_per_week=0.01), second_is_warmup=True),
    Row("one wild outlier each", SquadRules(outliers=True)),
    Row("curved truth", SquadRules(curved=True)),
)


@dataclass(frozen=True, slots=True)
class Judged:
    """One unchanged day of one athlete, and the same day with a true drop.

    Attributes:
        rules: for each of "model", "last six", "ewma": inside, below, below after the drop; None: no answer.
    """

    sessions: int
    rules: dict[str, tuple[bool, bool, bool] | None]
    covered_1rm: bool
    error_1rm_kg: float
    two_point_error_1rm_kg: float
    chance_slower: float
    was_slower: bool


def judged_days(row: Row, seed: int) -> Iterator[Judged]:
    """Every day from the fourth on, each with all days before as history."""
    squad = make_squad(row.rules, seed)
    rng = np.random.default_rng([seed, 52])
    plans = {(a.athlete_id, LIFT): _plan(row, squad, n, rng) for n, a in enumerate(squad.athletes)}
    sets: list[SetObservation] = []
    warmups: dict[str, list[float]] = defaultdict(list)
    for number, (day, sessions) in enumerate(groupby(squad.sessions, key=lambda s: s.day)):
        today = {one.athlete.athlete_id: one for one in sessions}
        sets += [s for one in today.values() for s in _sets(one)]
        if number >= 3:
            yield from _judged(row, sets, day, plans, today, warmups)
        for athlete_id, one in today.items():
            warmups[athlete_id].append(one.velocities_m_s[int(row.second_is_warmup)])


def _plan(row: Row, squad: SimulatedSquad, index: int, rng: np.random.Generator) -> DayPlan:
    athlete = squad.athletes[index]
    own = athlete.velocity_at_1rm_m_s + float(rng.normal(0.0, 0.01)) if row.own_velocity_at_1rm else None
    load = athlete.second_load_kg if row.second_is_warmup else athlete.warmup_load_kg
    return DayPlan(None, None, load, own)


def _sets(one: SquadSession) -> list[SetObservation]:
    loads = one.athlete.warmup_load_kg, one.athlete.second_load_kg
    return [
        SetObservation(one.athlete.athlete_id, one.day, LIFT, load, v)
        for load, v in zip(loads, one.velocities_m_s, strict=True)
    ]


def _judged(
    row: Row,
    sets: Sequence[SetObservation],
    day: date,
    plans: dict[tuple[str, str], DayPlan],
    today: dict[str, SquadSession],
    warmups: dict[str, list[float]],
) -> Iterator[Judged]:
    for line in assess_day(sets, day, plans):
        one = today[line.athlete_id]
        if (
            line.assessed is not None
            and line.assessed.verdict is not Verdict.TOO_LITTLE_HISTORY
            and not one.wild
        ):
            yield _one(row, line, one, warmups[line.athlete_id])


def _one(row: Row, line: DayLine, one: SquadSession, before: list[float]) -> Judged:
    now = line.assessed
    assert now is not None
    assert now.today_1rm_kg is not None
    assert now.today_1rm_low_kg is not None
    assert now.today_1rm_high_kg is not None
    ranges = {
        "model": (now.usual.low_m_s, now.usual.high_m_s),
        "last six": last_six(before),
        "ewma": ewma_rule(before),
    }
    true_1rm = one.athlete.one_rm_kg(one.weeks, one.day_state_m_s)
    plan = line.plan
    known = plan.velocity_at_1rm_m_s if plan else None
    at_1rm = known if known is not None else LIFTS[LIFT].velocity_at_1rm_m_s
    loads = one.athlete.warmup_load_kg, one.athlete.second_load_kg
    return Judged(
        now.usual.sessions,
        {name: _called(now.mean_velocity_m_s, edges) for name, edges in ranges.items()},
        now.today_1rm_low_kg <= true_1rm <= now.today_1rm_high_kg,
        abs(now.today_1rm_kg - true_1rm),
        abs(two_point_1rm_kg(loads, one.velocities_m_s, at_1rm) - true_1rm),
        now.probability_slower,
        one.day_state_m_s < -now.smallest_worthwhile_m_s,
    )


def _called(value: float, edges: tuple[float, float] | None) -> tuple[bool, bool, bool] | None:
    if edges is None:
        return None
    return edges[0] <= value <= edges[1], value < edges[0], value - DROP_M_S < edges[0]


def table(rows: Sequence[Row] = ROWS, squads: int = SQUADS) -> tuple[Table, list[str]]:
    """The table, and a sentence for each figure that is not reached."""
    out = Table(title="Readiness: usual range, drops of 0.07 m/s, today's 1RM", title_justify="left")
    heads = "squad|rule|days|inside|inside, 3-5|slower, unchanged|slower, drop"
    for head in f"{heads}|1RM inside|1RM error kg|two-point kg|smaller by".split("|"):
        out.add_column(head)
    missed: list[str] = []
    for row in rows:
        seeds = range(HELD_OUT_SEEDS_FROM, HELD_OUT_SEEDS_FROM + squads)
        days = [d for seed in track(list(seeds), row.name, transient=True) for d in judged_days(row, seed)]
        for rule in ("model", "last six", "ewma"):
            out.add_row(*_cells(row, rule, days))
        missed += _missed(row, days)
    return out, missed


def _shares(days: Sequence[Judged], rule: str, least: int, most: int = 10**6) -> tuple[float, float, float]:
    known = [d.rules[rule] for d in days if least <= d.sessions <= most]
    return tuple(np.mean([k for k in known if k is not None], axis=0)) if any(known) else (np.nan,) * 3


def _cells(row: Row, rule: str, days: Sequence[Judged]) -> list[str]:
    inside, below, found = _shares(days, rule, 6)
    cells = [row.name if rule == "model" else "", rule, str(len(days))]
    if rule != "model":
        return [*cells, f"{inside:.3f}", "", f"{below:.3f}", f"{found:.3f}", "", "", "", ""]
    error, yardstick = (
        float(np.median([getattr(d, name) for d in days]))
        for name in ("error_1rm_kg", "two_point_error_1rm_kg")
    )
    return [
        *cells,
        f"{_shares(days, rule, 3)[0]:.3f}",
        f"{_shares(days, rule, 3, 5)[0]:.3f}",
        f"{below:.3f}",
        f"{found:.3f}",
        f"{np.mean([d.covered_1rm for d in days]):.3f}",
        f"{error:.2f}",
        f"{yardstick:.2f}",
        f"{1.0 - error / yardstick:.0%}",
    ]


def _missed(row: Row, days: Sequence[Judged]) -> list[str]:
    """What this row does not reach."""
    (low, high), said = row.coverage, []
    inside, few = _shares(days, "model", 3)[0], _shares(days, "model", 3, 5)[0]
    _, below, found = _shares(days, "model", 6)
    if not low <= inside <= high:
        said.append(f"{row.name}: {inside:.1%} of unchanged days inside, {low:.0%} to {high:.0%} wanted")
    if not 0.77 <= few <= 0.86:
        said.append(f"{row.name}: {few:.1%} inside with 3 to 5 earlier sessions, 77 to 86 % wanted")
    if row.name.startswith("standard"):
        error, yardstick = (
            np.median([getattr(d, n) for d in days]) for n in ("error_1rm_kg", "two_point_error_1rm_kg")
        )
        covered = np.mean([d.covered_1rm for d in days])
        if found < 0.65 or below > 0.11:
            said.append(
                f"{row.name}: {found:.1%} of drops found at {below:.1%} false calls, 65 and 11 % wanted"
            )
        if not 0.77 <= covered <= 0.86:
            said.append(f"{row.name}: today's 1RM inside its interval in {covered:.1%}, 77 to 86 % wanted")
        if error > yardstick * 2 / 3:
            said.append(f"{row.name}: 1RM error smaller by {1 - error / yardstick:.0%}, a third wanted")
    return said


def chances(days: Sequence[Judged]) -> Table:
    """Whether probability_slower means what it says: said beside what was true, in classes."""
    out = Table(title="Chance of being slower by what 5 % of strength is worth", title_justify="left")
    for head in ("said", "days", "mean said", "true"):
        out.add_column(head)
    edges = (0.0, 0.05, 0.15, 0.30, 0.50, 0.70, 1.0)
    for low, high in pairwise(edges):
        here = [d for d in days if low <= d.chance_slower < high]
        if here:
            said, true = (np.mean([getattr(d, n) for d in here]) for n in ("chance_slower", "was_slower"))
            out.add_row(f"{low:.0%} to {high:.0%}", str(len(here)), f"{said:.2f}", f"{true:.2f}")
    return out


def report(console: Console) -> bool:
    """Print everything; whether all figures are reached."""
    made, missed = table()
    console.print(made)
    console.print(chances([d for seed in range(3) for d in judged_days(ROWS[0], HELD_OUT_SEEDS_FROM + seed)]))
    for sentence in missed:
        console.print(f"not reached: {sentence}")
    return not missed


if __name__ == "__main__":
    report(Console(width=150))
