"""The usual range: where an athlete's next warm-up speed is expected when nothing has changed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from drivers.samples import FloatArray
from station.readiness.equipment import equipment_epochs
from station.readiness.history import fresh_sets, sessions_of, warmup_sets
from station.readiness.model import AthleteModel, Sets
from station.readiness.prior import NO_SQUAD as NO_SQUAD
from station.readiness.prior import SquadPrior as SquadPrior
from station.readiness.prior import WarmupSeries
from station.readiness.prior import at_any_load as at_any_load
from station.readiness.prior import squad_prior as squad_prior
from station.readiness.results import UsualRange
from station.squad.sets import SetObservation, same_load

COVERAGE = 0.80
# From six sessions on the range is drawn a little narrower than the 80 % it stands for. Even the true spreads find
# just short of 65 % of drops of 0.07 m/s with exactly 80 %; less than a point more false calls on each side buys
# them, and the share of unchanged days inside stays within 80 +/- 2 %.
COVERAGE_WHEN_KNOWN = 0.785
KNOWN_SESSIONS = 6
ENOUGH_SESSIONS = 3
# Older sessions would hardly weigh: after this many the level is known to a fifth of a session's spread. Of each, the
# warm-up set and the next heavier one: a long ramp adds little. Sixty sets are also few enough to be inverted on one
# core; above, the linear algebra library shares the work, and cores that others use make that slow.
SESSIONS_USED = 30
SETS_USED_A_SESSION = 2


def usual_for_day(
    earlier: Sequence[SetObservation],
    warmup_load_kg: float,
    day: date,
    prior: SquadPrior = NO_SQUAD,
    *,
    like_day: str = "",
    equipment: str = "",
) -> UsualRange:
    """The usual range of the first set at the warm-up load on a day, given all earlier sessions.

    Args:
        earlier: one athlete, one lift, in order of time; what does not count is left out.
        warmup_load_kg: the fixed load, kg.
        prior: the squad's experience at such loads.
        like_day: what kind of day it is; sessions on like days weigh more.
        equipment: sensor and bar in use; "" when unknown.
    """
    model = athlete_model(earlier, [], warmup_load_kg, day, prior, like_day=like_day, equipment=equipment)
    return range_of(model, len(counted_warmups(earlier, warmup_load_kg)))


def counted_warmups(sets: Sequence[SetObservation], warmup_load_kg: float) -> list[SetObservation]:
    """The warm-up sets that are history."""
    return [s for s in warmup_sets(sets, warmup_load_kg) if s.counts]


def range_of(model: AthleteModel, sessions: int) -> UsualRange:
    """The 80 % predictive interval of the model's next warm-up set."""
    posterior = model.next_set(model.reference_kg)
    middle, sd = posterior.of([1.0])
    coverage = COVERAGE_WHEN_KNOWN if sessions >= KNOWN_SESSIONS else COVERAGE
    half = posterior.quantile(0.5 + coverage / 2) * sd
    return UsualRange(middle - half, middle, middle + half, sd, sessions, sessions >= ENOUGH_SESSIONS)


def athlete_model(
    earlier: Sequence[SetObservation],
    today: Sequence[SetObservation],
    warmup_load_kg: float,
    day: date,
    prior: SquadPrior = NO_SQUAD,
    *,
    like_day: str = "",
    equipment: str = "",
) -> AthleteModel:
    """The model from the latest sessions, today's sets being the last of them when given."""
    sessions = [_used(s, warmup_load_kg) for s in sessions_of(earlier)[-SESSIONS_USED:]]
    if today:
        sessions.append(fresh_sets(today))
    numbered = [(n, one) for n, session in enumerate(sessions) for one in session]
    epochs = equipment_epochs([one for _, one in numbered], warmup_load_kg, equipment, prior)
    sets = Sets(
        np.array([one.load_kg for _, one in numbered]),
        np.array([one.mean_velocity_m_s for _, one in numbered]),
        np.array([min((one.day - day).days, 0) / 7 for _, one in numbered]),
        np.array([float(n) for n, _ in numbered]),
        _coded([one.like_day or like_day for _, one in numbered], like_day),
        np.array(epochs, dtype=float),
    )
    return AthleteModel(sets, warmup_load_kg, prior)


def last_session(model: AthleteModel) -> int:
    """The number of the model's latest session."""
    return int(model.sets.session[-1])


def _used(session: Sequence[SetObservation], warmup_load_kg: float) -> list[SetObservation]:
    """The fresh sets nearest to the warm-up load, always with the warm-up set, in order."""
    fresh = fresh_sets(session)
    if len(fresh) <= SETS_USED_A_SESSION:
        return fresh
    own = [s for s in fresh if s.load_kg >= warmup_load_kg or same_load(s.load_kg, warmup_load_kg)]
    lighter = [s for s in fresh if s not in own]
    return (
        own[:SETS_USED_A_SESSION]
        if len(own) >= SETS_USED_A_SESSION
        else lighter[len(own) - SETS_USED_A_SESSION :] + own
    )


def _coded(kinds: Sequence[str], today: str) -> FloatArray:
    """Kinds as numbers, today's being 0."""
    numbers = {today: 0}
    return np.array([float(numbers.setdefault(kind, len(numbers))) for kind in kinds])


def warmup_series(sets: Sequence[SetObservation], warmup_load_kg: float, before: date) -> WarmupSeries:
    """One athlete's latest sessions before a day, as the squad's prior is learned from them."""
    sessions = [fresh_sets(s) for s in sessions_of([s for s in sets if s.day < before])[-SESSIONS_USED:]]
    rows = [row for session in sessions if (row := _series_row(session, warmup_load_kg, before)) is not None]
    weeks, values, loads, others = np.array(rows, dtype=float).reshape(-1, 4).T.copy()
    return WarmupSeries(weeks, values, warmup_load_kg, loads, others)


def _series_row(
    session: Sequence[SetObservation], warmup_load_kg: float, before: date
) -> tuple[float, float, float, float] | None:
    warmup = next((s for s in session if same_load(s.load_kg, warmup_load_kg)), None)
    if warmup is None:
        return None
    other = next((s for s in reversed(session) if s is not warmup), None)
    weeks = (warmup.day - before).days / 7
    if other is None:
        return weeks, warmup.mean_velocity_m_s, float("nan"), float("nan")
    return weeks, warmup.mean_velocity_m_s, other.load_kg, other.mean_velocity_m_s
