"""`calibrate`, `compare` and `remeasure`: what a club does so that its figures can be trusted."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

import typer

from station.commands.fail import clear_failures
from station.commands.options import DataOption


def calibrate_command(
    sensor: Annotated[str, typer.Argument(help="Name or address of the sensor, as 'sensors' lists it.")],
    latitude: Annotated[
        float | None,
        typer.Option(
            help="Latitude of the weight room in degrees; without it, standard gravity.", min=-90, max=90
        ),
    ] = None,
    height: Annotated[
        float, typer.Option(help="Its height above the sea, m; counts with --latitude.", min=-500, max=9000)
    ] = 0.0,
    seconds: Annotated[float, typer.Option(help="Give up after so many seconds.", min=10)] = 300.0,
    profile: Annotated[
        Path | None, typer.Option("--profile", help="A sensor profile (TOML) of your own.")
    ] = None,
    data: DataOption = None,
    radio: Annotated[
        str | None,
        typer.Option("--radio", help="Radio other than this machine's Bluetooth, as for 'sensors'."),
    ] = None,
) -> None:
    """Calibrate a sensor: lay it on each of its six faces, then lean it six ways, two seconds each.

    The command draws what is seen and tells what is still missing: the faces, then the sensor standing on an edge,
    leaning halfway on a wall or a book between its x and y, x and z, y and z faces, each also turned over.
    Bias, scale and cross-axis errors of its accelerometer are found by least squares against local gravity and kept
    with the sensor; racks use them from their next start. A run that cannot tell them all, or is not believable, is
    refused with the reason, and what was kept before stays.
    """
    from station.commands.calibration_run import run_calibration
    from station.motion.calibration import normal_gravity_m_s2
    from station.motion.parameters import STANDARD_GRAVITY_M_S2

    gravity = STANDARD_GRAVITY_M_S2 if latitude is None else normal_gravity_m_s2(latitude, height)
    run_calibration(sensor, gravity, seconds, profile, data, radio)


def compare_command(
    reps: Annotated[Path, typer.Argument(help="Our repetitions, as 'replay --format jsonl' writes them.")],
    reference: Annotated[
        Path,
        typer.Argument(
            help="The reference device's table (CSV): mean_velocity_m_s, and number or time_s of each repetition; "
            "optional file, day, athlete_id, lift, load_kg."
        ),
    ],
    plot: Annotated[Path, typer.Option(help="Where the plot goes (PNG).")] = Path("agreement.png"),
) -> None:
    """Compare our repetitions with those of a reference device, such as a calibrated transducer on the same bar.

    Repetitions are matched by number within a file, or by time. Printed are bias, standard deviation, limits of
    agreement and the smallest detectable change beside the published criterion; where athletes were measured at one
    load on several days, the typical error from day to day of either device as well.
    """
    from station.commands.compare_run import run_compare

    run_compare(reps, reference, plot)


def remeasure_command(
    rack: Annotated[str, typer.Option("--rack", help="Whose record.")] = "rack 1",
    first: Annotated[datetime | None, typer.Option("--from", formats=["%Y-%m-%d"], help="First day.")] = None,
    last: Annotated[datetime | None, typer.Option("--to", formats=["%Y-%m-%d"], help="Last day.")] = None,
    output: Annotated[
        Literal["table", "jsonl"], typer.Option("--format", help="How lines are written.")
    ] = "table",
    data: DataOption = None,
) -> None:
    """Measure a record's kept raw samples again with today's engine, on all cores; old beside new.

    Each set and each jump is measured with the calibration, range and usual range of motion that were kept with it.
    Nothing is written: the record stays as it was measured.
    """
    from station.commands.remeasure_run import run_remeasure

    with clear_failures():
        run_remeasure(
            data,
            rack,
            first.date() if first else None,
            last.date() if last else None,
            as_json=output == "jsonl",
        )


def register(app: typer.Typer) -> None:
    """Make the commands of the app."""
    app.command("calibrate")(calibrate_command)
    app.command("compare")(compare_command)
    app.command("remeasure")(remeasure_command)
