"""Bonds where a sensor wants them, text from the air that stays text, and no door that was not asked for."""

from __future__ import annotations

import socket
from typing import Any

import pytest

from drivers.link_events import LinkState
from drivers.profile import shipped_profiles
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
