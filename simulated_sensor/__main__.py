"""`python -m simulated_sensor`: sensors in software, on a virtual radio or on the air."""

from __future__ import annotations

import asyncio
import contextlib
from pathlib import Path
from typing import Annotated

import numpy as np
import typer
from rich.console import Console

from drivers.clock import ClockError
from drivers.profile import SensorProfile, shipped_profiles
from drivers.profile_file import load_profile
from drivers.recording import RecordingError
from drivers.toml_table import ProfileError
from simulated_sensor.imu_errors import (
    SensorErrors,
    bench_calibrated_sensor,
    ideal_sensor,
    uncalibrated_sensor,
)
from simulated_sensor.lifts import TYPICAL_RANGE_M, typical_set
from simulated_sensor.link_faults import FaultRates
from simulated_sensor.peripheral import SensorSettings, SimulatedSensor
from simulated_sensor.serve import ServeError, on_controllers, on_virtual_radio, usual_profile
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace
from simulated_sensor.trace_file import load_trace

app = typer.Typer(add_completion=False)
out, err = Console(), Console(stderr=True)
_SLOWER_EACH_REP = 0.03


@app.command()
def main(
    file: Annotated[
        Path | None,
        typer.Option(help="Play this recording (.csv, .parquet) or trace (.npz) instead of a lift."),
    ] = None,
    lift: Annotated[str, typer.Option(help="Lift to perform, over and over.")] = "back squat",
    speed: Annotated[float, typer.Option(help="Mean speed of the first rep, m/s.", min=0.1, max=3.0)] = 0.7,
    reps: Annotated[int, typer.Option(help="Reps in a set; each is 3 % slower.", min=1, max=20)] = 5,
    sets: Annotated[int, typer.Option(help="Sets, with 20 s between them.", min=1, max=20)] = 3,
    errors: Annotated[
        str, typer.Option(help="Sensor errors: none, calibrated or uncalibrated.")
    ] = "calibrated",
    seed: Annotated[int, typer.Option(help="The same seed gives the same samples.")] = 1,
    sensors: Annotated[int, typer.Option(help="How many sensors.", min=1, max=64)] = 1,
    name: Annotated[str, typer.Option(help="Advertised name; a number is added.")] = "Bar sensor",
    profile: Annotated[
        Path | None, typer.Option(help="Be the sensor of this profile (.toml) instead of the project's own.")
    ] = None,
    packet: Annotated[int, typer.Option(help="Samples in a notification (20 at most).", min=1, max=20)] = 10,
    battery: Annotated[int, typer.Option(help="Battery level, percent.", min=0, max=100)] = 87,
    drop: Annotated[float, typer.Option(help="Share of notifications that are lost.", min=0, max=1)] = 0.0,
    double: Annotated[float, typer.Option(help="Share that are sent twice.", min=0, max=1)] = 0.0,
    swap: Annotated[float, typer.Option(help="Share that come after the following one.", min=0, max=1)] = 0.0,
    truncate: Annotated[float, typer.Option(help="Share that are cut short.", min=0, max=1)] = 0.0,
    corrupt: Annotated[float, typer.Option(help="Share with wrong bytes.", min=0, max=1)] = 0.0,
    transport: Annotated[
        list[str] | None,
        typer.Option(
            help="Go on the air through this HCI controller instead of a virtual radio: usb:0, "
            "serial:/dev/ttyACM0,1000000, tcp-client:HOST:PORT. Once for each sensor."
        ),
    ] = None,
    port: Annotated[
        int, typer.Option(help="TCP port of the virtual radio on this machine; 0: a free one.")
    ] = 0,
) -> None:
    """Put simulated bar sensors on a radio until Ctrl-C is pressed.

    Without --transport the radio is a virtual one: the command prints the transport by which a station on this
    machine reaches it. Nothing is opened to the network. With --transport the sensors are on the air, and any station
    with a Bluetooth adapter finds them.

    A sensor begins to lift when a station subscribes to it.
    """
    try:
        traces = (
            [load_trace(file)] * sensors
            if file
            else [_lifting(lift, speed, reps, sets, errors, seed + n) for n in range(sensors)]
        )
        usual = usual_profile(file, traces[0]) if file else shipped_profiles()[0]
        shape = load_profile(profile) if profile else usual
        rates = FaultRates(drop, double, swap, truncate, corrupt)
        made = [
            _sensor(trace, f"{name} {n + 1}", n, shape, packet, battery, rates)
            for n, trace in enumerate(traces)
        ]
        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(_serve(made, transport or [], port))
    except (RecordingError, ClockError, ProfileError, ServeError, ValueError, OSError) as error:
        err.print(str(error), markup=False, highlight=False, soft_wrap=True)
        raise typer.Exit(2) from error


def _lifting(lift: str, speed: float, reps: int, sets: int, errors: str, seed: int) -> SensorTrace:
    if lift not in TYPICAL_RANGE_M:
        raise ValueError(f"There is no lift '{lift}' here; there are: {', '.join(TYPICAL_RANGE_M)}.")
    rng = np.random.default_rng(seed)
    kinds = {"none": ideal_sensor, "calibrated": bench_calibrated_sensor, "uncalibrated": uncalibrated_sensor}
    if errors not in kinds:
        raise ValueError(f"Sensor errors are one of {', '.join(kinds)}, not '{errors}'.")
    sensor: SensorErrors = ideal_sensor() if errors == "none" else kinds[errors](rng)  # type: ignore[operator]
    speeds = [speed * (1.0 - _SLOWER_EACH_REP * rep) for rep in range(reps)]
    return make_session_trace([typical_set(lift, speeds, rng) for _ in range(sets)], seed=seed, sensor=sensor)


def _sensor(
    trace: SensorTrace,
    name: str,
    number: int,
    profile: SensorProfile,
    packet: int,
    battery: int,
    rates: FaultRates,
) -> SimulatedSensor:
    settings = SensorSettings(
        name=name,
        serial=f"SIM-{number + 1:04}",
        battery_percent=battery,
        samples_per_packet=packet,
        profile=profile,
    )
    sensor = SimulatedSensor(trace, settings)
    sensor.queue.rates = rates
    return sensor


async def _serve(sensors: list[SimulatedSensor], transports: list[str], port: int) -> None:
    if transports:
        async with on_controllers(sensors, transports):
            await _say_and_wait(sensors, "on the air")
    else:
        async with on_virtual_radio(sensors, port) as (transport, _):
            await _say_and_wait(sensors, f"a station on this machine reaches it by: {transport}")


async def _say_and_wait(sensors: list[SimulatedSensor], where: str) -> None:
    out.print(where, markup=False, highlight=False, soft_wrap=True)
    for sensor in sensors:
        reps = len(sensor.trace.truth)
        out.print(
            f"{sensor.address}  {sensor.settings.name}  {reps} reps",
            markup=False,
            highlight=False,
            soft_wrap=True,
        )
    await asyncio.Event().wait()


if __name__ == "__main__":
    app()
