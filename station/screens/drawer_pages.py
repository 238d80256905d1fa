"""What stands on the pages of the coach's drawer, made from a `RackView`."""

from __future__ import annotations

import math

from station.capture.rack_view import Band, RackView, RepStatus, RepView, SessionSet
from station.screens.drawer import Choice
from station.screens.wording import KG_PER_LB, load_words, velocity_words

SCALES = (100, 125, 150, 175, 200)
STOPS = (10, 15, 20, 25, 30, 35, 40)
EARLIER_SETS = 6


def step_kg(view: RackView) -> float:
    """One step of the load, kg: 2.5 kg, or 5 lb."""
    return 2.5 if view.unit == "kg" else 5.0 * KG_PER_LB


def stepped_load_kg(view: RackView, load_kg: float, steps: int) -> float:
    """The load some steps on, on round steps of the screen's unit; never below zero."""
    step = step_kg(view)
    whole = round(load_kg / step, 6)
    on_grid = math.floor(whole) if steps > 0 else math.ceil(whole)
    return max(0.0, (on_grid + steps) * step)


def bar_page(view: RackView) -> list[Choice]:
    """Loads with a reason first, then steps; lift and bar before them, stop and target after."""
    loads = named_loads(view)
    steps = {stepped_load_kg(view, view.load_kg, n): "" for n in (-8, -4, 4, 8)}
    choices = [
        Choice(f"load:{load!r}", load_words(load, view.unit), sub, current=load == view.load_kg)
        for some in (loads, {kg: sub for kg, sub in steps.items() if kg not in loads})
        for load, sub in sorted(some.items())
    ]
    bars = [Choice("page:bars", "Which bar", bar_words(view))] if len(view.bars) > 1 else []
    return [Choice("page:lift", "Lift", view.lift), *bars, *choices, *_goals(view)]


def named_loads(view: RackView) -> dict[float, str]:
    """Loads that somebody may want on the bar now, each with the reason, kg."""
    made = view.suggestion
    planned = view.planned_kg if view.planned_kg is not None else made.planned_kg if made else None
    reasons = (
        (view.warmup_load_kg, "warm-up"),
        (planned, "planned"),
        (made.load_kg if made else None, "suggested"),
        (view.last_used_kg, "last used"),
    )
    loads: dict[float, str] = {}
    for load, reason in reasons:
        if load is not None:
            loads[load] = f"{loads[load]}, {reason}" if load in loads else reason
    return loads


def _goals(view: RackView) -> list[Choice]:
    """Stop and target, where there is a plan they belong to."""
    if view.warmup_load_kg is None:
        return []
    return [
        Choice("page:stop", "Stop", stop_choice(view.stop_loss)),
        Choice("page:target", "Target", band_words(view.target_band_m_s)),
    ]


def stop_choice(share: float | None) -> str:
    """A stop in words."""
    return "no stop" if share is None else f"{round(100 * share)} % loss"


def band_words(band: Band | None) -> str:
    """A target band in words, m/s."""
    return "none" if band is None else f"{velocity_words(band[0])} to {velocity_words(band[1])}"


def stop_page(view: RackView) -> list[Choice]:
    """At which loss of velocity a work set stops; 10 to 40 %."""
    none = Choice("stop:", "No stop", current=view.stop_loss is None)
    shares = (percent / 100 for percent in STOPS)
    return [none, *(Choice(f"stop:{s!r}", stop_choice(s), current=s == view.stop_loss) for s in shares)]


def target_page(view: RackView) -> list[Choice]:
    """Target bands a tenth wide, those around the last one first."""
    now = view.target_band_m_s
    bands = [(round(low / 20, 2), round(low / 20 + 0.1, 2)) for low in range(3, 27)]
    middle = sum(now) / 2 if now else view.usual.expected_m_s if view.usual else 0.5
    bands.sort(key=lambda band: abs(sum(band) / 2 - middle))
    none = Choice("target:", "No target", current=now is None)
    return [
        none,
        *(Choice(f"target:{b[0]!r}|{b[1]!r}", band_words(b), "m/s", current=b == now) for b in bands),
    ]


def bar_words(view: RackView) -> str:
    """The bar in use: its label and what it weighs."""
    for label, weighed in view.bars:
        if weighed == view.bar_kg:
            return f"{label}, {load_words(weighed, view.unit)}"
    return load_words(view.bar_kg, view.unit) if view.bar_kg is not None else ""


def bars_page(view: RackView) -> list[Choice]:
    """The bars of this rack, as weighed."""
    return [
        Choice(f"bar:{kg!r}", label, load_words(kg, view.unit), current=kg == view.bar_kg)
        for label, kg in view.bars
    ]


