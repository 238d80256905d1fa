"""Invented squads with known truth: what a season of two-load sessions looks like when nothing but chance acts.

Each athlete has a true load-velocity line through an own velocity at the one-repetition maximum; strength may drift
over the weeks (the velocity without load stays, the maximum moves), each session has a state of the day that all its
sets share, each set its own noise. A squad for the statistics' figures, so seeds are held out from any tuning.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

LIFT = "back squat"
FIRST_DAY = date(2026, 1, 5)
# Full squat: 0.32 +/- 0.03 m/s at the maximum and 1.5 m/s more without load (Sanchez-Medina et al. 2017,
# doi 10.1055/s-0043-102933; the spread of the span is an assumption).
VELOCITY_AT_1RM_M_S, VELOCITY_AT_1RM_SD_M_S = 0.32, 0.03
SPAN_M_S, SPAN_SD_M_S = 1.50, 0.10
# Sessions on these days of the week, with one or two a week.
_DAYS = {1: (2,), 2: (1, 4)}


@dataclass(frozen=True, slots=True)
class SquadRules:
    """How a squad trains and varies.

    Attributes:
        drift_per_week: strength changes by a share of up to this a week, each athlete at an own steady rate.
        outliers: one session of each athlete's history is wild: 0.25 m/s or more off.
        velocity_at_1rm_sd_m_s: spread of the athletes' own velocities at 1RM.
        curved: velocities follow the published curve of the full squat instead of a straight line.
    """

    athletes: int = 120
    weeks: int = 20
    sessions_a_week: int = 1
    missed: float = 0.15
    day_sd_m_s: float = 0.035
    set_sd_m_s: float = 0.020
    drift_per_week: float = 0.0
    outliers: bool = False
    velocity_at_1rm_sd_m_s: float = VELOCITY_AT_1RM_SD_M_S
    curved: bool = False


@dataclass(frozen=True, slots=True)
class SquadAthlete:
    """One athlete's truth: strength at the start, and the line's two fixed ends."""

    athlete_id: str
    start_1rm_kg: float
    span_m_s: float
    velocity_at_1rm_m_s: float
    drift_per_week: float
    warmup_load_kg: float
    second_load_kg: float

    def strength_kg(self, weeks: float) -> float:
        """One-repetition maximum on an ordinary day, so many weeks after the first."""
        return self.start_1rm_kg * float((1.0 + self.drift_per_week) ** weeks)

    def velocity_m_s(self, load_kg: float, weeks: float, *, curved: bool = False) -> float:
        """Fastest rep's mean velocity on an ordinary day."""
        share = load_kg / self.strength_kg(weeks)
        if curved:
            share = _along_the_curve(share)
        return self.velocity_at_1rm_m_s + self.span_m_s * (1.0 - share)

    def one_rm_kg(self, weeks: float, day_state_m_s: float) -> float:
        """The load that moves at the velocity at 1RM on a day of that state."""
        return self.strength_kg(weeks) * (1.0 + day_state_m_s / self.span_m_s)


@dataclass(frozen=True, slots=True)
class SquadSession:
    """One athlete's session: when, the true state of the day, and the fastest rep at both loads, m/s."""

    athlete: SquadAthlete
    day: date
    weeks: float
    day_state_m_s: float
    velocities_m_s: tuple[float, float]
    wild: bool = False


@dataclass(frozen=True, slots=True)
class SimulatedSquad:
    """A squad and its sessions, oldest first."""

    athletes: tuple[SquadAthlete, ...]
    sessions: tuple[SquadSession, ...] = field(repr=False)


def make_squad(rules: SquadRules, seed: int) -> SimulatedSquad:
    """A squad with its season, the same for the same rules and seed."""
    rng = np.random.default_rng([seed, 51])
    athletes = tuple(_athlete(rules, rng, index) for index in range(rules.athletes))
    sessions = [one for athlete in athletes for one in _season(rules, athlete, rng)]
    return SimulatedSquad(athletes, tuple(sorted(sessions, key=lambda s: s.day)))


def _athlete(rules: SquadRules, rng: np.random.Generator, index: int) -> SquadAthlete:
    one_rm = float(np.clip(rng.normal(120.0, 20.0), 70.0, 190.0))
    light, heavy = rng.uniform(0.50, 0.62), rng.uniform(0.75, 0.85)
    return SquadAthlete(
        f"athlete {index + 1:03d}",
        one_rm,
        float(rng.normal(SPAN_M_S, SPAN_SD_M_S)),
        float(rng.normal(VELOCITY_AT_1RM_M_S, rules.velocity_at_1rm_sd_m_s)),
        float(rng.uniform(-rules.drift_per_week, rules.drift_per_week)),
        2.5 * round(light * one_rm / 2.5),
        2.5 * round(heavy * one_rm / 2.5),
    )


def _season(rules: SquadRules, athlete: SquadAthlete, rng: np.random.Generator) -> list[SquadSession]:
    days = [7 * week + day for week in range(rules.weeks) for day in _DAYS[rules.sessions_a_week]]
    lifted = [day for day in days if rng.random() >= rules.missed]
    wild = rng.choice(lifted[:-1]) if rules.outliers and len(lifted) > 1 else None
    return [_session(rules, athlete, day, rng, wild=day == wild) for day in lifted]


def _session(
    rules: SquadRules, athlete: SquadAthlete, day: int, rng: np.random.Generator, *, wild: bool
) -> SquadSession:
    weeks = day / 7
    state = float(rng.normal(0.0, rules.day_sd_m_s))
    off = float(rng.choice([-1.0, 1.0]) * rng.uniform(0.25, 0.50)) if wild else 0.0
    light, heavy = (
        athlete.velocity_m_s(load, weeks, curved=rules.curved)
        + state
        + float(rng.normal(0.0, rules.set_sd_m_s))
        for load in (athlete.warmup_load_kg, athlete.second_load_kg)
    )
    return SquadSession(
        athlete, FIRST_DAY + timedelta(days=day), weeks, state, (round(light + off, 4), round(heavy, 4)), wild
    )


def _along_the_curve(share: float) -> float:
    """Share of the straight line's fall at a share of the maximum, from the published full-squat curve.

    Load in percent = -12.87 v^2 - 46.31 v + 116.3 (Sanchez-Medina et al. 2017), solved for v, and scaled so that
    both ends meet the line's.
    """

    def velocity(percent: float) -> float:
        return float((-46.31 + np.sqrt(46.31**2 + 4 * 12.87 * (116.3 - percent))) / (2 * 12.87))

    return (velocity(0.0) - velocity(100.0 * share)) / (velocity(0.0) - velocity(100.0))
