"""A link holds on to its sensor: every sample comes through, and whatever goes wrong is said and mended."""

from __future__ import annotations

import asyncio
import dataclasses
from contextlib import AsyncExitStack
from typing import Any

import numpy as np
import pytest

from drivers.link import LONGEST_RETRY_S, retry_delay_s
from drivers.link_events import BatteryRead, LinkState
from drivers.profile import SensorProfile, shipped_profiles
from drivers.radio import Radio
from drivers.scan import scan
from simulated_sensor.link_faults import FaultRates
from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource
from tests.radio.conftest import PATIENCE_S, make_trace

OWN = shipped_profiles()[0]


def named(name: str) -> SensorProfile:
    return next(profile for profile in shipped_profiles() if profile.name == name)


async def test_every_sample_comes_through_unchanged(air: Any) -> None:
    trace = make_trace()
    async with air() as there, there.linked(trace) as (held, _, _):
        await held.until_samples(400)
        n = held.samples
        assert held.seq.tolist() == list(range(n))
        assert np.allclose(
            np.concatenate([b.acc_m_s2 for b in held.blocks]), trace.acc_m_s2[:n], rtol=0, atol=1e-9
        )
        gyr = np.concatenate([b.gyr_rad_s for b in held.blocks if b.gyr_rad_s is not None])
        assert trace.gyr_rad_s is not None
        assert np.allclose(gyr, trace.gyr_rad_s[:n], rtol=0, atol=1e-9)
        statistics = held.link.statistics
        assert (statistics.lost_samples, statistics.malformed, statistics.samples) == (0, 0, n)


async def test_the_states_come_in_order_and_the_last_is_closed(air: Any) -> None:
    async with air() as there, there.linked() as (held, _, _):
        await held.until_samples(20)
    assert held.states() == [
        LinkState.SCANNING,
        LinkState.CONNECTING,
        LinkState.NEGOTIATING,
        LinkState.SUBSCRIBING,
        LinkState.STREAMING,
        LinkState.CLOSED,
    ]


async def test_a_full_packet_of_twenty_samples_is_one_notification(air: Any) -> None:
    # 20 samples of 12 bytes and a counter are 244 bytes: an ATT MTU of 247 less 3 (Bluetooth Core, Vol 3, Part F).
    async with air() as there, there.linked(samples_per_packet=20) as (held, _, _):
        await held.until_samples(200)
        assert {len(block) for block in held.blocks[2:]} == {20}


async def test_scanning_lists_the_sensor_with_name_profile_and_signal(air: Any) -> None:
    async with air() as there, there.sensor(name="Bar sensor 7") as (sensor, controller):
        controller.signal_dbm = -71
        found = await scan(there.radio, 10.0, stop_when=lambda heard: bool(heard[0].name))
        assert [(one.address, one.name, one.profile, one.signal_dbm) for one in found] == [
            (sensor.address, "Bar sensor 7", OWN, -71)
        ]


async def test_foreign_devices_are_left_out(air: Any) -> None:
    foreign = dataclasses.replace(OWN, name="foreign", match_service=None)
    async with (
        air() as there,
        there.sensor(name="Headphones", profile=foreign),
        there.sensor() as (sensor, _),
    ):
        heard = await scan(there.radio, 10.0, foreign=True, stop_when=lambda heard: len(heard) == 2)
        assert {one.address for one in heard} > {sensor.address}
        assert [one.address for one in await scan(there.radio, 1.0)] == [sensor.address]


async def test_closing_lets_the_sensor_go(air: Any) -> None:
    async with air() as there, there.sensor() as (sensor, _):
        for _ in range(2):
            async with there.link(sensor.address, OWN) as held:
                await held.until_samples(20)
            async with asyncio.timeout(PATIENCE_S):
                while sensor._device.connections:
                    await asyncio.sleep(0.02)  # the other end hears of it a moment later


def test_the_first_retry_comes_at_once_and_none_is_far_off() -> None:
    delays_s = [retry_delay_s(attempts) for attempts in range(2000)]
    assert delays_s[0] < 0.5
    assert delays_s == sorted(delays_s)
    assert delays_s[-1] == LONGEST_RETRY_S


