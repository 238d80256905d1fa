"""What the coach's page says of the athlete shown: one sentence a line, made from a `RackView`, without Qt."""

from __future__ import annotations

from station.capture.rack_view import CoachNotes, RackView
from station.readiness.results import TodayAssessed, Verdict
from station.readiness.season import SeasonTrend
from station.screens.wording import MINUS, load_words, today_words, velocity_words


def coach_lines(view: RackView) -> list[str]:
    """The most wanted first."""
    if view.athlete is None:
        return ["No name yet: touch one."]
    notes = view.coach
    if notes is None:
        return ["No plan that may be followed for this lift today. Ask medical staff or write a plan."]
    load = view.warmup_load_kg or 0.0
    lines = [
        _sentence(" ".join(today_words(view))),
        _reps_left(notes),
        f"Strength over the season: {_season(notes.season)}.",
        _likeness(notes),
        _chances(view.assessed),
        _maximum(view.assessed, view),
        _end_of_line(notes),
        _warmup_load(notes, load, view),
        *(f"Not done for three weeks: {lift}, last on {day:%d %b}." for lift, day in notes.not_done),
        _equipment(view),
    ]
    return [line for line in lines if line]


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."


def _season(season: SeasonTrend) -> str:
    if season.low is None or season.high is None:
        return str(season.trend)
    low, high = (_percent(value) for value in (season.low, season.high))
    return f"{season.trend}, {low} to {high} in {season.weeks:.0f} weeks"


def _percent(share: float) -> str:
    whole = round(100 * share)
    return f"{'+' if whole > 0 else MINUS if whole < 0 else ''}{abs(whole)} %"


def _reps_left(notes: CoachNotes) -> str:
    left = notes.reps_left
    if left is None:
        return ""
    return f"Reps left: about {left.expected:.0f} ({left.low:.0f} to {left.high:.0f}), from own sets to the limit."


def _likeness(notes: CoachNotes) -> str:
    if not notes.like_day:
        return ""
    count = notes.like_sessions
    return (
        f"Today is {notes.like_day}: {count} earlier {'session' if count == 1 else 'sessions'} on such days."
    )


def _chances(now: TodayAssessed | None) -> str:
    """What the verdict does not say: how likely a change is that matters."""
    if now is None or now.verdict is Verdict.TOO_LITTLE_HISTORY:
        return ""
    down, up = (f"{round(100 * p)} %" for p in (now.probability_slower, now.probability_faster))
    worth = velocity_words(now.smallest_worthwhile_m_s)
    return f"Chance of being down by what 5 % of strength is worth ({worth} m/s): {down}; up: {up}."


def _maximum(now: TodayAssessed | None, view: RackView) -> str:
    if now is None or now.today_1rm_kg is None or now.today_1rm_low_kg is None:
        return ""
    middle, low, high = (
        load_words(round(kg), view.unit)
        for kg in (now.today_1rm_kg, now.today_1rm_low_kg, now.today_1rm_high_kg or now.today_1rm_kg)
    )
    words = f"1RM today about {middle} ({low.split()[0]} to {high}): not permission to try it."
    return f"{words} Extrapolated from light loads." if now.extrapolated else words


def _end_of_line(notes: CoachNotes) -> str:
    speed = velocity_words(notes.velocity_at_1rm_m_s)
    whose = "the athlete's own" if notes.own_velocity_at_1rm else "published, not the athlete's own"
    return f"Speed at 1RM {speed} m/s: {whose}."


def _warmup_load(notes: CoachNotes, load_kg: float, view: RackView) -> str:
    shows = notes.shows
    if shows is None or shows.strength_drop is None:
        return ""
    words = shows.in_words(load_kg, view.unit)
    return (
        words
        or f"{load_words(load_kg, view.unit)} shows a loss of strength of {100 * shows.strength_drop:.0f} %."
    )


def _equipment(view: RackView) -> str:
    changed = [p.day for p in view.history if p.equipment_changed]
    if not changed:
        return ""
    return f"Sensor or bar changed on {changed[-1]:%d %b}: wider range until two sessions agree."
