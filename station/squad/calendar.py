"""Match calendar: what a training day is called after the matches around it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

# Beyond a week a day is no longer spoken of by the match (common practice, no source).
LONGEST_DISTANCE_DAYS = 7


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
