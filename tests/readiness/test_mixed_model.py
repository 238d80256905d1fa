"""The model against a well-kept library: statsmodels' linear mixed model on the same data (REML, 0.15)."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from station.readiness.model import AthleteModel, Sets
from station.readiness.prior import SquadPrior, WarmupSeries, squad_prior

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    sm = pytest.importorskip("statsmodels.api")

ATHLETES, SESSIONS = 60, 10
LEVEL_SD, DAY_SD, SET_SD = 0.08, 0.035, 0.020


def squad(seed: int = 5) -> tuple[np.ndarray, np.ndarray]:
    """Two sets at one load in each session: shape (athletes, sessions, 2), and their mean level."""
    rng = np.random.default_rng(seed)
    level = rng.normal(1.0, LEVEL_SD, (ATHLETES, 1, 1))
    day = rng.normal(0.0, DAY_SD, (ATHLETES, SESSIONS, 1))
    return level + day + rng.normal(0.0, SET_SD, (ATHLETES, SESSIONS, 2)), level[:, 0, 0]


@pytest.fixture(scope="module")
def fitted() -> tuple[np.ndarray, object]:
    """Random level of each athlete over the sessions' first sets; residual: day and set together."""
    values, _ = squad()
    first = values[:, :, 0].ravel()
    groups = np.repeat(np.arange(ATHLETES), SESSIONS)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        result = sm.MixedLM(first, np.ones_like(first), groups).fit(reml=True)
    return values[:, :, 0], result


def test_the_squads_spreads_are_those_of_the_mixed_model(fitted: tuple[np.ndarray, object]) -> None:
    values, result = fitted
    weeks = np.arange(-SESSIONS, 0.0)
    prior = squad_prior([WarmupSeries(weeks, one) for one in values])
    # Straight lines in time are taken out here and not there: a tenth apart at most.
    assert prior.session_sd_m_s == pytest.approx(float(np.sqrt(result.scale)), rel=0.06)  # type: ignore[attr-defined]
    assert prior.level_m_s == pytest.approx(float(result.fe_params[0]), abs=0.01)  # type: ignore[attr-defined]
    assert prior.level_sd_m_s == pytest.approx(float(np.sqrt(result.cov_re[0, 0])), rel=0.15)  # type: ignore[attr-defined]


def test_each_athletes_level_is_shrunk_as_the_mixed_model_shrinks_it(
    fitted: tuple[np.ndarray, object],
) -> None:
    values, result = fitted
    mean, residual, between = (
        float(v)
        for v in (result.fe_params[0], result.scale, result.cov_re[0, 0])  # type: ignore[attr-defined]
    )
    prior = SquadPrior(
        mean, np.sqrt(between) / 1.5, np.sqrt(residual), 1e9, 1e-9, set_share=0.25, level_fall_correlation=0.0
    )
    for athlete in (0, 7, 31):
        ours, sd = _model(values[athlete], prior).today().of([1.0, 0.0, 0.0])
        theirs = mean + float(np.ravel(result.random_effects[athlete])[0])  # type: ignore[attr-defined]
        theirs_sd = float(np.sqrt(np.ravel(result.random_effects_cov[athlete])[0]))  # type: ignore[attr-defined]
        # The weekly wander of a thousandth of the session variance is all that differs.
        assert ours == pytest.approx(theirs, abs=0.002)
        assert sd == pytest.approx(theirs_sd, rel=0.05)


def test_day_and_set_parts_are_split_as_the_mixed_model_splits_them() -> None:
    values, _ = squad()
    groups = np.repeat(np.arange(ATHLETES * SESSIONS), 2)
    athlete = np.repeat(np.arange(ATHLETES), SESSIONS * 2)
    own_levels = (athlete[:, None] == np.arange(ATHLETES)).astype(float)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        result = sm.MixedLM(values.ravel(), own_levels, groups).fit(reml=True)
    weeks = np.arange(-SESSIONS, 0.0)
    ours = squad_prior([WarmupSeries(weeks, v[:, 0], 60.0, np.full(SESSIONS, 90.0), v[:, 1]) for v in values])
    assert np.sqrt(ours.set_variance) == pytest.approx(np.sqrt(result.scale), rel=0.08)
    assert np.sqrt(ours.day_variance) == pytest.approx(np.sqrt(float(np.ravel(result.cov_re)[0])), rel=0.10)


def _model(values: np.ndarray, prior: SquadPrior) -> AthleteModel:
    n = len(values)
    zeros = np.zeros(n)
    sets = Sets(np.full(n, 60.0), values, np.arange(-n, 0.0), np.arange(float(n)), zeros, zeros)
    return AthleteModel(sets, 60.0, prior)
