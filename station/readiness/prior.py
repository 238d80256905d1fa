"""What the squad teaches about an athlete before the first session, learned by moments (empirical Bayes)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from drivers.samples import FloatArray

# Levels and falls are taken to spread this much wider than the squad shows: a drift over the season makes today's
# level and the trend go together, which the model does not hold, and athletes far from the rest must not be pulled.
_WIDER = 1.5


@dataclass(frozen=True, slots=True)
class SquadPrior:
    """What is known of an athlete before the first session: the squad's experience at the warm-up load.

    Attributes:
        level_m_s, level_sd_m_s: where levels lie across the squad.
        session_sd_m_s: typical spread of one athlete's sessions (day state and set noise together).
        session_sd_weight: how many sets of the athlete's own that spread is worth.
        trend_sd_m_s: how fast levels rise or fall, m/s a week.
        set_share: share of the session variance that is the set's own noise.
        fall_m_s, fall_sd_m_s: what the warm-up load costs of the speed without load: minus slope times load.
        level_fall_correlation: a steep line is slow at the warm-up load.
        like_day_sd_m_s: how much kinds of days (MD+2, MD+3, no match) differ within one athlete.
    """

    level_m_s: float
    level_sd_m_s: float
    session_sd_m_s: float = 0.040
    session_sd_weight: float = 8.0
    trend_sd_m_s: float = 0.003
    set_share: float = 0.020**2 / (0.035**2 + 0.020**2)
    fall_m_s: float = 0.85
    fall_sd_m_s: float = 0.30
    level_fall_correlation: float = -0.7
    like_day_sd_m_s: float = 0.015

    @property
    def day_variance(self) -> float:
        """Variance of the state of the day, m2/s2."""
        return (1.0 - self.set_share) * self.session_sd_m_s**2

    @property
    def set_variance(self) -> float:
        """Variance of one set about its day, m2/s2."""
        return self.set_share * self.session_sd_m_s**2

    @property
    def line_mean(self) -> FloatArray:
        """Level and fall, shape (2,)."""
        return np.array([self.level_m_s, self.fall_m_s])

    @property
    def line_covariance(self) -> FloatArray:
        """Of level and fall, shape (2, 2): somewhat wider than the squad's own."""
        level, fall = _WIDER * self.level_sd_m_s, _WIDER * self.fall_sd_m_s
        both = self.level_fall_correlation / _WIDER * level * fall
        return np.array([[level**2, both], [both, fall**2]])


# Without a squad to learn from: wide levels; the fall is that of the full squat at half of the maximum (1.10 m/s
# there and 0.32 at the maximum, Sanchez-Medina et al. 2017, doi 10.1055/s-0043-102933); the spread is the
# middle of the published 0.03 to 0.08 m/s day-to-day SEM (Front Physiol 2020;11:561682), at its lower end as fixed
# loads and one device keep it.
NO_SQUAD = SquadPrior(level_m_s=0.8, level_sd_m_s=0.3)


def at_any_load(prior: SquadPrior) -> SquadPrior:
    """The squad's spreads, with nothing known of the level: for a load other than the one it was learned at."""
    wide = NO_SQUAD
    return replace(
        prior,
        level_m_s=wide.level_m_s,
        level_sd_m_s=wide.level_sd_m_s,
        fall_m_s=wide.fall_m_s,
        fall_sd_m_s=wide.fall_sd_m_s,
        level_fall_correlation=wide.level_fall_correlation,
    )


ENOUGH_ATHLETES = 3
SMALLEST_SESSION_SD_M_S = 0.01
SMALLEST_TREND_SD_M_S = 0.0003
_WILD_SD = 4.0
_SHORT = 5
_LATEST_SESSIONS = 5
# How much the general trend counts against the squad's own: a third of what would make its SD equal to itself.
_GENERAL_TREND_WEIGHT = 0.3


