"""The drawer's pages about sets: whose, which reps, what the load really was. Made from a `RackView`."""

from __future__ import annotations

from station.capture.rack_view import RackView, RepStatus, RepView, SessionSet
from station.screens.drawer import Choice
from station.screens.drawer_pages import shirt_words, stepped_load_kg
from station.screens.wording import load_words, velocity_words

EARLIER_SETS = 6


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


def set_actions(view: RackView) -> list[Choice]:
    """What the row of controls does to a set, as choices: for large print, which has no room for the row."""
    if view.set is None:
        return []
    effort = "Full effort" if view.set.not_full_effort else "Not full effort"
    end = [Choice("end", "End set")] if view.set.is_open else []
    return [*end, Choice("effort", effort), Choice("undo", "Undo")]
