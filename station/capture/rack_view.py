"""What the rack screen paints: one frozen picture of the rack, made by the capture worker after each change.

The screen is a pure function of a `RackView`; what people touch goes back as calls of `RackActions`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from typing import Literal, Protocol

from drivers.samples import FloatArray
from station.readiness.results import PlatesPerSide as PlatesPerSide  # shown beside the load
from station.readiness.results import Suggestion, TodayAssessed, UsualRange, WarmupPoint
from station.readiness.season import SeasonTrend
from station.readiness.sensitivity import WarmupShows
from station.readiness.suggestion_rules import SuggestionRules
from station.readiness.within_set import RepsLeft

Unit = Literal["kg", "lb"]
Band = tuple[float, float]
"""Lowest and highest velocity, m/s."""
Figure = Literal["mean", "propulsive", "peak"]
SetField = Literal["load_kg", "bar_kg", "lift"]


class RepStatus(StrEnum):
    """How a repetition stands in the record."""

    MEASURED = "measured"
    UNCERTAIN = "uncertain"
    NOT_MEASURED = "not measured"
    FAILED = "failed"
    STRUCK = "struck out"


class Decision(StrEnum):
    """What the coach decided about a suggestion; undecided means keep the plan."""

    USE = "use"
    CHANGE = "change"
    KEEP_PLAN = "keep plan"


@dataclass(frozen=True, slots=True)
class AthleteTile:
    """One athlete of the group at this rack, in lifting order."""

    athlete_id: str
    name: str
    shirt_number: int | None
    to_do: str


@dataclass(frozen=True, slots=True)
class RepView:
    """One rep of the open (or just finished) set. Velocities in m/s; None where not measured."""

    rep_id: str
    number: int
    status: RepStatus
    mean_velocity_m_s: float | None
    mean_propulsive_velocity_m_s: float | None
    peak_velocity_m_s: float | None
    displacement_m: float | None
    uncertainty_m_s: float | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class TroubleLine:
    """One trouble in plain words with what to do; `serious` troubles come first."""

    kind: str
    words: str
    advice: str
    serious: bool = False


@dataclass(frozen=True, slots=True)
class SensorLine:
    """The sensor of this rack: name, link state in words, battery in percent (None: unknown)."""

    name: str
    link: str
    streaming: bool
    battery_percent: int | None


@dataclass(frozen=True, slots=True)
class SetView:
    """The open set, or the last one while nothing new has begun.

    Attributes:
        kind: "warm-up" or "work".
        number: which set of this lift today, from 1.
        is_open: reps are still being added.
        velocity_loss: (best - last) / best of the set so far, or None.
        stop_loss: the chosen stop, as a fraction, or None.
        stop_reached: the loss has reached the stop.
        not_full_effort: marked by a person.
        load_kg: the load this set was lifted with, which a finished set keeps while the bar is loaded for the
            next; None: the load on the bar.
        different_depth: its range of motion differs from the athlete's usual by more than 10 %: kept, not judged.
    """

    set_id: str
    kind: Literal["warm-up", "work"]
    number: int
    is_open: bool
    reps: tuple[RepView, ...]
    best_m_s: float | None
    velocity_loss: float | None
    stop_loss: float | None
    stop_reached: bool
    not_full_effort: bool
    load_kg: float | None = None
    different_depth: bool = False


@dataclass(frozen=True, slots=True)
class CoachNotes:
    """What only the coach's page says of the athlete shown.

    Attributes:
        season: whether strength is held.
        shows: what the warm-up load can show; None without history at it.
        like_day, like_sessions: what kind of day today is ("MD+3, did not play"), and how many earlier sessions were.
        velocity_at_1rm_m_s: the athlete's own where `own_velocity_at_1rm`, else the published one of the lift.
        not_done: lifts not done for three weeks, with their last day.
        reps_left: of the open set, only where the athlete's own sets carry it.
    """

    season: SeasonTrend
    shows: WarmupShows | None
    like_day: str
    like_sessions: int
    velocity_at_1rm_m_s: float
    own_velocity_at_1rm: bool
    not_done: tuple[tuple[str, date], ...] = ()
    reps_left: RepsLeft | None = None


@dataclass(frozen=True, slots=True)
class SessionSet:
    """One set of this session at this rack, for correcting it later. `clock` is the local time it began."""

    set_id: str
    clock: str
    athlete: str
    lift: str
    load_kg: float
    name_confirmed: bool = True


@dataclass(frozen=True, slots=True)
class ScreenSettings:
    """How this rack's screen is set; kept in the rack's data folder.

    Attributes:
        scale_percent: 100 to 200.
        figures: which velocity the big number shows, by lift; the mean where none is named.
        most_down, most_up: how far a suggestion may go from the plan, as shares of the planned load.
        sound: a tone for a full-range rep in the target band, another at the stop. Off unless switched on.
    """

    unit: Unit = "kg"
    scale_percent: int = 100
    sound: bool = False
    theme: Literal["dark", "light"] | None = None
    figures: tuple[tuple[str, Figure], ...] = ()
    most_down: float = SuggestionRules.most_down
    most_up: float = SuggestionRules.most_up

    def figure_for(self, lift: str) -> Figure:
        """What the big number shows for a lift."""
        return dict(self.figures).get(lift, "mean")


@dataclass(frozen=True, slots=True)
class RackView:
    """Everything the rack screen shows.

    Attributes:
        athlete: None while a set is unnamed.
        name_confirmed: somebody has touched this athlete's tile; else the name is only proposed.
        next_athlete_id: whom the station proposes next, once a set has ended.
        usual, target_band_m_s: marks on the velocity scale (m/s), for this load; None where unknown.
        history: this athlete, this lift, this warm-up load, oldest first; `warmup_load_kg` names the load.
        today: today's warm-up point, once done.
        assessed, suggestion, decision: once the warm-up set is done.
        say: one line for the athlete, such as "as fast as you can control", or "".
        cautions: shown when a session starts.
        data_note: e.g. "demo data".
        staff_names: who may sign in here.
        decided_kg: the load that was decided for, where the coach chose one.
        squad: everybody who can be called up by shirt number; the group is found without it.
        coach: for the coach's page; None without an athlete or a plan that may be followed.
        session_sets: this session's sets at this rack, oldest first.
        bars: weighed bars of this rack, (label, kg); `bar_kg` is the one in use.
        settings: how the screen is set.
        bar_change: what changes on the bar since the last load, such as "100 to 120 kg: add 10 a side", or "".
        usual_at_warmup: the usual range at the fixed warm-up load, whatever hangs on the bar.
        planned_kg, last_used_kg: the plan's load, and that of this athlete's latest set of this lift.
        stop_loss: the stop chosen for this athlete's work sets, as a fraction.
        set_name_confirmed: somebody said whose set it is that is shown.
        all_cautions: of this lift, for whoever asks for them again.
        can_undo: there is something to take back.
        badges: what a badge reader types, and which athlete that is.
        pin_needed: staff who sign in with a PIN. `pin_words` answers a try that failed, or "".
    """

    rack_name: str
    staff: str | None
    group: tuple[AthleteTile, ...]
    athlete: AthleteTile | None
    name_confirmed: bool
    next_athlete_id: str | None
    lift: str
    load_kg: float
    plates: PlatesPerSide | None
    warmup_load_kg: float | None
    set: SetView | None
    usual: UsualRange | None
    target_band_m_s: tuple[float, float] | None
    history: tuple[WarmupPoint, ...]
    today: WarmupPoint | None
    assessed: TodayAssessed | None
    suggestion: Suggestion | None
    decision: Decision | None
    sensor: SensorLine
    troubles: tuple[TroubleLine, ...] = ()
    say: str = ""
    cautions: tuple[str, ...] = ()
    data_note: str = ""
    unit: Unit = "kg"
    figure: Figure = "mean"
    lifts: tuple[str, ...] = ()
    staff_names: tuple[str, ...] = ()
    squad: tuple[AthleteTile, ...] = ()
    decided_kg: float | None = None
    coach: CoachNotes | None = None
    session_sets: tuple[SessionSet, ...] = ()
    bars: tuple[tuple[str, float], ...] = ()
    bar_kg: float | None = None
    settings: ScreenSettings = field(default_factory=ScreenSettings)
    bar_change: str = ""
    pin_needed: tuple[str, ...] = ()
    pin_words: str = ""
    badges: tuple[tuple[str, str], ...] = ()
    usual_at_warmup: UsualRange | None = None
    planned_kg: float | None = None
    last_used_kg: float | None = None
    stop_loss: float | None = None
    set_name_confirmed: bool = True
    all_cautions: tuple[str, ...] = ()
    can_undo: bool = True


@dataclass(frozen=True, eq=False, slots=True)
class LiveTrace:
    """A stretch of live velocity for the coach's trace: causal, rougher than the number. s and m/s."""

    time_s: FloatArray
    velocity_m_s: FloatArray