@dataclass(frozen=True, eq=False, slots=True)
class WarmupSeries:
    """One athlete's sessions at the warm-up load and, where there is one, the next heavier or lighter fresh set.

    Attributes:
        weeks, values_m_s: session times and warm-up speeds, shape (n,).
        load_kg: the warm-up load.
        other_load_kg, other_m_s: the session's other fresh set, NaN where there is none, shape (n,).
    """

    weeks: FloatArray
    values_m_s: FloatArray
    load_kg: float = 1.0
    other_load_kg: FloatArray | None = None
    other_m_s: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class _Spread:
    """One athlete's residuals about an own straight line in time: squares, freedom, slope, its leverage."""

    squares: float
    freedom: int
    slope: float
    leverage: float


def squad_prior(squad: Sequence[WarmupSeries]) -> SquadPrior:
    """Learn levels, falls, spreads and trends of a squad from its athletes' own sets.

    Spread and trends come from straight lines through each athlete's own sessions: the pooled residual variance,
    and the variance of the slopes beyond what that residual explains (method of moments). The set's noise comes
    from the difference of two sets of one session. Sessions beyond four robust SDs are left out.

    Args:
        squad: one series an athlete, any lengths.

    Returns:
        A prior; `NO_SQUAD` when fewer than three athletes have values.
    """
    levels = np.array([_level_now(one) for one in squad if len(one.values_m_s)])
    if len(levels) < ENOUGH_ATHLETES:
        return NO_SQUAD
    level, level_sd = float(levels.mean()), float(levels.std(ddof=1))
    spreads = _spreads([(one.weeks, one.values_m_s) for one in squad])
    session = _pooled_variance(spreads, NO_SQUAD.session_sd_m_s**2)
    session_sd = max(float(np.sqrt(session)), SMALLEST_SESSION_SD_M_S)
    fall, fall_sd, correlation = _falls(squad)
    return SquadPrior(
        level,
        max(level_sd, session_sd / 2),
        session_sd,
        _weight(spreads, session_sd**2),
        _trend_sd(spreads, session_sd**2),
        _set_share(squad, session_sd**2),
        fall,
        fall_sd,
        correlation,
    )


def _spreads(series: Sequence[tuple[FloatArray, FloatArray]]) -> list[_Spread]:
    """Residuals of each series about its least-squares line, values far from a robust line left out first."""
    usable = [(w, v) for w, v in series if len(np.unique(w)) >= ENOUGH_ATHLETES]
    if not usable:
        return []
    steps = np.concatenate([np.abs(np.diff(v)) for _, v in usable])
    # From neighbours, so that neither drift nor one wild value in each series matters (1.4826: MAD of a normal).
    sd = 1.4826 * float(np.median(steps)) / np.sqrt(2.0)
    tame = [_off_robust_line(w, v) <= _WILD_SD * sd for w, v in usable]
    kept = [(w[good], v[good]) for (w, v), good in zip(usable, tame, strict=True)]
    spreads = [_spread(w, v) for w, v in kept if len(np.unique(w)) >= ENOUGH_ATHLETES]
    return [s for s in spreads if not _spoiled(s, sd)]


def _spoiled(spread: _Spread, sd: float) -> bool:
    """Whether a short series holds a wild value that no line through so few could point out."""
    return spread.freedom <= _SHORT and spread.squares > sd**2 * float(special.chdtri(spread.freedom, 0.001))


def _level_now(one: WarmupSeries) -> float:
    """Where an athlete is at present: the median of the latest five sessions, which one wild value hardly moves."""
    return float(np.median(one.values_m_s[-_LATEST_SESSIONS:]))


def _off_robust_line(weeks: FloatArray, values: FloatArray) -> FloatArray:
    """Distances from the line with the median slope of all pairs (Theil & Sen), which one wild value hardly moves."""
    first, second = np.triu_indices(len(weeks), 1)
    apart = weeks[second] - weeks[first]
    known = apart != 0.0
    slope = np.median((values[second] - values[first])[known] / apart[known])
    left = values - slope * weeks
    return np.asarray(np.abs(left - np.median(left)))


def _spread(weeks: FloatArray, values: FloatArray) -> _Spread:
    w, v = weeks - weeks.mean(), values - values.mean()
    leverage = float(w @ w)
    slope = float(w @ v) / leverage
    residual = v - slope * w
    return _Spread(float(residual @ residual), len(w) - 2, slope, leverage)


