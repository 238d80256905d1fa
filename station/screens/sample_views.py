"""Invented states of a rack, for pictures and for tests. Nobody in them exists."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from station.capture.cautions import cautions_for
from station.capture.rack_view import (
    AthleteTile,
    CoachNotes,
    Decision,
    RackView,
    RepStatus,
    RepView,
    SensorLine,
    SessionSet,
    SetView,
    TroubleLine,
)
from station.capture.sensor_words import no_book
from station.readiness.results import (
    PlatesPerSide,
    Suggestion,
    TodayAssessed,
    UsualRange,
    Verdict,
    WarmupPoint,
)
from station.readiness.season import SeasonTrend, Trend
from station.readiness.sensitivity import WarmupShows
from station.readiness.suggestion import ASK_A_COACH
from station.screens.wording import KG_PER_LB
from station.squad.lifts import LIFTS
from station.store.errors import SensorBookHeld

TODAY = date(2026, 3, 17)
GROUP = (
    AthleteTile("a1", "Femke Aldersloot", 14, "2 of 3 work"),
    AthleteTile("a2", "Ines Varga", 7, "warm-up"),
    AthleteTile("a3", "Tilda Brennan", 23, "warm-up"),
    AthleteTile("a4", "Noor Osei", 9, "1 of 3 work"),
)
SIX = (
    *GROUP,
    AthleteTile("a5", "Mira Lindqvist", 14, "warm-up"),
    AthleteTile("a6", "Zoë Grève", None, "done"),
)
LONG = (
    AthleteTile(
        "b1", "Maximiliana-Konstantina von Hohenstaufen-Wittelsbach", 114, "warm-up, then 4 of 4 work sets"
    ),
    AthleteTile("b2", "Þórhildur Ðagbjört Šķēršļu-Łukasiewiczówna", 99, "warm-up"),
    AthleteTile("b3", "<b>Anna</b> &amp; Co", 3, "warm-up"),
    *SIX[3:],
)
USUAL = UsualRange(0.60, 0.66, 0.72, 0.047, 14, enough_history=True)
PLATES = PlatesPerSide(((15.0, 1), (5.0, 1)), "kg", 60.0)
NOTES = CoachNotes(
    season=SeasonTrend(Trend.HOLDING, 8.0, 0.01, -0.02, 0.03),
    shows=WarmupShows(0.09, False, 70.0),
    like_day="MD+3, did not play",
    like_sessions=4,
    velocity_at_1rm_m_s=0.31,
    own_velocity_at_1rm=True,
    not_done=(("bench press", date(2026, 2, 20)),),
)
SESSION_SETS = (
    SessionSet("s1", "10:02", "Ines Varga", "back squat", 60.0),
    SessionSet("s2", "10:04", "Tilda Brennan", "back squat", 60.0),
    SessionSet("s3", "10:07", "Noor Osei", "back squat", 62.5),
)
CAUTION = "A suggestion, not an order: stop on pain; a coach decides."
CAUTIONS = cautions_for(LIFTS["back squat"])
BOOK_HELD = no_book(SensorBookHeld(Path("sensors.lock")), "book")


def club(count: int = 120) -> tuple[AthleteTile, ...]:
    """A whole squad, for the page of all names."""
    given = ("Aino", "Bela", "Cleo", "Dana", "Emil", "Greta", "Hanno", "Jonna", "Kaspar", "Lotte", "Ole")
    family = (
        "Amsel",
        "Birkholz",
        "Cornelissen",
        "Dahlmann",
        "Eversberg",
        "Feddersen",
        "Grünwald",
        "Holtkamp",
    )
    return tuple(
        AthleteTile(f"s{n}", f"{given[n % len(given)]} {family[n % len(family)]}", n + 1, "")
        for n in range(count)
    )


def history(sessions: int = 20) -> tuple[WarmupPoint, ...]:
    """Sessions every few days over some weeks, drawn from a seeded generator."""
    noise = np.random.default_rng(6).normal(0.0, 0.035, sessions)
    days = [TODAY - timedelta(days=4 * (sessions - i)) for i in range(sessions)]
    return tuple(
        WarmupPoint(
            day,
            round(0.655 + float(noise[i]), 3),
            match_day_label="MD+3" if i % 3 == 0 else "",
            equipment_changed=i == sessions // 2,
            counted=i != 4,
        )
        for i, day in enumerate(days)
    )


def rep(
    number: int, velocity: float | None, status: RepStatus = RepStatus.MEASURED, why: str = ""
) -> RepView:
    """A rep whose other figures follow from its mean velocity."""
    peak = None if velocity is None else round(1.7 * velocity, 3)
    propulsive = None if velocity is None else round(velocity + 0.05, 3)
    sure = None if velocity is None else 0.02 if status is RepStatus.MEASURED else 0.07
    return RepView(f"r{number}", number, status, velocity, propulsive, peak, 0.52, sure, why)


def set_of(
    *reps: RepView, kind: str = "warm-up", is_open: bool = True, stop: float | None = None, number: int = 1
) -> SetView:
    """A set with these reps; best and loss as the record would have them."""
    counted = [
        r.mean_velocity_m_s
        for r in reps
        if r.mean_velocity_m_s is not None and r.status in (RepStatus.MEASURED, RepStatus.UNCERTAIN)
    ]
    best = max(counted) if counted else None
    loss = None if best is None else (best - counted[-1]) / best
    reached = loss is not None and stop is not None and loss >= stop
    return SetView(
        "s1", "work" if kind == "work" else "warm-up", number, is_open, reps, best, loss, stop, reached, False
    )


def base() -> RackView:
    """A warm-up about to begin."""
    return RackView(
        rack_name="Rack 3",
        staff="Coach Adeyemi",
        group=GROUP,
        athlete=GROUP[1],
        name_confirmed=True,
        next_athlete_id="a3",
        lift="back squat",
        load_kg=60.0,
        plates=PLATES,
        warmup_load_kg=60.0,
        set=None,
        usual=USUAL,
        target_band_m_s=None,
        history=history(),
        today=None,
        assessed=None,
        suggestion=None,
        decision=None,
        sensor=SensorLine("Sensor 3", "streaming", streaming=True, battery_percent=84),
        say="as fast as you can control",
        data_note="demo data",
        lifts=tuple(LIFTS),
        coach=NOTES,
        session_sets=SESSION_SETS,
        bars=(("competition bar", 20.05), ("technique bar", 14.9)),
        bar_kg=20.05,
        staff_names=("Coach Adeyemi", "Coach Lund", "Dr Petrosyan"),
        usual_at_warmup=USUAL,
        planned_kg=100.0,
        last_used_kg=97.5,
        stop_loss=0.2,
        all_cautions=CAUTIONS,
    )


def assessed_view(
    velocity: float, verdict: Verdict, sentence: str, load: float | None, sureness: str = "quite sure"
) -> RackView:
    """The warm-up set is done and judged."""
    reps = (rep(1, round(velocity - 0.02, 3)), rep(2, velocity), rep(3, round(velocity - 0.03, 3)))
    usual = (
        USUAL if verdict is not Verdict.TOO_LITTLE_HISTORY else UsualRange(0.5, 0.66, 0.82, 0.12, 2, False)
    )
    judged = TodayAssessed(verdict, velocity, usual, 0.03, 0.9, 0.02, 128.0, 121.0, 135.0, extrapolated=False)
    plates = None if load is None else PlatesPerSide(((25.0, 1), (10.0, 1), (2.5, 1)), "kg", load)
    made = Suggestion(load, 100.0, plates, sentence, sureness, CAUTION)
    return replace(
        base(),
        set=set_of(*reps, is_open=False),
        usual=usual,
        history=history() if usual.enough_history else history()[-2:],
        today=WarmupPoint(TODAY, velocity, "MD+3"),
        assessed=judged,
        suggestion=made,
    )


SLOWER = "Ease to 95 kg: 0.06 m/s slower than usual at 60 kg."
USUAL_SENTENCE = "Keep the plan: 100 kg, as usual at 60 kg."
FASTER = "Go up to 102.5 kg: 0.09 m/s faster than usual at 60 kg."
TOO_LITTLE = "Keep the plan: 100 kg, too little history at 60 kg to say more."


def _ask_a_coach() -> RackView:
    """No plan, a restriction, or pain said today: one picture for all."""
    nothing = Suggestion(None, None, None, ASK_A_COACH, "", CAUTION)
    waiting = replace(
        base(), suggestion=nothing, say=ASK_A_COACH, warmup_load_kg=None, history=(), usual=None
    )
    tile = replace(GROUP[1], to_do="ask a coach")
    return replace(waiting, athlete=tile, group=(GROUP[0], tile, *GROUP[2:]))


def _work() -> RackView:
    reps = tuple(rep(i + 1, v) for i, v in enumerate((0.48, 0.50, 0.49, 0.47, 0.44)))
    return replace(
        base(),
        athlete=GROUP[0],
        load_kg=100.0,
        plates=PlatesPerSide(((25.0, 1), (15.0, 1)), "kg", 100.0),
        set=set_of(*reps, kind="work", stop=0.2, number=2),
        usual=UsualRange(0.44, 0.49, 0.54, 0.04, 11, enough_history=True),
        target_band_m_s=(0.40, 0.50),
        today=WarmupPoint(TODAY, 0.66, "MD+3"),
        assessed=assessed_view(0.66, Verdict.AS_USUAL, "", 100.0).assessed,
        say="",
    )


def _with_last(status: RepStatus, velocity: float | None, why: str) -> RackView:
    view = _work()
    assert view.set is not None
    reps = (*view.set.reps[:3], rep(4, velocity, status, why))
    return replace(view, set=set_of(*reps, kind="work", stop=0.2, number=2))


def states() -> dict[str, RackView]:
    """Every state that is held to account, by name."""
    return _of_a_set() | _of_a_verdict() | _not_judged() | _of_people() | _of_settings()


def _slower() -> RackView:
    return assessed_view(0.60, Verdict.SLOWER, SLOWER, 95.0)


def _of_a_set() -> dict[str, RackView]:
    """A set from its start to its end."""
    work = _work()
    assert work.set is not None
    stop_reps = (*work.set.reps, rep(6, 0.42), rep(7, 0.395))
    return {
        "session start": replace(base(), cautions=CAUTIONS),
        "session start with trouble": replace(base(), cautions=CAUTIONS, troubles=(BOOK_HELD,)),
        "before the first rep": base(),
        "first rep": replace(base(), set=set_of(rep(1, 0.63))),
        "mid set": work,
        "stop reached": replace(work, set=set_of(*stop_reps, kind="work", stop=0.2, number=2)),
        "set over": replace(work, set=replace(work.set, is_open=False)),
        "bar change": replace(base(), load_kg=100.0, bar_change="60 to 100 kg: add 20 a side"),
    }


def _of_a_verdict() -> dict[str, RackView]:
    """What a warm-up set says, and what is made of it."""
    slower = _slower()
    assert slower.set is not None
    return {
        "slower": slower,
        "as usual": assessed_view(0.66, Verdict.AS_USUAL, USUAL_SENTENCE, 100.0),
        "faster": assessed_view(0.75, Verdict.FASTER, FASTER, 102.5, "fairly sure"),
        "too little history": assessed_view(
            0.64, Verdict.TOO_LITTLE_HISTORY, TOO_LITTLE, 100.0, "not sure: too little history"
        ),
        "decided": replace(slower, decision=Decision.KEEP_PLAN),
        "next load": replace(
            slower,
            decision=Decision.USE,
            load_kg=95.0,
            plates=PlatesPerSide(((25.0, 1), (10.0, 1), (2.5, 1)), "kg", 95.0),
            set=replace(slower.set, load_kg=60.0),
        ),
        "nothing suggested": replace(slower, suggestion=None),
        "ask a coach": _ask_a_coach(),
    }


def _not_judged() -> dict[str, RackView]:
    """Sets and reps that do not count, or not as they are."""
    slower = _slower()
    assert slower.set is not None
    return {
        "different depth": replace(
            slower,
            set=replace(slower.set, different_depth=True),
            assessed=None,
            today=WarmupPoint(TODAY, 0.60, "MD+3", counted=False),
            suggestion=None,
        ),
        "not full effort": replace(
            slower,
            set=replace(slower.set, not_full_effort=True),
            assessed=None,
            today=WarmupPoint(TODAY, 0.60, "MD+3", counted=False),
            suggestion=None,
        ),
        "uncertain": _with_last(RepStatus.UNCERTAIN, 0.46, "3 samples lost during the lift"),
        "not measured": _with_last(RepStatus.NOT_MEASURED, None, "the sensor was silent for 0.8 s"),
        "failed rep": _with_last(RepStatus.FAILED, 0.21, "turned back at half the usual range: not counted"),
        "struck out": _with_last(RepStatus.STRUCK, 0.91, "the spotter caught the bar"),
    }


def _of_people() -> dict[str, RackView]:
    """Who lifts, and trouble with the sensor."""
    work, unnamed = _work(), replace(base(), athlete=None, name_confirmed=False, history=(), usual=None)
    lost = TroubleLine(
        "link_lost",
        "Sensor link lost.",
        "The set so far is kept. Bring the sensor near the screen.",
        serious=True,
    )
    low = TroubleLine("battery", "The sensor's battery is at 12 %.", "Charge it, or take another sensor.")
    return {
        "link lost": replace(work, troubles=(low, lost)),
        "unnamed set": replace(unnamed, set=set_of(rep(1, 0.58), rep(2, 0.57))),
        "name proposed": replace(
            base(), name_confirmed=False, set_name_confirmed=False, set=set_of(rep(1, 0.63))
        ),
        "first time": replace(base(), history=(), usual=UsualRange(0.44, 0.66, 0.88, 0.17, 0, False)),
        "six athletes": replace(work, group=SIX, athlete=SIX[3], next_athlete_id="a5"),
        "longest names": replace(_slower(), group=LONG, athlete=LONG[0], next_athlete_id="b2"),
    }


def _of_settings() -> dict[str, RackView]:
    """Other units and figures."""
    return {
        "pounds": replace(
            _slower(),
            unit="lb",
            load_kg=135 * KG_PER_LB,
            warmup_load_kg=135 * KG_PER_LB,
            plates=PlatesPerSide(((45.0, 1),), "lb", 135 * KG_PER_LB),
            suggestion=Suggestion(
                215 * KG_PER_LB,
                225 * KG_PER_LB,
                PlatesPerSide(((45.0, 1), (35.0, 1), (5.0, 1)), "lb", 215 * KG_PER_LB),
                "Ease to 215 lb: 0.06 m/s slower than usual at 135 lb.",
                "quite sure",
                "Spotters ready. Stop if anything hurts.",
            ),
        ),
        "peak velocity": replace(_work(), figure="peak"),
    }
