"""An invented field-hockey club of 40 with twelve weeks of squats behind it: demo data with known truth.

Names are put together from two lists; nobody real is meant. Every athlete has a true load-velocity line, each day
a true state, each set its noise; what the station makes of them can be checked against `ClubAthlete`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

LIFT = "back squat"
WEEKS = 12
RACKS = 10
PER_RACK = 4
# Spread of an unchanged athlete's sessions: day state and set noise (m/s), as published day-to-day SEMs suggest
# (0.03 to 0.08 m/s over 30 to 90 % of the maximum, Front Physiol 2020;11:561682; the steadier end).
DAY_SD_M_S = 0.028
SET_SD_M_S = 0.018
MISSED_SHARE = 0.12
VELOCITY_AT_1RM_M_S = 0.32  # full squat, Sanchez-Medina et al. 2017, doi 10.1055/s-0043-102933

_FIRST = (
    "Aino Bela Ciro Dagny Edda Fenno Gesa Hedda Imre Jorid Kaja Levke Malo Nele Oda Pelle Quirin Runa Sanne Tjark "
    "Ulla Veikko Wanja Ylva Zora Arvo Birte Dorte Eskil Femke"
).split()
_LAST = (
    "Amsel Birkholz Carstam Dornbluet Elmgren Farnwald Grunewold Haverdal Isterbek Jungholt Kranebit Lindhavn "
    "Moorkamp Nordbruk Ostermark Piepgras Quellmann Rosenborn Sandvoss Tannhult Ulmenried Vaterholt Wiesengrund "
    "Zellerdal Ackerby Brombeck Dunkelau Erlenkamp Flussmann Gallwiek"
).split()


@dataclass(frozen=True, slots=True)
class ClubAthlete:
    """One invented athlete and the truth about them.

    Attributes:
        true_1rm_kg: strength at the end of the twelve weeks.
        intercept_m_s, slope_m_s_per_kg: the true line, on an ordinary day.
        range_of_motion_m: of their squat.
        today_shift_m_s: what today does to their speed (0 for an ordinary day).
    """

    name: str
    shirt_number: int
    rack: int
    true_1rm_kg: float
    intercept_m_s: float
    slope_m_s_per_kg: float
    range_of_motion_m: float
    warmup_load_kg: float
    planned_load_kg: float
    today_shift_m_s: float

    def velocity_m_s(self, load_kg: float) -> float:
        """Fastest rep's mean velocity on an ordinary day."""
        return self.intercept_m_s + self.slope_m_s_per_kg * load_kg

    def today_m_s(self, load_kg: float) -> float:
        """The same today."""
        return self.velocity_m_s(load_kg) + self.today_shift_m_s


@dataclass(frozen=True, slots=True)
class ClubSet:
    """One set of the past: mean velocities of its reps, in order."""

    athlete: int
    day: date
    kind: str
    load_kg: float
    velocities_m_s: tuple[float, ...]
    range_of_motion_m: float


@dataclass(frozen=True, slots=True)
class Club:
    """Squad, matches and history up to the day before `today`."""

    athletes: tuple[ClubAthlete, ...]
    matches: tuple[date, ...]
    sets: tuple[ClubSet, ...]
    today: date


def make_club(today: date, seed: int = 7) -> Club:
    """The whole club, the same for the same seed and day."""
    rng = np.random.default_rng(seed)
    athletes = tuple(_athlete(rng, i) for i in range(RACKS * PER_RACK))
    # Matches every seventh day, the last one three days before today: today is MD+3.
    matches = tuple(today - timedelta(days=3 + 7 * week) for week in range(WEEKS, -1, -1))
    training = [match + timedelta(days=3) for match in matches[:-1]]
    sets = [one for day in training for one in _training_day(rng, athletes, day)]
    return Club(athletes, (*matches, today + timedelta(days=4)), tuple(sets), today)


# What today does to the first rack's four, so that a newcomer sees each answer: slower, usual, faster, usual.
_FIRST_RACK_TODAY_M_S = (-0.10, 0.005, 0.09, -0.01)


def _athlete(rng: np.random.Generator, index: int) -> ClubAthlete:
    one_rm = float(np.clip(rng.normal(118.0, 20.0), 80.0, 180.0))
    span = float(rng.normal(1.50, 0.10))
    warmup = next(load for load in (60.0, 50.0, 40.0) if load <= 0.58 * one_rm)
    today = _FIRST_RACK_TODAY_M_S[index] if index < PER_RACK else float(rng.normal(0.0, DAY_SD_M_S))
    return ClubAthlete(
        name=f"{_FIRST[(index * 7) % len(_FIRST)]} {_LAST[(index * 11 + 3 + index // len(_FIRST)) % len(_LAST)]}",
        # Two wear 14, as happens in the middle of a season.
        shirt_number=14 if index == PER_RACK * 2 + 1 else index + 1,
        rack=index // PER_RACK + 1,
        true_1rm_kg=one_rm,
        intercept_m_s=VELOCITY_AT_1RM_M_S + span,
        slope_m_s_per_kg=-span / one_rm,
        range_of_motion_m=float(np.clip(rng.normal(0.60, 0.06), 0.45, 0.75)),
        warmup_load_kg=warmup,
        planned_load_kg=2.5 * round(0.80 * one_rm / 2.5),
        today_shift_m_s=today,
    )


def _training_day(rng: np.random.Generator, athletes: tuple[ClubAthlete, ...], day: date) -> list[ClubSet]:
    made: list[ClubSet] = []
    for index, athlete in enumerate(athletes):
        if rng.random() < MISSED_SHARE:
            continue
        state = float(rng.normal(0.0, DAY_SD_M_S))
        made.append(_set(rng, index, athlete, day, "warm-up", athlete.warmup_load_kg, 3, state))
        made += [
            _set(rng, index, athlete, day, "work", athlete.planned_load_kg, 4, state - 0.01 * n)
            for n in range(3)
        ]
    return made


def _set(
    rng: np.random.Generator,
    index: int,
    athlete: ClubAthlete,
    day: date,
    kind: str,
    load_kg: float,
    reps: int,
    state_m_s: float,
) -> ClubSet:
    fastest = max(athlete.velocity_m_s(load_kg) + state_m_s + float(rng.normal(0.0, SET_SD_M_S)), 0.15)
    # Each rep after the first is a little slower, as in a set far from failure.
    drop = 1.0 - 0.03 * np.arange(reps) - np.abs(rng.normal(0.0, 0.008, reps)) * (np.arange(reps) > 0)
    velocities = tuple(float(v) for v in np.round(fastest * drop, 4))
    depth = athlete.range_of_motion_m + float(rng.normal(0.0, 0.01))
    return ClubSet(index, day, kind, load_kg, velocities, depth)
