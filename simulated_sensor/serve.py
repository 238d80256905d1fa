"""Putting simulated sensors on a radio: the virtual one of this process, or HCI controllers that bumble can open."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from bumble.transport import open_transport
from bumble.transport.common import TransportInitError, TransportSpecError

from drivers.profile import SensorProfile, shipped_profiles
from drivers.profile_file import load_profile, parse_profile
from simulated_sensor.peripheral import SensorSettings, SimulatedSensor
from simulated_sensor.trace import SensorTrace
from simulated_sensor.trace_file import load_trace
from simulated_sensor.virtual_controller import VirtualController
from simulated_sensor.virtual_radio import VirtualRadio


@dataclass(frozen=True, slots=True)
class SensorSource:
    """One simulated sensor: what it streams, and what it is.

    Attributes:
        file: a trace (`.npz`) or a recording (`.csv`, `.parquet`).
        name: advertised name.
        address: static random address, such as `C4:11:22:33:44:55`; empty for a new one.
        serial: serial number in Device Information.
        battery_percent: what the battery level reads.
        samples_per_packet: samples in a notification.
        speed: time runs this much faster; only for trying things.
        profile: path of the profile of the sensor to be; empty for the project's own sensor, or, with a recording,
            for the one that plays back every number as it is.
    """

    file: str
    name: str = "Bar sensor 1"
    address: str = ""
    serial: str = "SIM-0001"
    battery_percent: int = 87
    samples_per_packet: int = 10
    speed: float = 1.0
    profile: str = ""

    def sensor(self) -> SimulatedSensor:
        """The sensor, not yet on the air.

        Raises:
            RecordingError, ClockError, ProfileError, ValueError, OSError: when a file is bad.
        """
        trace = load_trace(Path(self.file))
        settings = SensorSettings(
            name=self.name,
            address=self.address,
            serial=self.serial,
            battery_percent=self.battery_percent,
            samples_per_packet=self.samples_per_packet,
            speed=self.speed,
            profile=load_profile(self.profile) if self.profile else usual_profile(self.file, trace),
        )
        return SimulatedSensor(trace, settings)


def usual_profile(file: str | Path, trace: SensorTrace) -> SensorProfile:
    """The project's own sensor; for a recording the profile that plays it back number by number."""
    if Path(file).suffix == ".npz":
        return shipped_profiles()[0]
    stamped = "" if trace.device_time_s is None else "_stamped"
    name = (
        f"playback{stamped}.toml" if trace.gyr_rad_s is not None else f"playback{stamped}_acceleration.toml"
    )
    return parse_profile((resources.files("drivers.profiles") / name).read_text(encoding="utf-8"), name)


class ServeError(Exception):
    """The sensors cannot be put on the air; the text says why."""


@asynccontextmanager
async def on_virtual_radio(
    sensors: list[SimulatedSensor], port: int = 0
) -> AsyncIterator[tuple[str, VirtualRadio]]:
    """Sensors on a virtual radio of this process; yields the transport that reaches it, and the radio."""
    async with VirtualRadio() as radio:
        transport = await radio.open_port("station", port)
        for sensor in sensors:
            await plug_in(sensor, radio)
        try:
            yield transport, radio
        finally:
            await asyncio.gather(*(sensor.stop() for sensor in sensors), return_exceptions=True)


async def plug_in(sensor: SimulatedSensor, radio: VirtualRadio) -> VirtualController:
    """Give a sensor a controller of its own on a virtual radio, and start it."""
    controller = VirtualController(sensor.settings.name, radio.link)
    await sensor.start(_HostSide(controller), controller)
    return controller


@asynccontextmanager
async def on_controllers(sensors: list[SimulatedSensor], transports: list[str]) -> AsyncIterator[None]:
    """Sensors on HCI controllers, one each: a USB dongle, a serial port, a port of a virtual radio elsewhere.

    Raises:
        ServeError: when there are not enough controllers, or one cannot be opened.
    """
    if len(transports) < len(sensors):
        raise ServeError(f"{len(sensors)} sensors need {len(sensors)} transports; {len(transports)} given.")
    async with AsyncExitStack() as stack:
        for sensor, spec in zip(sensors, transports, strict=False):
            try:
                transport = await open_transport(spec)
            except (OSError, TransportInitError, TransportSpecError, ValueError) as error:
                raise ServeError(f"The controller at {spec} cannot be opened ({error}).") from error
            stack.push_async_callback(transport.close)
            await sensor.start(transport.source, transport.sink)
            stack.push_async_callback(sensor.stop)
        yield


class _HostSide:
    """What a host sees of a controller in the same process: a source of packets."""

    def __init__(self, controller: VirtualController) -> None:
        self._controller = controller

    def set_packet_sink(self, sink: Any) -> None:
        """Give the controller's packets to the host."""
        self._controller.set_packet_sink(sink)
