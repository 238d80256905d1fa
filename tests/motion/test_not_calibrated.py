"""Without a calibration the speed drifts by tenths within a rep: how still a held bar is tells more."""

from __future__ import annotations

import numpy as np
import pytest

from station.motion.attitude import Stillness, StillnessReading
from station.motion.parameters import UNCALIBRATED_PARAMETERS, EngineParameters
from station.motion.rest import RestAssumption
from station.motion.tilt_filter import TiltFilter
from tests.motion.test_shocks import outcome
from tests.motion.test_where_it_stays import FRAME_S, NOISE, lying, step

DRIFTED_TO_M_S = 0.4
CALIBRATED_PARAMETERS = EngineParameters()


def stands_before_believed_s(parameters: EngineParameters) -> float:
    """How long a bar that is held still, but seems to rise steadily, stands before it is taken for resting."""
    vertical, tilt, rest = lying(), TiltFilter(parameters), RestAssumption(parameters)
    tilt.predict((0.0, 0.0, 9.80665 * FRAME_S), FRAME_S, NOISE, 1e-8, blind=False)
    vertical.predict(step(DRIFTED_TO_M_S))
    for frame in range(1, 100):
        still = step(0.0)
        vertical.predict(still)
        reading = StillnessReading(Stillness.HELD, 0.1, frame * FRAME_S)
        if rest.sigma(reading, vertical, tilt, still, 0.0) > 0:
            return frame * FRAME_S
    return float("inf")


def test_half_a_second_of_standing_still_refutes_what_an_uncalibrated_sensor_predicts() -> None:
    assert stands_before_believed_s(UNCALIBRATED_PARAMETERS) == pytest.approx(0.5, abs=0.05)


def test_a_calibrated_sensor_is_believed_for_longer_since_a_bar_may_grind() -> None:
    assert stands_before_believed_s(CALIBRATED_PARAMETERS) > 2.0


@pytest.mark.parametrize(
    ("seeds_from", "index", "worst_m_s"),
    [(310_000, 84, 0.12), (370_000, 87, 0.03)],  # with the stand in it: 0.33 and 0.17 too slow
)
def test_a_bar_that_stood_at_the_top_is_not_told_as_rising_on(
    seeds_from: int, index: int, worst_m_s: float
) -> None:
    found = outcome("not calibrated", index, seeds_from)
    assert (found.missed, found.invented) == (0, 0)
    assert np.abs(found.column(0)).max() < worst_m_s


def test_standing_between_reps_ends_what_seemed_to_rise() -> None:
    found = outcome("not calibrated", 81, 370_000)
    assert found.missed < 3  # as many were, before the speed was known again
    assert np.abs(found.column(0)).max() < 0.06
