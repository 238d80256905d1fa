"""The squad's experience with a lift as of a day: what an athlete's usual range starts from at the desk."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date, timedelta

from sqlalchemy import Connection, func, select

from station.readiness.history import usual_warmup_load
from station.readiness.prior import SquadPrior, squad_prior
from station.readiness.usual import warmup_series
from station.squad.sets import SetObservation
from station.store.squad_reading import all_observations
from station.store.tables import corrections, sets

PRIOR_FROM = timedelta(days=240)
Plans = Mapping[tuple[str, str], float]


class SquadPriors:
    """Learned from everybody's sets before a day; kept until one of those sets, a correction or a plan is another."""

    def __init__(self) -> None:
        self._of: object = None
        self._sets: dict[str, dict[str, list[SetObservation]]] = {}
        self._priors: dict[str, SquadPrior] = {}

    def prior(self, connection: Connection, lift: str, day: date, plans: Plans) -> SquadPrior:
        """What the squad teaches about a lift.

        Args:
            day: days before it count.
            plans: warm-up loads (kg) by athlete and lift; without one it is the load that was usual.
        """
        self._read(connection, day, plans)
        if lift not in self._priors:
            series = []
            for athlete_id, own in sorted(self._sets.get(lift, {}).items()):
                load = plans.get((athlete_id, lift)) or usual_warmup_load(own, day)
                if load is not None:
                    series.append(warmup_series(own, load, day))
            self._priors[lift] = squad_prior(series)
        return self._priors[lift]

    def _read(self, connection: Connection, day: date, plans: Plans) -> None:
        s = sets.c
        of_before = select(func.count()).select_from(sets).where(s.day >= day - PRIOR_FROM, s.day < day)
        counts = (of_before, select(func.count()).select_from(corrections))
        now = (day, *(connection.execute(query).scalar_one() for query in counts), dict(plans))
        if now == self._of:
            return
        self._priors.clear()
        self._sets = defaultdict(lambda: defaultdict(list))
        for one in all_observations(connection, day - PRIOR_FROM):
            if one.counts and one.day < day:
                self._sets[one.lift][one.athlete_id].append(one)
        self._of = now
