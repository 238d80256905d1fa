"""`python -m simulated_sensor`: sensors in software, on a virtual radio or on the air."""

from __future__ import annotations

import asyncio
import contextlib
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import numpy as np
import typer
from rich.console import Console

from drivers.clock import ClockError
from drivers.profile import shipped_profiles
from drivers.profile_file import load_profile
from drivers.recording import RecordingError
from drivers.toml_table import ProfileError
from simulated_sensor.club import VELOCITY_AT_1RM_M_S
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
from simulated_sensor.squads import SPAN_M_S
from simulated_sensor.trace import SensorTrace
from simulated_sensor.trace_file import load_trace

app = typer.Typer(add_completion=False)
out, err = Console(), Console(stderr=True)
_SLOWER_EACH_REP = 0.03
_AWAY_S = 2.0
_FOREVER_S = 1e6


class Bond(StrEnum):
    """What a sensor wants of a station before it streams."""

    NONE = "none"
    OFFERED = "offered"
    DEMANDED = "demanded"


@app.command()
def main(
    file: Annotated[
        Path | None,
        typer.Option(help="Play this recording (.csv, .parquet) or trace (.npz) instead of a lift."),
    ] = None,
    lift: Annotated[str, typer.Option(help="Lift to perform, over and over.")] = "back squat",
    load: Annotated[float, typer.Option(help="Load on the bar, kg: the heavier, the slower.", min=0)] = 85.0,
    one_rm: Annotated[
        float, typer.Option("--one-rm", help="What the lifter can lift once, kg.", min=1)
    ] = 120.0,
    speed: Annotated[
        float | None,
        typer.Option(help="Mean speed of the first rep, m/s, instead of the load's.", min=0.1, max=3.0),
    ] = None,
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
    delay: Annotated[float, typer.Option(help="Share that are 30 to 150 ms late.", min=0, max=1)] = 0.0,
    truncate: Annotated[float, typer.Option(help="Share that are cut short.", min=0, max=1)] = 0.0,
    corrupt: Annotated[float, typer.Option(help="Share with wrong bytes.", min=0, max=1)] = 0.0,
    noise: Annotated[float, typer.Option(help="Share that are random bytes.", min=0, max=1)] = 0.0,
    leave_every: Annotated[
        float | None,
        typer.Option(help="End the connection this often, s, and be gone for two seconds.", min=5),
    ] = None,
    mtu: Annotated[int, typer.Option(help="Largest ATT MTU to agree to.", min=23, max=517)] = 517,
    bond: Annotated[
        Bond, typer.Option(help="Whether a bond is offered to stations, or demanded.")
    ] = Bond.NONE,
    private: Annotated[
        bool, typer.Option("--private", help="Use a private address that only a bond resolves.")
    ] = False,
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
            else [
                _lifting(lift, speed or _speed_m_s(load, one_rm), reps, sets, errors, seed + n)
                for n in range(sensors)
            ]
        )
        usual = usual_profile(file, traces[0]) if file else shipped_profiles()[0]
        shape = load_profile(profile) if profile else usual
        rates = FaultRates(drop, double, swap, delay, truncate, corrupt, noise)
        settings = SensorSettings(
            name=name,
            battery_percent=battery,
            samples_per_packet=packet,
            largest_mtu=mtu,
            bonded_only=bond is Bond.DEMANDED,
            offers_bond=bond is Bond.OFFERED,
            private=private,
            profile=shape,
        )
        made = [_sensor(trace, n + 1, settings, rates) for n, trace in enumerate(traces)]
        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(_serve(made, transport or [], port, leave_every))
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


def _speed_m_s(load_kg: float, one_rm_kg: float) -> float:
    """The straight line of an invented lifter, down to the speed of the heaviest single."""
    return VELOCITY_AT_1RM_M_S + SPAN_M_S * max(1.0 - load_kg / one_rm_kg, 0.0)


def _sensor(trace: SensorTrace, number: int, settings: SensorSettings, rates: FaultRates) -> SimulatedSensor:
    own = replace(settings, name=f"{settings.name} {number}", serial=f"SIM-{number:04}")
    sensor = SimulatedSensor(trace, own)
    sensor.queue.rates = rates
    return sensor


async def _serve(
    sensors: list[SimulatedSensor], transports: list[str], port: int, leave_every_s: float | None
) -> None:
    if transports:
        async with on_controllers(sensors, transports):
            await _say_and_stay(sensors, "on the air", leave_every_s)
    else:
        async with on_virtual_radio(sensors, port) as (transport, _):
            await _say_and_stay(
                sensors, f"a station on this machine reaches it by: {transport}", leave_every_s
            )


async def _say_and_stay(sensors: list[SimulatedSensor], where: str, leave_every_s: float | None) -> None:
    out.print(where, markup=False, highlight=False, soft_wrap=True)
    for sensor in sensors:
        reps = len(sensor.trace.truth)
        out.print(
            f"{sensor.address}  {sensor.settings.name}  {reps} reps",
            markup=False,
            highlight=False,
            soft_wrap=True,
        )
    while True:
        await asyncio.sleep(leave_every_s or _FOREVER_S)
        await asyncio.gather(*(sensor.leave(_AWAY_S) for sensor in sensors))


if __name__ == "__main__":
    app()
