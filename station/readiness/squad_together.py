"""Who moved together: a rack, or the whole squad, off to one side on a day. Then it is rarely the athletes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from math import sqrt

from station.readiness.squad_rules import Measure, SquadRules
from station.readiness.squad_values import AthleteDay

CHECK_TOGETHER = "check sensor, plates, bar, travel"


def moved_together(athletes: Sequence[AthleteDay], day: date, rules: SquadRules) -> tuple[str, ...]:
    """Racks, and the whole squad, whose measures of today are off to one side together: one sentence each."""
    values: dict[tuple[str, Measure], list[float]] = defaultdict(list)
    for one in athletes:
        for reading in one.readings:
            if reading.day == day and reading.z is not None:
                values["", reading.measure].append(reading.z)
                group = one.line.athlete.group
                if group and reading.measure is not Measure.CHECK_IN:
                    values[group, reading.measure].append(reading.z)
    whole = {m for (group, m), z in values.items() if not group and _together(z, rules)}
    said = []
    for (group, measure), z in sorted(values.items()):
        if _together(z, rules) and (not group or measure not in whole):
            who = group or "The whole squad"
            side = "below" if sum(z) < 0 else "above"
            said.append(
                f"{who}: {measure} of {len(z)} athletes {side} usual together. {CHECK_TOGETHER.capitalize()}."
            )
    return tuple(said)


def _together(z: Sequence[float], rules: SquadRules) -> bool:
    if len(z) < rules.together_least:
        return False
    return abs(sum(z)) / sqrt(len(z)) >= rules.together_sds