def several_page(view: RackView) -> list[Choice]:
    """This session's sets at this rack, newest first: from which one on was something wrong?"""
    return [
        Choice(
            f"page:fix/{one.set_id}", f"{one.clock} {one.athlete}", f"{load_words(one.load_kg, view.unit)}"
        )
        for one in reversed(view.session_sets)
    ]


def fix_page(view: RackView, set_id: str) -> list[Choice]:
    """What it really was: loads around the one written down, bars, another lift."""
    one = next((s for s in view.session_sets if s.set_id == set_id), None)
    if one is None:
        return []
    loads = [stepped_load_kg(view, one.load_kg, steps) for steps in (-4, -2, -1, 1, 2, 4)]
    choices = [
        Choice(
            f"fix:{set_id}|load_kg|{load!r}",
            load_words(load, view.unit),
            f"not {load_words(one.load_kg, view.unit)}",
        )
        for load in loads
    ]
    bars = [
        Choice(f"fix:{set_id}|bar_kg|{kg!r}", label, f"bar of {load_words(kg, view.unit)}")
        for label, kg in view.bars
        if kg != view.bar_kg
    ]
    return [*choices, *bars, Choice(f"page:fix-lift/{set_id}", "Another lift", f"not {one.lift}")]


def fix_lift_page(view: RackView, set_id: str) -> list[Choice]:
    """The lift it really was."""
    return [Choice(f"fix:{set_id}|lift|{name}", name) for name in view.lifts]


def lift_page(view: RackView) -> list[Choice]:
    """The lifts of this rack."""
    return [Choice(f"lift:{name}", name, current=name == view.lift) for name in view.lifts]


def decide_page(view: RackView) -> list[Choice]:
    """The coach's answer to the suggestion, as choices."""
    made = view.suggestion
    if made is None or made.load_kg is None:
        return []
    plan = load_words(made.planned_kg, view.unit) if made.planned_kg is not None else ""
    return [
        Choice("use", "Use", load_words(made.load_kg, view.unit)),
        Choice("keep", "Keep plan", plan),
        Choice("page:change", "Change", "other load"),
    ]


def change_page(view: RackView) -> list[Choice]:
    """Loads around the suggestion, for a coach who wants another one."""
    made = view.suggestion
    if made is None or made.load_kg is None:
        return []
    loads = sorted({stepped_load_kg(view, made.load_kg, steps) for steps in (-6, -4, -2, -1, 1, 2, 4, 6)})
    return [Choice(f"change:{load!r}", load_words(load, view.unit)) for load in loads]


def set_page(view: RackView) -> list[Choice]:
    """Whose set it was, the newest rep, the group's names, the other reps, and this session's earlier sets."""
    if view.set is None:
        return []
    whose = Choice("page:whose", "Whose set?", view.athlete.name if view.athlete else "no name")
    reps = [_rep_choice(rep) for rep in reversed(view.set.reps)]
    return [whose, *reps[:1], *_names(view), *reps[1:], *earlier_sets(view)]


def _rep_choice(rep: RepView) -> Choice:
    """A rep to strike out or put back."""
    struck = rep.status is RepStatus.STRUCK
    speed = "" if rep.mean_velocity_m_s is None else velocity_words(rep.mean_velocity_m_s)
    words = f"Rep {rep.number} {speed}".strip()
    sub = "struck: put back" if struck else "strike out"
    return Choice(f"{'back' if struck else 'strike'}:{rep.rep_id}", words, sub, current=struck)


def _names(view: RackView) -> list[Choice]:
    """Everybody else of the group, so that a set under the wrong name is two touches from the right one; the name
    itself where nobody has confirmed it."""
    current = view.athlete.athlete_id if view.athlete else ""
    return [
        Choice(f"whose:{a.athlete_id}", a.name, "confirm" if a.athlete_id == current else "move set here")
        for a in view.group
        if a.athlete_id != current or not view.set_name_confirmed
    ]


def earlier_sets(view: RackView) -> list[Choice]:
    """This session's earlier sets, newest first, to give one to somebody else also afterwards."""
    shown = view.set.set_id if view.set else ""
    earlier = [one for one in view.session_sets if one.set_id != shown]
    return [
        Choice(f"page:earlier/{one.set_id}", f"{one.clock} {one.athlete}", _earlier_words(one, view))
        for one in reversed(earlier[-EARLIER_SETS:])
    ]


def _earlier_words(one: SessionSet, view: RackView) -> str:
    return load_words(one.load_kg, view.unit) if one.name_confirmed else "name not confirmed"


def earlier_page(view: RackView, set_id: str) -> list[Choice]:
    """Whose an earlier set was."""
    anybody = Choice(f"anybody:{set_id}", "Somebody else", "all names")
    return [
        *(Choice(f"move:{set_id}|{a.athlete_id}", a.name, shirt_words(a.shirt_number)) for a in view.group),
        anybody,
    ]


