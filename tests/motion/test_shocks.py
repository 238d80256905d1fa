"""What a knock leaves behind: a sensor too slow to follow it, or clipped by it, measures what follows, once."""

from __future__ import annotations

from itertools import islice

import numpy as np
import pytest

from station.motion.frames import padded, statistics
from station.motion.live import BOTTOM, TOP
from station.motion.watches import ShockWatch, TurnWatch
from tests.validation.outcome import Outcome, compare
from tests.validation.scenarios import CONDITIONS, cases

DEVELOPMENT_SEEDS_FROM = 300_000


def outcome(condition: str, index: int, seeds_from: int = DEVELOPMENT_SEEDS_FROM) -> Outcome:
    """One simulated set of a condition, the first of that beginning, on seeds that no published figure rests on."""
    row = next(one for one in CONDITIONS if one.name.startswith(condition))
    one_set = cases(row, index + 1, part=index, parts=index + 1, seeds_from=seeds_from)
    return compare(islice(one_set, 1), calibrated=row.calibrated)


@pytest.mark.parametrize(
    ("condition", "index"),
    [
        ("100 Hz", 4),  # the landing's ringing is folded into a velocity of 0.13 m/s
        ("100 Hz", 37),  # and a rest after it is doubted, sideways as well
        ("100 Hz", 44),  # no rest follows: only the floor's height tells
        ("2 g", 44),  # clipped at the floor
        ("2 g", 19),  # and at the catch of a clean, five times
        ("2 g", 129),  # for an eighth of a second each time
        ("2 g", 35),  # in the pull itself
        ("2 g", 54),  # at the floor, and pulled at once
        ("2 g", 147),  # and whips at the top
    ],
)
def test_reps_after_a_hard_landing_are_all_found_and_right(condition: str, index: int) -> None:
    found = outcome(condition, index)
    assert (found.missed, found.invented, found.failed_found) == (0, 0, 0)
    assert np.abs(found.column(0)).max() < 0.015


def test_a_rep_is_counted_once_though_a_later_look_begins_in_its_middle() -> None:
    found = outcome("failed", 155)
    assert (found.missed, found.invented) == (0, 0)
    assert found.failed_found == found.failed_true == 1


@pytest.mark.parametrize("index", [3, 24])
def test_a_hole_before_a_rep_does_not_make_it_carrying(index: int) -> None:
    found = outcome("5 %", index)
    assert (found.missed, found.invented) == (0, 0)


def test_a_slower_sensor_is_believed_less_after_the_same_knock() -> None:
    jolts = []
    for rate_hz in (200.0, 100.0):
        time = np.arange(5) / rate_hz
        acc = np.tile([0.0, 0.0, 9.81], (5, 1))
        acc[2, 2] += 40.0
        frames = padded(time, acc, np.zeros((5, 3)), np.array([0, 4]))
        jolts.append(float(statistics(frames).jolt_m_s[0]))
    assert jolts[1] > 4 * jolts[0] > 0


def test_shocks_are_forgotten_once_the_bar_has_rested_or_two_seconds_later() -> None:
    watch = ShockWatch()
    watch.note(10, 0.1)
    watch.note(12, 0.3)
    assert watch.strongest == 12
    assert watch.spoilt_m_s == pytest.approx(0.8)
    watch.note(200, 0.0)
    assert watch.strongest is None
    watch.note(201, 0.2)
    watch.rested()
    assert watch.spoilt_m_s == 0.0


def test_a_top_put_right_by_the_closure_is_no_travel_to_a_bottom() -> None:
    watch = TurnWatch()
    heights = [0.0, 0.1, 0.3, 0.33]
    found = [watch.follow(frame, 0.5, height) for frame, height in enumerate(heights)]
    assert found == [None] * 4
    assert watch.follow(4, -0.01, 0.33) == (TOP, 4)
    watch.began_at(0.50)  # the closure says so
    assert watch.follow(5, 0.01, 0.50) is None  # and a wavering speed there is no bottom
    assert watch.follow(6, -0.5, 0.50) is None
    assert [watch.follow(frame, -0.5, height) for frame, height in ((7, 0.4), (8, 0.1))][-1] in (
        None,
        (TOP, 6),
    )
    assert watch.follow(9, 0.02, 0.0) == (BOTTOM, 9)
