"""Each caution is on the screen when a session starts, for the lifts it is meant for."""

from __future__ import annotations

import pytest

from station.capture.cautions import AS_FAST_AS_YOU_CAN_CONTROL, cautions_for
from station.readiness.suggestion import CAUTION
from station.squad.lifts import LIFTS

EVERYWHERE = (
    "Collars on both sides",
    "Stop on pain",
    "Look at the screen after the rep",
    "never passes the coach's ceiling",
    "nobody has to lift it",
    "No further rep is asked for",
    "Figures support qualified staff",
    "no diagnosis, forecast of injury or clearance",
    "Local rules come first",
)
PINS = {"back squat", "front squat", "box squat", "bench press", "overhead press", "hip thrust"}


@pytest.mark.parametrize("words", EVERYWHERE)
@pytest.mark.parametrize("lift", LIFTS)
def test_every_lift_begins_with_every_caution(lift: str, words: str) -> None:
    assert words in " ".join(cautions_for(LIFTS[lift]))


@pytest.mark.parametrize("lift", LIFTS)
def test_spotters_or_safety_arms_where_the_bar_can_pin_somebody(lift: str) -> None:
    said = " ".join(cautions_for(LIFTS[lift]))
    assert ("Spotters, or safety arms" in said) == (lift in PINS)


def test_speed_is_never_asked_for_beyond_control_and_a_suggestion_is_no_order() -> None:
    assert AS_FAST_AS_YOU_CAN_CONTROL == "as fast as you can control"
    assert "not an order" in CAUTION
    assert "stop on pain" in CAUTION
    assert "a coach decides" in CAUTION
