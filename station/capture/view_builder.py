"""Puts the picture of the rack together from its state, the session and the troubles."""

from __future__ import annotations

from dataclasses import replace

from station.capture.cautions import AS_FAST_AS_YOU_CAN_CONTROL, cautions_for
from station.capture.lineup import tile
from station.capture.rack_setup import RackSetup
from station.capture.rack_state import RackState
from station.capture.rack_view import AthleteTile, RackView, SessionSet, SetView, TroubleLine
from station.capture.session import Session
from station.readiness.bar_change import change_on_bar
from station.readiness.suggestion import ASK_A_COACH
from station.squad.lifts import LIFTS, lift_named

LOW_BATTERY_PERCENT = 20


def build_view(
    setup: RackSetup, state: RackState, session: Session, troubles: dict[str, TroubleLine]
) -> RackView:
    """How the rack stands now."""
    lineup = state.lineup
    now = session.of(lineup.current, state.lift)
    shown = state.set
    set_view = session.set_view(shown.set_id, shown.athlete_id, shown.is_open) if shown else None
    plan = session.plan(lineup.current, state.lift)
    settings = setup.settings
    cautions = cautions_for(lift_named(state.lift))
    change = change_on_bar(setup.plates, state.on_bar, state.load_kg, settings.unit)
    return RackView(
        rack_name=setup.name,
        staff=state.staff,
        group=tuple(_tile(a.athlete_id, setup, state, session) for a in lineup.group),
        athlete=_tile(lineup.current, setup, state, session) if lineup.athlete(lineup.current) else None,
        name_confirmed=lineup.confirmed,
        next_athlete_id=lineup.proposed,
        lift=state.lift,
        load_kg=state.load_kg,
        plates=change.plates if change else None,
        warmup_load_kg=now.warmup_load_kg,
        set=set_view,
        usual=session.usual_at(lineup.current, state.lift, state.load_kg),
        target_band_m_s=plan.target_band_m_s if plan else None,
        history=now.history,
        today=now.today,
        assessed=now.assessed,
        suggestion=now.suggestion,
        decision=session.decisions.of(lineup.current, state.lift),
        sensor=state.sensor,
        troubles=_sorted([*troubles.values(), *_battery(state)]),
        say=_say(state, session, set_view),
        cautions=cautions if session.cautions_due(lift_named(state.lift)) else (),
        data_note=setup.data_note,
        unit=settings.unit,
        figure=settings.figure_for(state.lift),
        lifts=tuple(LIFTS),
        staff_names=setup.staff,
        squad=tuple(AthleteTile(a.athlete_id, a.name, a.shirt_number, a.group) for a in setup.squad),
        decided_kg=session.decisions.load_kg(lineup.current, state.lift),
        coach=session.coach_notes(lineup.current, state.lift),
        session_sets=_session_sets(session),
        bars=setup.bars,
        bar_kg=setup.plates.bar_kg,
        settings=settings,
        bar_change=change.words if change and not (shown and shown.is_open) else "",
        badges=setup.badges,
        pin_needed=setup.pin_needed,
        pin_words=state.pin_words,
        usual_at_warmup=now.usual,
        planned_kg=plan.planned_load_kg if plan else None,
        last_used_kg=session.last_used_kg(lineup.current, state.lift),
        stop_loss=plan.stop_loss if plan else None,
        set_name_confirmed=shown is None or session.sets.name_confirmed(shown.set_id),
        all_cautions=cautions,
        can_undo=state.can_undo,
    )


def _session_sets(session: Session) -> tuple[SessionSet, ...]:
    found = []
    for row in session.sets.all:
        athlete = session.athlete(row.athlete_id)
        clock = row.born_at.astimezone().strftime("%H:%M")
        name = athlete.name if athlete else "no name"
        found.append(SessionSet(row.set_id, clock, name, row.lift, row.load_kg, row.name_confirmed))
    return tuple(found)


def _tile(athlete_id: str | None, setup: RackSetup, state: RackState, session: Session) -> AthleteTile:
    athlete = session.athlete(athlete_id)
    assert athlete is not None, "the line-up holds athletes of the squad only"
    plan = session.plan(athlete_id, state.lift)
    return tile(athlete, plan, session.sets.of(athlete_id), state.lift, setup.settings.unit)


def _say(state: RackState, session: Session, set_view: SetView | None) -> str:
    plan = session.plan(state.lineup.current, state.lift)
    if plan is None:
        return ASK_A_COACH if state.lineup.current is not None else ""
    in_warmup = set_view is not None and set_view.is_open and set_view.kind == "warm-up"
    return AS_FAST_AS_YOU_CAN_CONTROL if in_warmup or not session.warmup_done(plan) else ""


def _battery(state: RackState) -> list[TroubleLine]:
    """A low battery is said before a set and after it, never in it."""
    percent = state.sensor.battery_percent
    lifting = state.set is not None and state.set.is_open
    if lifting or percent is None or percent > LOW_BATTERY_PERCENT:
        return []
    return [
        TroubleLine(
            "battery", f"The sensor's battery is at {percent} %", "Charge it, or take another sensor."
        )
    ]


def _sorted(lines: list[TroubleLine]) -> tuple[TroubleLine, ...]:
    """Serious ones first, each as a sentence."""
    sentences = [replace(line, words=line.words.rstrip(".") + ".") for line in lines]
    return tuple(sorted(sentences, key=lambda line: not line.serious))
