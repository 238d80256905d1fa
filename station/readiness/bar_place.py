"""The last warm-up set beside the athlete's own history, as the rack judges it, for the list of the whole squad."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from station.readiness.history import warmup_sets, without_other_depths
from station.readiness.own_usual import OwnUsual
from station.readiness.prior import SquadPrior
from station.readiness.usual import athlete_model, counted_warmups
from station.squad.sets import SetObservation


@dataclass(frozen=True, slots=True)
class BarPlace:
    """The warm-up set of an athlete's latest session at a lift among the own earlier ones."""

    lift: str
    load_kg: float
    day: date
    mean_velocity_m_s: float
    usual: OwnUsual

    @property
    def chance_below(self) -> float | None:
        """Of a speed this low or lower when nothing has changed; None with too little history."""
        return self.usual.chance_at_most(self.mean_velocity_m_s) if self.usual.enough else None


def latest_warmup(sets: Sequence[SetObservation], load_kg: float) -> SetObservation | None:
    """The counted warm-up set of the last session that has one.

    Args:
        sets: one athlete and lift, in order of time.
    """
    found = [one for one in warmup_sets(without_other_depths(sets), load_kg) if one.counts]
    return found[-1] if found else None


def place_bar(
    sets: Sequence[SetObservation], latest: SetObservation, load_kg: float, prior: SquadPrior
) -> BarPlace:
    """Where the latest warm-up set stands: the predictive distribution of the model that the rack uses.

    Args:
        sets: one athlete and lift, in order of time, with `latest` among them.
        prior: the squad's experience of the days before.
    """
    now = (latest.day, latest.session)
    earlier = [one for one in without_other_depths(sets) if (one.day, one.session) < now]
    model = athlete_model(
        earlier, [], load_kg, latest.day, prior, like_day=latest.like_day, equipment=latest.equipment
    )
    posterior = model.next_set(load_kg)
    mean, sd = posterior.of([1.0])
    usual = OwnUsual(mean, sd, len(counted_warmups(earlier, load_kg)), posterior.freedom)
    return BarPlace(latest.lift, load_kg, latest.day, latest.mean_velocity_m_s, usual)