def _pooled_variance(spreads: Sequence[_Spread], otherwise: float) -> float:
    """Pooled residual variance, the general figure counting as ten sessions."""
    squares = sum(s.squares for s in spreads) + 10 * otherwise
    return squares / (sum(s.freedom for s in spreads) + 10)


def _weight(spreads: Sequence[_Spread], session_variance: float) -> float:
    """How alike the athletes' spreads are, as sets: by moments of the scaled inverse chi-square."""
    known = [(s.squares / s.freedom / session_variance, s.freedom) for s in spreads if s.freedom >= 3]
    if len(known) < 10:
        return NO_SQUAD.session_sd_weight
    ratio, freedom = (np.array(column) for column in zip(*known, strict=True))
    excess = float(np.average((ratio - 1.0) ** 2 - 2.0 / freedom, weights=freedom))
    return float(np.clip(4.0 + 2.0 / max(excess, 1e-3), NO_SQUAD.session_sd_weight, 60.0))


def _trend_sd(spreads: Sequence[_Spread], session_variance: float) -> float:
    """Spread of the weekly trends, by half a standard error on the safe side.

    A short season says little: then the general figure counts, and the range is wider.
    """
    general = NO_SQUAD.trend_sd_m_s**2
    weights = [s.leverage**2 for s in spreads]
    own = [s.slope**2 - session_variance / s.leverage for s in spreads]
    general_weight = _GENERAL_TREND_WEIGHT * (session_variance / general) ** 2
    total = sum(w * v for w, v in zip(weights, own, strict=True)) + general_weight * general
    whole = sum(weights) + general_weight
    unsure = session_variance * np.sqrt(2.0 * sum(weights)) / whole  # standard error of what is learned
    return float(np.sqrt(max(total / whole + 0.5 * unsure, SMALLEST_TREND_SD_M_S**2)))


def _set_share(squad: Sequence[WarmupSeries], session_variance: float) -> float:
    """Set noise from the differences between two sets of one session, at each athlete's commonest other load."""
    differences = []
    for one in squad:
        if one.other_load_kg is None or one.other_m_s is None:
            continue
        load = _commonest(one.other_load_kg)
        same = one.other_load_kg == load
        differences.append((one.weeks[same], (one.values_m_s - one.other_m_s)[same]))
    spreads = _spreads(differences)
    general = 2 * NO_SQUAD.set_share * session_variance
    return float(np.clip(_pooled_variance(spreads, general) / 2 / session_variance, 0.05, 0.95))


def _commonest(loads_kg: FloatArray) -> float:
    known = loads_kg[np.isfinite(loads_kg)]
    if not len(known):
        return float("nan")
    values, counts = np.unique(known, return_counts=True)
    return float(values[np.argmax(counts)])


def _falls(squad: Sequence[WarmupSeries]) -> tuple[float, float, float]:
    """Mean and SD of the falls, and their correlation with the levels, across the squad."""
    pairs = []
    for one in squad:
        if one.other_load_kg is None or one.other_m_s is None:
            continue
        apart = one.other_load_kg / one.load_kg - 1.0
        known = np.isfinite(apart) & (np.abs(apart) > 0.1)
        if known.sum() >= ENOUGH_ATHLETES:
            falls = (one.values_m_s - one.other_m_s)[known] / apart[known]
            pairs.append((_level_now(one), float(np.median(falls[-2 * _LATEST_SESSIONS :]))))
    if len(pairs) < 5:
        return NO_SQUAD.fall_m_s, NO_SQUAD.fall_sd_m_s, NO_SQUAD.level_fall_correlation
    levels, falls_ = (np.array(column) for column in zip(*pairs, strict=True))
    correlation = float(np.corrcoef(levels, falls_)[0, 1]) if levels.std() > 0 and falls_.std() > 0 else 0.0
    spread = max(float(falls_.std(ddof=1)), 0.05)
    return float(falls_.mean()), spread, float(np.clip(correlation, -0.95, 0.95))
