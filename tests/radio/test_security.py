"""Bonds where a sensor wants them, text from the air that stays text, and no door that was not asked for."""

from __future__ import annotations

import os
import socket
from pathlib import Path
from typing import Any

import pytest

from drivers.link_events import AddressLearned, LinkState
from drivers.profile import shipped_profiles
from drivers.radio import Radio
from drivers.scan import scan
from tests.radio.conftest import Air

OWN = shipped_profiles()[0]


def only_bumble(there: Air) -> None:
    if there.kind != "bumble":
        pytest.skip("the simulated controller's encryption is bumble's own")


async def test_a_sensor_that_wants_a_bond_gets_one_with_secure_connections(air: Any) -> None:
    async with air() as there, there.sensor(bonded_only=True) as (sensor, controller):
        only_bumble(there)
        async with there.link(sensor.address, OWN) as held:
            await held.until_samples(100)
            (connection,) = sensor._device.connections.values()
            assert connection.is_encrypted
            assert connection.sc
            since = len(held.events)
            there.virtual.link.move_out_of_range(controller)
            await held.until_state(LinkState.LOST, since)
            there.virtual.link.move_into_range(controller)
            await held.until_samples(100)  # by the same bond
            (connection,) = sensor._device.connections.values()
            assert connection.is_encrypted


async def test_a_sensor_that_offers_a_bond_gets_one(air: Any) -> None:
    async with air() as there:
        only_bumble(there)
        async with there.linked(offers_bond=True) as (held, sensor, _):
            await held.until_samples(200)
            (connection,) = sensor._device.connections.values()
            assert connection.is_encrypted
            assert connection.sc


async def test_a_bonded_sensor_is_known_again_after_its_address_rotated(air: Any, tmp_path: Path) -> None:
    async with air() as there, there.sensor(bonded_only=True, private=True) as (sensor, controller):
        only_bumble(there)
        port, bonds = await there.virtual.open_port("kept"), tmp_path / "bonds.json"
        first = sensor.address
        # The two highest bits of a resolvable private address are 01 (Bluetooth Core, Vol 6, Part B, 1.3.2.2).
        assert int(first[:2], 16) >> 6 == 0b01
        async with Radio(port, bonds=bonds) as radio, there.link(first, OWN, radio) as held:
            await held.until_samples(50)
            (learned,) = [event for event in held.events if isinstance(event, AddressLearned)]
            assert learned.address == held.link.address == str(sensor._device.static_address)
            since = len(held.events)
            there.virtual.link.move_out_of_range(controller)
            await held.until_state(LinkState.LOST, since)
            await sensor.rotate_address()
            assert sensor.address != first
            there.virtual.link.move_into_range(controller)
            await held.until_samples(50)
        await sensor.rotate_address()
        async with Radio(port, bonds=bonds) as radio:  # the program was started anew: it knows its bonds
            (found,) = await scan(radio, 10.0, stop_when=bool)
            assert found.address == learned.address
            async with there.link(learned.address, OWN, radio) as held:
                await held.until_samples(50)
                (connection,) = sensor._device.connections.values()
                assert connection.is_encrypted
        assert bonds.stat().st_mode & 0o077 == 0 or os.name == "nt"


async def test_a_stranger_does_not_recognise_a_private_address(air: Any) -> None:
    async with air() as there, there.sensor(bonded_only=True, private=True) as (sensor, _):
        only_bumble(there)
        (before,) = await scan(there.radio, 10.0, stop_when=bool)
        await sensor.rotate_address()
        after = await scan(there.radio, 1.0)
        assert before.address not in {one.address for one in after}


async def test_a_sensor_that_wants_no_bond_is_read_without(air: Any) -> None:
    async with air() as there, there.linked() as (_, sensor, _):
        (connection,) = sensor._device.connections.values()
        assert not connection.is_encrypted


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("\x1b[2J\x07Bar\r\nsensor", "[2J Bar sensor"),
        ("Bar\u202esensor", "Bar sensor"),
        ("<b>[red]x[/]</b>", "<b>[red]x[/]</b>"),
    ],
    ids=["control characters", "direction override", "markup"],
)
async def test_an_advertised_name_is_one_line_of_printable_text(air: Any, name: str, shown: str) -> None:
    async with air() as there, there.sensor(name=name):
        (sensor,) = await scan(there.radio, 10.0, stop_when=lambda heard: bool(heard[0].name))
    assert sensor.name == shown


async def test_a_station_that_receives_has_opened_no_listener(
    air: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("a listener was opened")

    async with air() as there, there.sensor() as (sensor, _):
        monkeypatch.setattr(socket.socket, "listen", refuse)
        monkeypatch.setattr(socket.socket, "bind", refuse)
        async with there.link(sensor.address, OWN) as held:
            await held.until_samples(20)
        monkeypatch.undo()
