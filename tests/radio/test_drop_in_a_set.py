"""A connection that drops in the middle of a set, through the whole capture: radio, link, clock, engine, record."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("bumble")

from simulated_sensor.peripheral import SensorSettings, SimulatedSensor
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.serve import plug_in
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace
from simulated_sensor.virtual_radio import VirtualRadio
from station.capture.rack_view import RepStatus
from tests.radio.rack_on_a_link import Station

DROP_S = 2.0
NEAR_S = 0.3
SETTLED_S = 2.5  # after a rep the engine has decided about it


@pytest.fixture(autouse=True)
def _virtual_only(request: pytest.FixtureRequest) -> None:
    if request.config.getoption("--radio", default="bumble") != "bumble":
        pytest.skip("too slow for the emulated guest; its links have their own tests")


def trace_of(*speeds_m_s: float, pause_s: float) -> SensorTrace:
    one = PlannedSet("back squat", speeds_m_s, 0.6, longest_pause_s=pause_s)
    return make_session_trace([one], seed=1)


@pytest.mark.timeout(120)
async def test_after_a_drop_in_a_set_capture_goes_on_and_the_rep_in_the_hole_is_not_measured(
    tmp_path: Path,
) -> None:
    trace = trace_of(0.7, 0.7, 0.7, pause_s=4.0)
    hidden, after = trace.truth[1], trace.truth[2]
    drop_at_s = hidden.start_time_s + 0.3
    assert after.start_time_s > drop_at_s + DROP_S + 1.0
    async with VirtualRadio() as radio:
        sensor = SimulatedSensor(trace, SensorSettings())
        controller = await plug_in(sensor, radio)
        station = Station(tmp_path, await radio.open_port("station"))
        await station.until(drop_at_s)
        radio.link.move_out_of_range(controller)
        await station.until(drop_at_s + DROP_S)
        radio.link.move_into_range(controller)
        await station.until(trace.truth[-1].end_time_s + SETTLED_S)
        (reps,) = await station.close()  # one set
        await sensor.stop()
    assert [rep.number for rep in reps] == [1, 2, 3]
    for rep, true in zip(reps, trace.truth, strict=True):
        if true is hidden:
            assert rep.status == RepStatus.NOT_MEASURED
            assert rep.mean_velocity_m_s is None
            assert "lost" in rep.why
        else:
            assert abs(rep.start_time_s - true.start_time_s) < NEAR_S
            assert rep.mean_velocity_m_s == pytest.approx(true.mean_velocity_m_s, abs=0.03)
    said = {trouble.words for view in station.views for trouble in view.troubles}
    assert any("of this set were not received" in words for words in said)
    assert not any("zeros" in words for words in said)
