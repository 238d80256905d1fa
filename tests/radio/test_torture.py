"""A sensor's process is killed and restarted again and again during a session, in the middle of a rep, too.

Ten times in the ordinary run; `RECONNECTS=100` for a hundred, as `make torture` does, with its figures printed.
"""

from __future__ import annotations

import asyncio
import os
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from drivers.link_events import LinkState
from drivers.profile import shipped_profiles
from simulated_sensor.kinematics import MotionBuilder
from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource
from simulated_sensor.sessions import trace_of
from simulated_sensor.trace import SensorTrace
from simulated_sensor.velocity_shapes import minimum_jerk_velocity, push_velocity
from simulated_sensor.virtual_radio import VirtualRadio
from tests.radio.conftest import make_trace
from tests.radio.rack_on_a_link import Station

ROUNDS = int(os.environ.get("RECONNECTS", "10"))
SOON_S = 3.0  # what is promised of a reconnection on a radio that is not emulated
ADDRESS = "C4:11:22:33:44:55"
DECIDED_S = 0.9  # once so much more was heard a rep is decided and in the record
EACH_CUT = 3  # every third life ends in the middle of the rep


def one_rep() -> SensorTrace:
    """One squat, soon after the start."""
    rng = np.random.default_rng(7)
    builder = MotionBuilder(rng)
    builder.still(1.2, held=0.0)
    builder.still(0.8, held=1.0)
    builder.move(minimum_jerk_velocity(-0.5, 1.1))
    builder.move(push_velocity(0.5, 0.7, 1.2, 1.4), kind="rep")
    builder.still(2.0, held=1.0)
    return trace_of(builder.build(), rng)


@pytest.mark.timeout(60 + 15 * ROUNDS)
async def test_every_reconnection_comes_soon_no_rep_is_invented_and_no_completed_one_lost(
    tmp_path: Path, request: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    if request.config.getoption("--radio", default="bumble") != "bumble":
        pytest.skip("too slow for the emulated guest; the links have their own test below")
    trace = one_rep()
    (true,) = trace.truth
    took_s, completed, cut, late = [], 0, 0, 0
    async with VirtualRadio() as radio:
        port = await radio.open_port("sensor")
        station = Station(tmp_path, await radio.open_port("station"))
        for life in range(ROUNDS):
            station.begin_anew()
            process = SensorProcess([(SensorSource("", address=ADDRESS), trace)], [port])
            to_cut = life % EACH_CUT == EACH_CUT - 1
            try:
                await asyncio.to_thread(process.start)
                back_s = time.monotonic()
                await station.until(0.0)
                took_s.append(time.monotonic() - back_s)
                end_s = true.start_time_s + 0.3 if to_cut else true.end_time_s + DECIDED_S
                await station.until_heard(round(end_s * trace.rate_hz))
            finally:
                process.kill()
            await station.until_lost()
            # A machine under load kills late, and the rep goes on meanwhile: what was heard of it says which it was.
            heard_s = station.heard / trace.rate_hz
            whole, decided = heard_s >= true.end_time_s, heard_s >= true.end_time_s + DECIDED_S
            cut, completed, late = cut + (not whole), completed + decided, late + (whole and not decided)
        sets = await station.close()
    measured = [rep for reps in sets for rep in reps if rep.mean_velocity_m_s is not None]
    others = [rep for reps in sets for rep in reps if rep.mean_velocity_m_s is None]
    with capsys.disabled():
        print(
            f"\n{ROUNDS} kills: {completed} completed reps (and {late} that may not have been decided), "
            f"{len(measured)} measured; {cut} cut short, {len(others)} not measured; "
            f"reconnected after {np.median(took_s):.2f} s (median), {max(took_s):.2f} s at most"
        )
    assert completed >= ROUNDS - ROUNDS // EACH_CUT
    assert completed <= len(measured) <= completed + late
    assert [rep.mean_velocity_m_s for rep in measured] == pytest.approx(
        [true.mean_velocity_m_s] * len(measured), abs=0.05
    )
    assert len(others) <= cut + late
    assert max(took_s) < SOON_S


@pytest.mark.timeout(300)  # three processes are started, each half a minute in an emulated guest
async def test_after_every_restart_each_sample_is_handed_on_or_counted_as_lost(air: Any) -> None:
    source = (SensorSource("", address=ADDRESS), make_trace())
    rng = np.random.default_rng(3)
    async with air() as there, there.link(ADDRESS, shipped_profiles()[0]) as held:
        port = await there.virtual.open_port("sensor")
        for _ in range(3):
            since = len(held.events)
            process = SensorProcess([source], [port])
            try:
                await asyncio.to_thread(process.start)
                await held.until_state(LinkState.STREAMING, since)
                await held.until_samples(int(rng.integers(10, 60)))
            finally:
                process.kill()
            await held.until_state(LinkState.LOST, since)
        statistics = held.link.statistics
        assert np.all(np.diff(held.seq) > 0)
        assert held.samples == statistics.samples
        assert held.seq[-1] + 1 - held.seq[0] == statistics.samples + statistics.lost_samples
