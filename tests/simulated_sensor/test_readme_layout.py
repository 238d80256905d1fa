"""The GATT layout that README.md gives to those who write firmware is the one that is sent and read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

pytest.importorskip("bumble")

from drivers.profile import BATTERY_LEVEL, full_uuid, shipped_profiles
from simulated_sensor.gatt import GattTable
from simulated_sensor.peripheral import SensorSettings

OWN = shipped_profiles()[0]
README = Path(__file__).parents[2] / "README.md"
LAYOUT = (
    README.read_text(encoding="utf-8").partition("### The sensor's GATT layout")[2].partition("\n### ")[0]
)
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in LAYOUT.splitlines()
    if line.startswith("|")
]


def row(first: str) -> list[str]:
    return next(cells for cells in ROWS if cells[0].startswith(first))


def test_services_and_characteristics_are_those_of_the_table() -> None:
    table = GattTable(SensorSettings(), lambda: None)
    offered = {
        full_uuid(uuid.to_hex_str("-"))
        for service in table.services
        for uuid in (service.uuid, *(one.uuid for one in service.characteristics))
    }
    written = {full_uuid(text) for text in re.findall(r"[0-9a-f]{8}-[0-9a-f-]{27}|0x[0-9A-F]{4}", LAYOUT)}
    assert offered == written
    assert BATTERY_LEVEL in written
    assert row("stream")[1].strip("`") == OWN.streams[0].characteristic
    assert row("service")[1].strip("`") == OWN.match_service


def test_the_bytes_of_a_notification_are_where_the_table_says() -> None:
    (stream,) = OWN.streams
    counter, acceleration, rotation, more = (row(first) for first in ("0-3", "4-5", "10-11", "16-27"))
    assert (counter[1], stream.header.fields["counter"]) == ("`uint32`", (stream.header["counter"], 0))
    assert stream.header.itemsize == 4
    assert stream.header["counter"].str == "<u4"
    for cells, axes in ((acceleration, "acc"), (rotation, "gyr")):
        said = [tuple(map(int, place.split("-"))) for place in cells[0].split(", ")]
        fields = [stream.sample.fields[f"{axes}_{axis}"] for axis in "xyz"]
        assert said == [(4 + offset, 4 + offset + 1) for _, offset in fields]
        assert {kind.str for kind, _ in fields} == {"<i2"}
    assert more[0].startswith("16-27, 28-39")
    assert stream.sample.itemsize == 12
    assert f"1/{1 / (OWN.acceleration.factor / 9.80665):.0f} g, ±16 g" in acceleration[2]
    assert "1/16.384 deg/s, ±2000 deg/s" in rotation[2]
