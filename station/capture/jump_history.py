"""Everybody's earlier jump days out of the record, and the usual range of today's mean."""

from __future__ import annotations

from datetime import date, timedelta

from station.capture.jump_view import UsualJump
from station.readiness.jump_place import jump_sd_m, usual_jump
from station.squad.calendar import after_match, jump_line_due
from station.squad.jumps import JumpDay
from station.store import jumps, roster
from station.store.record import Record

HISTORY_DAYS = 240


class JumpHistory:
    """Everybody's earlier jump days, read once a day."""

    def __init__(self, record: Record, day: date) -> None:
        with record.database.read() as connection:
            matches, played = roster.match_dates(connection), roster.played_days(connection)
            found = jumps.jump_days_since(
                connection,
                day - timedelta(days=HISTORY_DAYS),
                lambda athlete_id, when: after_match(when, matches, played.get(athlete_id)),
            )
        self._days: dict[str, list[JumpDay]] = {
            key: [one for one in own if one.day < day] for key, own in found.items()
        }
        self._sd_m = jump_sd_m(self._days.values())
        self._today = day
        self._matches, self._played = matches, played
        self.proposed = jump_line_due(day, matches)

    def usual(self, athlete_id: str) -> tuple[UsualJump, str]:
        """The usual range of today's mean, and what kind of day it is."""
        after = after_match(self._today, self._matches, self._played.get(athlete_id))
        own = usual_jump(self._days.get(athlete_id, []), after, self._sd_m)
        if own is None or not own.enough:
            return UsualJump(own.days if own is not None else 0, None, None, None), after.in_words()
        return UsualJump(own.days, own.low, own.mean, own.high), after.in_words()