class RackActions(Protocol):
    """What people at the rack can do. Each is carried out by the capture worker and answered by a new view."""

    def sign_in(self, staff: str, pin: str = "") -> None:
        """Decisions and corrections from now on carry this name; with a PIN where this person has one."""

    def set_pin(self, pin: str) -> None:
        """Whoever is signed in signs in with this PIN from now on; "" takes it away."""

    def switch_athlete(self, athlete_id: str | None) -> None:
        """The bar belongs to this athlete from now on (None: unnamed)."""

    def add_guest(self) -> None:
        """Somebody who is not in the squad lifts here from now on; the name is completed later."""

    def name_set(self, set_id: str, athlete_id: str) -> None:
        """Move a set, reps and raw data, to this athlete: a correction."""

    def set_lift(self, lift: str) -> None:
        """The lift from the next rep on."""

    def set_load(self, load_kg: float) -> None:
        """The load on the bar from the next rep on."""

    def correct_from(self, set_id: str, field: SetField, value: float | str) -> None:
        """Correct load, bar or lift of this set and all later ones of this rack and session: one step to undo."""

    def give_badge(self, code: str, athlete_id: str) -> None:
        """This badge is this athlete's from now on."""

    def use_bar(self, bar_kg: float) -> None:
        """The bar from the next set on, by its weighed mass."""

    def use_settings(self, settings: ScreenSettings) -> None:
        """Change how the screen is set, and keep it."""

    def end_set(self) -> None:
        """The set is over now."""

    def strike_rep(self, rep_id: str, struck: bool) -> None:
        """Strike a rep out, or put it back."""

    def mark_effort(self, set_id: str, full: bool) -> None:
        """Whether the set was lifted with full intent."""

    def decide(self, decision: Decision, load_kg: float | None = None) -> None:
        """The coach's decision about the suggestion; `load_kg` with CHANGE."""

    def use_goal(self, stop_loss: float | None, band_m_s: Band | None) -> None:
        """Where this athlete's sets of this lift stop (10 to 40 %), and the target band; None: neither."""

    def undo(self) -> None:
        """Take the last action of a person back."""

    def find_sensor(self) -> None:
        """The sensor that moves when this rack's bar is lifted becomes its own."""


@dataclass(frozen=True, slots=True)
class RackPlan:
    """What was planned for one athlete at this rack today."""

    athlete_id: str
    lift: str
    warmup_load_kg: float
    planned_load_kg: float | None
    ceiling_kg: float | None
    work_sets: int = 3
    stop_loss: float | None = 0.20
    target_band_m_s: tuple[float, float] | None = None
    own_velocity_at_1rm_m_s: float | None = None

    def with_ceiling(self, ceiling_kg: float | None) -> RackPlan:
        """The same plan under another ceiling."""
        return replace(self, ceiling_kg=ceiling_kg)
