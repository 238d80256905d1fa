"""Everybody's jump days and check-ins, read anew only when something of them was written: one desk keeps them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, timedelta
from typing import TypeVar

from sqlalchemy import Connection

from station.readiness.checkin_place import sum_sd
from station.readiness.jump_place import jump_sd_m
from station.squad.calendar import AfterMatches
from station.squad.checkins import CheckIn
from station.squad.jumps import JumpDay
from station.store import checkins, jumps, squad_tables
from station.store.share_tables import erasures
from station.store.squad_reading import newest_rows
from station.store.tables import corrections, matches

JUMP_DAYS, CHECK_IN_DAYS = 240, 36
_OF_JUMPS = (
    squad_tables.jumps,
    corrections,
    matches,
    squad_tables.match_days,
    squad_tables.appearances,
    erasures,
)
_Dated = TypeVar("_Dated", CheckIn, JumpDay)


class SquadHistories:
    """What was read stands with what it was read from, and holds only for exactly that.

    Attributes:
        jumps: by athlete, oldest first; `jump_sd_m`: the squad's day-to-day spread.
        check_ins: by athlete, one a day, oldest first; `sum_sd`: the squad's spread of the sum.
    """

    def __init__(self) -> None:
        self.jumps: dict[str, list[JumpDay]] = {}
        self.jump_sd_m = 0.0
        self.check_ins: dict[str, list[CheckIn]] = {}
        self.sum_sd = 0.0
        self._jumps_of = self._check_ins_of = ""

    def read(self, connection: Connection, day: date, after: AfterMatches) -> None:
        """As the record stands now."""
        jumped = f"{day} {newest_rows(connection, _OF_JUMPS)}"
        if jumped != self._jumps_of:
            self.jumps = jumps.jump_days_since(connection, day - timedelta(days=JUMP_DAYS), after.of)
            self.jump_sd_m = jump_sd_m([_before(own, day) for own in self.jumps.values()])
            self._jumps_of = jumped
        said = f"{day} {newest_rows(connection, (squad_tables.check_ins, erasures))}"
        if said != self._check_ins_of:
            self._read_check_ins(connection, day)
            self._check_ins_of = said

    def _read_check_ins(self, connection: Connection, day: date) -> None:
        self.check_ins = defaultdict(list)
        found = checkins.check_ins_since(connection, day - timedelta(days=CHECK_IN_DAYS))
        for one in checkins.newest_a_day(found).values():
            self.check_ins[one.athlete_id].append(one)
        self.sum_sd = sum_sd([_before(own, day) for own in self.check_ins.values()])


def _before(own: Iterable[_Dated], day: date) -> list[_Dated]:
    return [one for one in own if one.day < day]
