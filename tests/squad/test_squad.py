"""Rules of the trade: lifts by name, days named after matches, loads that are the same."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from station.squad.calendar import match_day_label
from station.squad.errors import UnknownLift
from station.squad.lifts import LIFTS, Lift, lift_named
from station.squad.sets import SetObservation, same_load, usual_displacement_m

MATCH = date(2026, 10, 10)


def test_lifts_are_found_by_name_whatever_the_case() -> None:
    assert lift_named("Back Squat ").name == "back squat"
    assert len(LIFTS) == 10


def test_an_unknown_lift_is_refused_with_the_list() -> None:
    with pytest.raises(UnknownLift, match="back squat, bench press"):
        lift_named("curl")


def test_a_club_adds_its_own_lift() -> None:
    own = Lift("pin squat", True, 0.1, 0.6, 0.3, "club")
    assert lift_named("pin squat", {"pin squat": own}) is own


@pytest.mark.parametrize(
    ("days", "label"), [(0, "MD"), (1, "MD+1"), (3, "MD+3"), (6, "MD-1"), (7, "MD"), (8, "MD+1")]
)
def test_days_are_named_after_the_matches_around_them(days: int, label: str) -> None:
    matches = [MATCH, MATCH + timedelta(days=7)]
    assert match_day_label(MATCH + timedelta(days=days), matches) == label


def test_a_day_far_from_any_match_has_no_name() -> None:
    assert match_day_label(date(2026, 7, 1), [MATCH]) == ""
    assert match_day_label(date(2026, 7, 1), []) == ""


def test_loads_are_the_same_within_two_percent() -> None:
    assert same_load(60, 61.2)
    assert not same_load(60, 62.5)


def test_usual_displacement_is_the_median_of_counted_sets() -> None:
    day = date(2026, 10, 1)
    sets = [SetObservation("a", day, "x", 60, 1.0, displacement_m=d) for d in (0.5, 0.6, 0.9)]
    short = SetObservation("a", day, "x", 60, 1.0, displacement_m=0.1, counts=False)
    assert usual_displacement_m([*sets, short]) == 0.6
    assert usual_displacement_m([]) is None
