"""A sensor's process is killed and restarted again and again; every time the link takes it up soon after it is back.

Ten times in the ordinary run; `RECONNECTS=100` for a hundred.
"""

from __future__ import annotations

import asyncio
import os
import time
from typing import Any

import numpy as np
import pytest

from drivers.link_events import LinkState
from drivers.profile import shipped_profiles
from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource
from tests.radio.conftest import make_trace

ROUNDS = int(os.environ.get("RECONNECTS", "10"))
SOON_S = 3.0  # what is promised of a reconnection on a radio that is not emulated
ADDRESS = "C4:11:22:33:44:55"


@pytest.mark.timeout(60 + 10 * ROUNDS)
async def test_every_reconnection_comes_soon_and_no_sample_is_invented(air: Any, request: Any) -> None:
    source = (SensorSource("", address=ADDRESS), make_trace())
    rng = np.random.default_rng(3)
    async with air() as there, there.link(ADDRESS, shipped_profiles()[0]) as held:
        rounds = ROUNDS if there.kind == "bumble" else 3
        port = await there.virtual.open_port("sensor")
        took_s = []
        for _ in range(rounds):
            since = len(held.events)
            process = SensorProcess([source], [port])
            await asyncio.to_thread(process.start)
            back_s = time.monotonic()
            await held.until_state(LinkState.STREAMING, since)
            took_s.append(time.monotonic() - back_s)
            await held.until_samples(int(rng.integers(10, 60)))
            await asyncio.to_thread(process.kill)
            await held.until_state(LinkState.LOST, since)
        statistics = held.link.statistics
        assert np.all(np.diff(held.seq) > 0)
        assert held.samples == statistics.samples
        assert held.seq[-1] + 1 - held.seq[0] == statistics.samples + statistics.lost_samples
        assert there.kind != "bumble" or max(took_s) < SOON_S
