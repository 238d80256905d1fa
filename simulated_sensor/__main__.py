"""`python -m simulated_sensor`: sensors in software, on a virtual radio or on the air."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import typer
from rich.console import Console

from drivers.clock import ClockError
from drivers.profile import SensorProfile, shipped_profiles
from drivers.profile_file import load_profile
from drivers.recording import RecordingError
from drivers.toml_table import ProfileError
from simulated_sensor import options
from simulated_sensor.club import VELOCITY_AT_1RM_M_S
from simulated_sensor.imu_errors import bench_calibrated_sensor, ideal_sensor, uncalibrated_sensor
from simulated_sensor.link_faults import FaultRates
from simulated_sensor.options import Bond, Errors
from simulated_sensor.peripheral import SensorSettings, SimulatedSensor
from simulated_sensor.planned_set import TYPICAL_RANGE_M, typical_set
from simulated_sensor.serve import ServeError, on_controllers, on_virtual_radio, usual_profile
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.squads import SPAN_M_S
from simulated_sensor.trace import SensorTrace
from simulated_sensor.trace_file import load_trace

app = typer.Typer(add_completion=False)
out, err = Console(emoji=False), Console(emoji=False, stderr=True)
_SLOWER_EACH_REP = 0.03
_AWAY_S = 2.0
_FOREVER_S = 1e6


@dataclass(frozen=True, slots=True)
class Lifting:
    """A lift that is performed set after set, the first rep at `speed_m_s`."""

    lift: str
    speed_m_s: float
    reps: int
    sets: int
    errors: Errors

    def trace(self, seed: int) -> SensorTrace:
        """What a sensor on the bar measures.

        Raises:
            ValueError: there is no such lift.
        """
        if self.lift not in TYPICAL_RANGE_M:
            raise ValueError(f"There is no lift '{self.lift}' here; there are: {', '.join(TYPICAL_RANGE_M)}.")
        rng = np.random.default_rng(seed)
        match self.errors:
            case Errors.NONE:
                sensor = ideal_sensor()
            case Errors.CALIBRATED:
                sensor = bench_calibrated_sensor(rng)
            case Errors.UNCALIBRATED:
                sensor = uncalibrated_sensor(rng)
        speeds = [self.speed_m_s * (1.0 - _SLOWER_EACH_REP * rep) for rep in range(self.reps)]
        planned = [typical_set(self.lift, speeds, rng) for _ in range(self.sets)]
        return make_session_trace(planned, seed=seed, sensor=sensor)


@app.command()
def main(
    file: options.File = None,
    lift: options.Lift = "back squat",
    load: options.Load = 85.0,
    one_rm: options.OneRm = 120.0,
    speed: options.Speed = None,
    reps: options.Reps = 5,
    sets: options.Sets = 3,
    errors: options.SensorErrors = Errors.CALIBRATED,
    seed: options.Seed = 1,
    sensors: options.Sensors = 1,
    name: options.Name = "Bar sensor",
    profile: options.Profile = None,
    packet: options.Packet = 10,
    battery: options.Battery = 87,
    drop: options.Drop = 0.0,
    double: options.Double = 0.0,
    swap: options.Swap = 0.0,
    delay: options.Delay = 0.0,
    truncate: options.Truncate = 0.0,
    corrupt: options.Corrupt = 0.0,
    noise: options.Noise = 0.0,
    leave_every: options.LeaveEvery = None,
    mtu: options.Mtu = 517,
    bond: options.WantsBond = Bond.NONE,
    private: options.Private = False,
    transport: options.Transport = None,
    port: options.Port = 0,
) -> None:
    """Put simulated bar sensors on a radio until Ctrl-C is pressed.

    Without --transport the radio is a virtual one: the command prints the transport by which a station on this
    machine reaches it. Nothing is opened to the network. With --transport the sensors are on the air, and any station
    with a Bluetooth adapter finds them.

    A sensor begins to lift when a station subscribes to it.
    """
    lifting = Lifting(lift, speed or _speed_m_s(load, one_rm), reps, sets, errors)
    rates = FaultRates(drop, double, swap, delay, truncate, corrupt, noise)
    settings = SensorSettings(
        name=name,
        battery_percent=battery,
        samples_per_packet=packet,
        largest_mtu=mtu,
        bonded_only=bond is Bond.DEMANDED,
        offers_bond=bond is Bond.OFFERED,
        private=private,
    )
    with _clear_failures(), contextlib.suppress(KeyboardInterrupt):
        traces = [load_trace(file)] * sensors if file else [lifting.trace(seed + n) for n in range(sensors)]
        settings = replace(settings, profile=_profile(profile, file, traces[0]))
        made = [_sensor(trace, n + 1, settings, rates) for n, trace in enumerate(traces)]
        asyncio.run(_serve(made, transport or [], port, leave_every))


@contextlib.contextmanager
def _clear_failures() -> Iterator[None]:
    """What a person can mend is said in one line, with exit status 2."""
    try:
        yield
    except (RecordingError, ClockError, ProfileError, ServeError, ValueError, OSError) as error:
        err.print(str(error), markup=False, highlight=False, soft_wrap=True)
        raise typer.Exit(2) from error


def _profile(wanted: Path | None, file: Path | None, trace: SensorTrace) -> SensorProfile:
    if wanted:
        return load_profile(wanted)
    return usual_profile(file, trace) if file else shipped_profiles()[0]


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
