"""Match calendar: what a training day is called after the matches around it."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

# Beyond a week a day is no longer spoken of by the match (common practice, no source).
LONGEST_DISTANCE_DAYS = 7


@dataclass(frozen=True, slots=True)
class MatchDistance:
    """How far a day is from the matches around it, days; None without one."""

    since_last: int | None
    until_next: int | None


def match_distance(day: date, matches: Iterable[date]) -> MatchDistance:
    """Days from the last match (0 on a match day) and to the next."""
    known = list(matches)
    return MatchDistance(
        min(((day - match).days for match in known if match <= day), default=None),
        min(((match - day).days for match in known if match > day), default=None),
    )


def like_day(day: date, matches: Collection[date], played: Collection[date] | None = None) -> str:
    """What kind of training day it is, for comparing like with like: "MD+3", "MD+3, did not play", "no match".

    Args:
        matches: the squad's.
        played: the matches this athlete played in; None when nobody wrote it down.

    Returns:
        "" without any match in the calendar: then no day is known to be like another. A match more than a week
        ago no longer counts.
    """
    if not matches:
        return ""
    since = match_distance(day, matches).since_last
    if since is None or since > LONGEST_DISTANCE_DAYS:
        return "no match"
    last = max(match for match in matches if match <= day)
    label = f"MD+{since}" if since else "MD"
    return label if played is None or last in played else f"{label}, did not play"


def match_day_label(day: date, matches: Iterable[date]) -> str:
    """ "MD", "MD+3" (days since the last match), "MD-1" (the day before the next), or "" far from any.

    The last match counts first; only on the eve of the next one (one day before it) is a day named
    after what comes, as coaches do (common practice, no source).
    """
    since = [(day - match).days for match in matches if match <= day]
    until = [(match - day).days for match in matches if match > day]
    if since and min(since) == 0:
        return "MD"
    if until and min(until) == 1:
        return "MD-1"
    if since and min(since) <= LONGEST_DISTANCE_DAYS:
        return f"MD+{min(since)}"
    if until and min(until) <= LONGEST_DISTANCE_DAYS:
        return f"MD-{min(until)}"
    return ""


BYE_WEEK = timedelta(days=7)


def day_label(day: date, matches: Iterable[date], byes: Iterable[date]) -> str:
    """The match-day label, and that it is a bye week: "MD-5, bye week".

    Args:
        byes: first days of the weeks without a match.
    """
    bye = "bye week" if any(first <= day < first + BYE_WEEK for first in byes) else ""
    return ", ".join(part for part in (match_day_label(day, matches), bye) if part)


JUMP_LINE_DAYS = (2, 3)
NOT_JUDGED_DAY = 1
RESTED_FROM_DAYS = 4


@dataclass(frozen=True, slots=True)
class AfterMatch:
    """A day as seen from the last match.

    Attributes:
        days: since the match; None with no match in the last seven days.
        played: whether this athlete did; without a word about it, yes.
    """

    days: int | None
    played: bool = True

    def in_words(self) -> str:
        """ "MD+3", "MD+3, did not play", "no match in seven days"."""
        if self.days is None:
            return "no match in seven days"
        label = f"MD+{self.days}" if self.days else "MD"
        return label if self.played else f"{label}, did not play"

    def like(self, earlier: AfterMatch) -> bool:
        """Whether an earlier day can be compared with this one: the same number of days after a match.

        With no match in the last seven days: every day at least four after one.
        """
        if self.days is None:
            return earlier.days is None or earlier.days >= RESTED_FROM_DAYS
        return earlier.days == self.days and earlier.played == self.played


def after_match(day: date, matches: Sequence[date], played: Mapping[date, bool] | None = None) -> AfterMatch:
    """A day as seen from the last match.

    Args:
        matches: the squad's match days in order.
        played: what somebody wrote down of this athlete's matches.
    """
    before = bisect_right(matches, day)
    if not before or (day - matches[before - 1]).days > LONGEST_DISTANCE_DAYS:
        return AfterMatch(None)
    last = matches[before - 1]
    return AfterMatch((day - last).days, (played or {}).get(last, True))


class AfterMatches:
    """`after_match` for many athletes and days: each day is looked up once.

    Args:
        matches: the squad's match days in order.
        played: by athlete, what somebody wrote down of their matches.
    """

    def __init__(self, matches: Sequence[date], played: Mapping[str, Mapping[date, bool]]) -> None:
        self._matches, self._played = matches, played
        self._known: dict[date, tuple[date | None, AfterMatch, AfterMatch]] = {}

    def of(self, athlete_id: str, day: date) -> AfterMatch:
        """A day as seen from this athlete's last match."""
        known = self._known.get(day)
        if known is None:
            played = after_match(day, self._matches)
            last = day - timedelta(days=played.days) if played.days is not None else None
            known = self._known[day] = (last, played, AfterMatch(played.days, False))
        last, played, not_played = known
        if last is None or self._played.get(athlete_id, {}).get(last, True):
            return played
        return not_played


def jump_line_due(day: date, matches: Iterable[date]) -> bool:
    """Whether the jump line is proposed: on the second and third day after a match."""
    return match_distance(day, matches).since_last in JUMP_LINE_DAYS


def judged(day: date, matches: Iterable[date]) -> bool:
    """Whether measures are judged: not on the day after a match, when everybody is tired."""
    return match_distance(day, matches).since_last != NOT_JUDGED_DAY
