"""Match calendar: what a training day is called after the matches around it."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

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
