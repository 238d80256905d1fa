"""How long the statistics take: a squad of 120 over five years, and one athlete at the rack. `make bench`."""

from __future__ import annotations

from datetime import date

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from simulated_sensor.squads import LIFT, SquadRules, make_squad
from station.readiness.history import without_other_depths
from station.readiness.results import TodayAssessed
from station.readiness.squad_day import DayLine, assess_day
from station.readiness.today import TodayInputs, assess
from station.squad.lifts import LIFTS
from station.squad.sets import SetObservation

FIVE_YEARS = SquadRules(weeks=260)


@pytest.fixture(scope="module")
def season() -> tuple[list[SetObservation], date]:
    """Five years of two-load sessions, one a week, and the last day."""
    squad = make_squad(FIVE_YEARS, seed=1)
    sets = [
        SetObservation(s.athlete.athlete_id, s.day, LIFT, load, v)
        for s in squad.sessions
        for load, v in zip(
            (s.athlete.warmup_load_kg, s.athlete.second_load_kg), s.velocities_m_s, strict=True
        )
    ]
    return sets, sets[-1].day


def test_a_squad_of_120_over_five_years(
    benchmark: BenchmarkFixture, season: tuple[list[SetObservation], date]
) -> None:
    """Wanted: under 1 s."""
    lines: list[DayLine] = benchmark(assess_day, *season)
    assert len(lines) > 80


def test_one_athlete_with_five_years_at_the_rack(
    benchmark: BenchmarkFixture, season: tuple[list[SetObservation], date]
) -> None:
    """Wanted: under 20 ms."""
    sets, day = season
    own = [s for s in sets if s.athlete_id == sets[-1].athlete_id]
    warmup = next(s for s in own if s.day == day)

    def at_the_rack() -> TodayAssessed:
        judged = without_other_depths(own)
        earlier = [s for s in judged if s.day < day]
        return assess(TodayInputs(LIFTS[LIFT], warmup.load_kg, earlier, warmup, ramp=[warmup, judged[-1]]))

    assert benchmark(at_the_rack).usual.sessions > 200
