"""The squad's day as it was read, and the two lists made of it: with check-in answers, or shut.

One of them is made when it is shown. Signing in makes the other one of what was read already.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from station.readiness.answers_shut import MEASURED, without_answers
from station.readiness.squad_list import SquadList, squad_list
from station.readiness.squad_rules import Measure, SquadRules
from station.readiness.squad_values import AthleteDay


@dataclass(frozen=True, slots=True)
class SquadDay:
    """The list and what surrounds it.

    Attributes:
        athletes: what the list was made of, for the coaches' copy.
        match_day: "MD+2" and such, and whether it is a bye week; "" far from a match.
        jump_line: the jump line is proposed today.
        roles: staff and their role.
        shut: without anything from check-ins but the count of open pain and illness.
    """

    list: SquadList
    athletes: tuple[AthleteDay, ...]
    match_day: str
    jump_line: bool
    roles: dict[str, str]
    shut: bool = False

    @property
    def measures(self) -> tuple[Measure, ...]:
        """What is shown of each athlete."""
        return MEASURED if self.shut else tuple(Measure)


@dataclass(frozen=True, slots=True)
class SquadRead:
    """What the record says of a day, before any list; attributes as of `SquadDay`.

    Attributes:
        now: local date and time of the reading.
    """

    athletes: tuple[AthleteDay, ...]
    match_day: str
    jump_line: bool
    roles: dict[str, str]
    now: datetime
    rules: SquadRules

    def opened(self) -> SquadDay:
        """The day with check-in answers."""
        made = squad_list(self.athletes, self.now, self.rules)
        return SquadDay(made, self.athletes, self.match_day, self.jump_line, self.roles)

    def shut(self) -> SquadDay:
        """The day without them."""
        bare = without_answers(self.athletes)
        made = squad_list(bare, self.now, self.rules)
        counted = replace(made, open_unwell=sum(one.open_unwell for one in self.athletes))
        return SquadDay(counted, bare, self.match_day, self.jump_line, self.roles, shut=True)
