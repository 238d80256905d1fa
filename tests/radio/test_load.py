"""Sixteen sensors at 200 Hz, six axes: nothing lost, and how long a notification takes to the driver's callback.

A load figure of the virtual radio: real adapters commonly hold fewer links. `LOAD_SECONDS=600` for ten minutes.
"""

from __future__ import annotations

import asyncio
import os
import time
from contextlib import AsyncExitStack
from typing import Any

import numpy as np
import pytest

from drivers.link_events import LinkState
from drivers.profile import shipped_profiles
from simulated_sensor.peripheral import SimulatedSensor
from tests.radio.conftest import make_trace

SENSORS = 16
SECONDS = float(os.environ.get("LOAD_SECONDS", "10"))
OWN = shipped_profiles()[0]


@pytest.mark.timeout(120 + 2 * SECONDS)
def test_sixteen_sensors_stream_without_loss(
    air: Any, benchmark: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    figures = benchmark.pedantic(lambda: asyncio.run(stream(air, SECONDS)), rounds=1)
    benchmark.extra_info.update(figures)
    with capsys.disabled():
        words = ", ".join(f"{name.replace('_', ' ')} {value:g}" for name, value in figures.items())
        print(f"\n{SENSORS} sensors for {SECONDS:g} s: {words}")
    assert figures["lost_samples"] == 0
    assert figures["samples"] >= SENSORS * 200 * SECONDS * 0.98


async def test_sixteen_sensors_lose_nothing_in_the_ordinary_run_either(air: Any, request: Any) -> None:
    if request.config.getoption("--radio", default="bumble") != "bumble":
        pytest.skip("a load figure; the guest is emulated")
    figures = await stream(air, 3.0)
    assert figures["lost_samples"] == 0
    assert figures["samples"] > SENSORS * 200 * 2.5


async def stream(air: Any, seconds: float) -> dict[str, float]:
    """Stream for a while; samples, losses, share of one core, latency in ms."""
    sent_s: dict[tuple[int, int], float] = {}
    async with air() as there, AsyncExitStack() as stack:
        sensors: list[SimulatedSensor] = []
        for n in range(SENSORS):
            trace = make_trace(samples=4000, rate_hz=200.0, seed=n)
            sensor, _ = await stack.enter_async_context(
                there.sensor(trace, name=f"Bar sensor {n}", samples_per_packet=20)
            )
            note_sending(sensor, n, sent_s)
            sensors.append(sensor)
        held = [await stack.enter_async_context(there.link(sensor.address, OWN)) for sensor in sensors]
        for one in held:
            await one.until_state(LinkState.STREAMING)
        cpu_before_s, began_s = time.process_time(), time.monotonic()
        await asyncio.sleep(seconds)
        cpu_s, took_s = time.process_time() - cpu_before_s, time.monotonic() - began_s
        latency_ms = [
            1000.0 * (block.host_time_s[0] - sent_s[n, int(block.seq[0])])
            for n, one in enumerate(held)
            for block in one.blocks
        ]
        p50, p90, p99, worst = np.percentile(latency_ms, [50, 90, 99, 100])
        return {
            "samples": sum(one.samples for one in held),
            "lost_samples": sum(one.link.statistics.lost_samples for one in held),
            "share_of_a_core": round(cpu_s / took_s, 3),
            "latency_p50_ms": round(float(p50), 2),
            "latency_p90_ms": round(float(p90), 2),
            "latency_p99_ms": round(float(p99), 2),
            "latency_worst_ms": round(float(worst), 2),
        }


def note_sending(sensor: SimulatedSensor, number: int, sent_s: dict[tuple[int, int], float]) -> None:
    """Note when each packet is given to the radio, by its counter."""
    pass_on = sensor.queue.pass_on

    def noted(packets: list[tuple[str, bytes]]) -> list[tuple[str, bytes]]:
        for _, payload in packets:
            sent_s[number, int.from_bytes(payload[:4], "little")] = time.monotonic()
        return pass_on(packets)

    sensor.queue.pass_on = noted  # type: ignore[method-assign]