async def test_two_sensors_stream_side_by_side(air: Any) -> None:
    async with (
        air() as there,
        there.linked() as (one, _, _),
        there.linked(name="Bar sensor 2") as (two, _, _),
    ):
        await two.until_samples(200)
        assert one.link.statistics.lost_samples == two.link.statistics.lost_samples == 0
        assert one.samples > two.samples


async def test_a_low_battery_is_said_at_once(air: Any) -> None:
    async with air() as there, there.linked(battery_percent=12) as (held, _, _):
        (battery,) = [event for event in held.events if isinstance(event, BatteryRead)]
        assert battery.percent == 12
        assert battery.low
        assert "Charge it before the session" in battery.words


async def test_a_sensor_that_leaves_and_comes_back_is_taken_up_again(air: Any) -> None:
    async with air() as there, there.linked() as (held, _, controller):
        await held.until_samples(100)
        since = len(held.events)
        there.virtual.link.move_out_of_range(controller)
        await held.until_state(LinkState.LOST, since)
        assert "lost" in held.words(LinkState.LOST)
        there.virtual.link.move_into_range(controller)
        await held.until_state(LinkState.STREAMING, since)
        await held.until_samples(100)
        assert np.all(np.diff(held.seq) > 0)
        statistics = held.link.statistics
        assert statistics.lost_samples > 0
        assert held.seq[-1] + 1 - held.seq[0] == statistics.samples + statistics.lost_samples
        assert (await held.next_report()).reconnects == 1


async def test_a_sensor_that_is_not_there_is_said_to_be_out_of_range(air: Any) -> None:
    async with air() as there, there.link("C4:00:00:00:00:01", OWN) as held:
        await held.until_state(LinkState.WAITING)
        assert "not in range" in held.words(LinkState.LOST)


async def test_silence_on_a_standing_link_is_a_stall(air: Any) -> None:
    async with air() as there, there.linked() as (held, sensor, _):
        await held.until_samples(50)
        since = len(held.events)
        sensor.queue.rates = FaultRates(silent=True)
        await held.until_state(LinkState.STALLED, since)
        assert "sends nothing" in held.words(LinkState.STALLED)
        sensor.queue.rates = FaultRates()
        await held.until_state(LinkState.STREAMING, since)
        assert LinkState.LOST not in held.states()
        assert held.link.statistics.lost_samples > 0


@pytest.mark.parametrize("service", [OWN.match_service, "0000fff0-0000-1000-8000-00805f9b34fb"])
async def test_a_sensor_without_the_profile_s_stream_or_service_is_refused_in_words(
    air: Any, service: str
) -> None:
    other = dataclasses.replace(OWN, match_service=service, streams=named("micro:bit").streams, rotation=None)
    async with (
        air() as there,
        there.sensor(profile=other) as (sensor, _),
        there.link(sensor.address, OWN) as held,
    ):
        await held.until_state(LinkState.LOST)
        assert "does not offer the stream that the profile 'Bar sensor' reads" in held.words(LinkState.LOST)


async def test_broken_packets_are_counted_and_the_rest_is_used(air: Any) -> None:
    async with air() as there, there.linked() as (held, sensor, _):
        sensor.queue.rates = FaultRates(drop=0.1, double=0.1, truncate=0.1)
        await held.until_samples(600)
        count, statistics = sensor.queue.count, held.link.statistics
        assert statistics.malformed == pytest.approx(count.truncated, abs=2)
        assert statistics.duplicates == pytest.approx(count.doubled, abs=2)
        assert statistics.lost_samples > 0
        assert held.seq[-1] + 1 - held.seq[0] == statistics.samples + statistics.lost_samples


async def test_a_sensor_that_restarts_its_counter_goes_on(air: Any) -> None:
    async with air() as there, there.linked() as (held, sensor, _):
        await held.until_samples(300)
        sensor.restart_counter()
        await held.until_samples(300)
        assert held.link.statistics.restarts == 1
        assert np.all(np.diff(held.seq) > 0)


async def test_settings_are_written_before_the_stream_starts(air: Any) -> None:
    thingy = named("Thingy:52")
    async with air() as there, there.linked(name="Thingy 1", profile=thingy) as (held, sensor, _):
        assert sensor.written == {thingy.start[0].characteristic: thingy.start[0].data}
        await held.until_samples(100)
        assert held.link.statistics.inferred