def whose_page(view: RackView) -> list[Choice]:
    """The group, to move the set to the right name, and the way to everybody else."""
    current = view.athlete.athlete_id if view.athlete else ""
    anybody = Choice(f"anybody:{view.set.set_id if view.set else ''}", "Somebody else", "all names")
    return [
        *(
            Choice(
                f"whose:{a.athlete_id}", a.name, shirt_words(a.shirt_number), current=a.athlete_id == current
            )
            for a in view.group
        ),
        anybody,
    ]


def shirt_words(number: int | None) -> str:
    """A shirt number, if there is one."""
    return "" if number is None else f"shirt {number}"


def more_page(view: RackView) -> list[Choice]:
    """Everything that is needed once in a session."""
    pin = [Choice("pin", "PIN", "choose or change")] if view.staff else []
    between = view.set is None or not view.set.is_open
    check_in = [Choice("check-in", "Check-in", "five answers")] if between else []
    return [
        Choice("keypad", "Shirt number", "anybody"),
        Choice("page:staff", "Sign in", view.staff or "nobody yet"),
        Choice("athlete page", "Athlete", "season, limits"),
        Choice("page:several", "Several sets", "correct at once"),
        Choice("guest", "Guest", "name it later"),
        Choice("nobody", "No name", "name it later"),
        Choice("page:screen", "Screen", "size, unit, sound"),
        Choice("page:limits", "Limits", "of a suggestion"),
        Choice("sensor", "Sensor", "lift the bar"),
        Choice("cautions", "Cautions", "show again"),
        *check_in,
        *pin,
    ]


def limits_page(view: RackView) -> list[Choice]:
    """How far a suggestion may go from the plan; never past the ceiling in any case."""
    now = view.settings
    return [
        *(
            Choice(f"down:{share!r}", f"{100 * share:g} % down", "at most", current=share == now.most_down)
            for share in (0.05, 0.10, 0.15, 0.20)
        ),
        *(
            Choice(f"up:{share!r}", f"{100 * share:g} % up", "at most", current=share == now.most_up)
            for share in (0.0, 0.025, 0.05)
        ),
    ]


def screen_page(view: RackView, theme: str) -> list[Choice]:
    """How this screen is set."""
    now = view.settings
    return [
        Choice("theme", "Light" if theme == "dark" else "Dark", "colours"),
        Choice("page:scale", "Size", f"{now.scale_percent} %"),
        Choice(
            f"unit:{'lb' if now.unit == 'kg' else 'kg'}",
            "Pounds" if now.unit == "kg" else "Kilograms",
            "loads",
        ),
        Choice("page:figure", "Big number", view.figure),
        Choice(
            f"sound:{'off' if now.sound else 'on'}", "Sound off" if now.sound else "Sound on", "two tones"
        ),
        Choice("full screen", "Full screen", "on or off"),
    ]


def scale_page(view: RackView) -> list[Choice]:
    """Sizes of text, 100 to 200 %."""
    return [
        Choice(f"scale:{percent}", f"{percent} %", current=percent == view.settings.scale_percent)
        for percent in SCALES
    ]


def figure_page(view: RackView) -> list[Choice]:
    """What the big number shows for this lift."""
    names = {"mean": "whole way up", "propulsive": "while pushed", "peak": "fastest instant"}
    return [
        Choice(f"figure:{name}", name.capitalize(), words, current=name == view.figure)
        for name, words in names.items()
    ]


def who_page(view: RackView) -> list[Choice]:
    """The group in lifting order, to hand the bar over."""
    current = view.athlete.athlete_id if view.athlete else ""
    group = [
        Choice(f"athlete:{a.athlete_id}", a.name, a.to_do, current=a.athlete_id == current)
        for a in view.group
    ]
    return [*group, Choice("anybody:", "Somebody else", "all names")]


def set_actions(view: RackView) -> list[Choice]:
    """What the row of controls does to a set, as choices: for large print, which has no room for the row."""
    if view.set is None:
        return []
    effort = "Full effort" if view.set.not_full_effort else "Not full effort"
    end = [Choice("end", "End set")] if view.set.is_open else []
    return [*end, Choice("effort", effort), Choice("undo", "Undo")]


def badge_page(view: RackView, code: str) -> list[Choice]:
    """Whose badge an unknown one is: the group first."""
    known = {a.athlete_id: a for a in (*view.group, *view.squad)}
    return [
        Choice(f"badge:{code}|{a.athlete_id}", a.name, shirt_words(a.shirt_number)) for a in known.values()
    ]


def staff_page(view: RackView) -> list[Choice]:
    """The staff who may sign in here."""
    return [Choice(f"staff:{name}", name, current=name == view.staff) for name in view.staff_names]