async def test_a_killed_and_restarted_sensor_process_is_taken_up_again(air: Any) -> None:
    source = (SensorSource("", address="C4:11:22:33:44:55"), make_trace())
    async with air() as there:
        port = await there.virtual.open_port("sensor")
        first = SensorProcess([source], [port])
        async with AsyncExitStack() as stack:
            stack.callback(first.kill)
            await asyncio.to_thread(first.start)
            held = await stack.enter_async_context(there.link("C4:11:22:33:44:55", OWN))
            await held.until_samples(100)
            since = len(held.events)
            await asyncio.to_thread(first.kill)
            await held.until_state(LinkState.LOST, since)
            second = SensorProcess([source], [port])
            await asyncio.to_thread(second.start)
            try:
                await held.until_state(LinkState.STREAMING, since)
                await held.until_samples(100)
                assert np.all(np.diff(held.seq) > 0)
                assert held.link.statistics.restarts == 1
            finally:
                await asyncio.to_thread(second.stop)


async def test_a_connection_that_is_refused_is_tried_again_until_it_stands(air: Any) -> None:
    async with air() as there, there.sensor() as (sensor, _):
        there.virtual.link.refuse_connections = True
        async with there.link(sensor.address, OWN) as held:
            await held.until_state(LinkState.WAITING)
            assert "was heard but cannot be connected to" in held.words(LinkState.LOST)
            there.virtual.link.refuse_connections = False
            await held.until_samples(50)


async def test_whatever_a_radio_stack_throws_the_link_goes_on(
    air: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with air() as there, there.sensor() as (sensor, _):
        client, thrown = there.radio.client, []

        def failing(*arguments: Any, **named: Any) -> Any:
            if not thrown:
                thrown.append(EOFError())  # as when the system's Bluetooth service is restarted
                raise thrown[0]
            return client(*arguments, **named)

        monkeypatch.setattr(there.radio, "client", failing)
        async with there.link(sensor.address, OWN) as held:
            await held.until_samples(50)
        assert held.states()[2:4] == [LinkState.LOST, LinkState.WAITING]
        assert "failed: EOFError" in held.words(LinkState.LOST)


async def test_a_sensor_held_by_another_station_is_not_heard_until_it_is_let_go(air: Any) -> None:
    async with air() as there, there.sensor() as (sensor, _):
        other = await there.virtual.open_port("other station")
        async with Radio(other) as radio, there.link(sensor.address, OWN, radio=radio) as theirs:
            await theirs.until_samples(20)
            async with there.link(sensor.address, OWN) as held:
                await held.until_state(LinkState.WAITING)
                assert "not in range" in held.words(LinkState.LOST)
                await theirs.link.close()
                await held.until_samples(20)


async def test_fifty_foreign_devices_around_it_do_no_harm(air: Any) -> None:
    foreign = dataclasses.replace(OWN, match_service="0000fff0-0000-1000-8000-00805f9b34fb")
    async with air() as there, AsyncExitStack() as stack:
        crowd = 50 if there.kind == "bumble" else 10
        for n in range(crowd):
            await stack.enter_async_context(there.sensor(make_trace(20), name=f"Phone {n}", profile=foreign))
        held, _, _ = await stack.enter_async_context(there.linked())
        await held.until_samples(200)
        assert held.link.statistics.lost_samples == 0


async def test_a_sensor_that_floods_at_ten_times_its_rate_is_followed(air: Any) -> None:
    async with (
        air() as there,
        there.linked(make_trace(20_000), speed=10.0, samples_per_packet=20) as (held, _, _),
    ):
        await held.until_samples(6000)
        statistics = held.link.statistics
        assert statistics.malformed == statistics.restarts == 0
        assert statistics.lost_samples == 0 or there.kind != "bumble"  # the guest is emulated
        assert np.all(np.diff(held.seq) > 0)


async def test_a_connection_that_breaks_right_after_it_was_made_is_made_again(air: Any) -> None:
    async with (
        air() as there,
        there.sensor() as (sensor, controller),
        there.link(sensor.address, OWN) as held,
    ):
        await held.until_state(LinkState.CONNECTING)  # discovery is next
        there.virtual.link.move_out_of_range(controller)
        await held.until_state(LinkState.LOST)
        there.virtual.link.move_into_range(controller)
        await held.until_samples(50)
