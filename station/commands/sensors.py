"""`sensors`: the sensors in range, whose they are, what they send, and how their links do."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from station.commands.fail import clear_failures, fail
from station.commands.folders import data_root
from station.commands.on_the_radio import known_profiles, run_on_the_radio, sensor_book
from station.commands.options import DataOption, RadioOption

app = typer.Typer(
    name="sensors",
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
ProfileOption = Annotated[
    Path | None,
    typer.Option("--profile", help="A sensor profile (TOML) of your own, known besides the shipped ones."),
]
SecondsOption = Annotated[
    float | None, typer.Option("--seconds", help="End after so long, s; else at Ctrl-C.", min=1, max=86_400)
]


class LogFormat(StrEnum):
    """How diagnostics are printed."""

    JSONL = "jsonl"
    TABLE = "table"


@app.callback()
def sensors(
    context: typer.Context,
    seconds: SecondsOption = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Also devices without a known profile, to find an unknown sensor.")
    ] = False,
    profile: ProfileOption = None,
    data: DataOption = None,
    radio: RadioOption = None,
) -> None:
    """Show the sensors in range, and refresh until Ctrl-C is pressed.

    Each line has name, profile, signal strength, battery level and the rack the sensor belongs to. The battery is
    what the sensor advertises, else the level last read and how long ago that was. A sensor that a rack is using is
    not on the air for others: it is listed without a signal. Where the output is no terminal the list is printed
    once, after five seconds.

    The commands below claim a sensor for a rack, check a profile, listen to an unknown sensor, tell how links do, and
    record.
    """
    if context.invoked_subcommand is not None:
        return
    from station.commands.sensors_list import show_sensors

    with clear_failures():
        run_on_the_radio(
            show_sensors(radio, sensor_book(data), known_profiles(profile), seconds, everything=everything)
        )


@app.command()
def profile(
    file: Annotated[Path, typer.Argument(help="A sensor profile (TOML).")],
) -> None:
    """Check a sensor profile and say in words what it will read.

    A profile that does not make sense is refused with the line that is wrong.
    """
    from drivers.profile_file import load_profile

    with clear_failures():
        typer.echo(load_profile(file).describe())


@app.command()
def sniff(
    address: Annotated[str, typer.Argument(help="Address of the sensor, as 'sensors --all' lists it.")],
    seconds: SecondsOption = None,
    radio: RadioOption = None,
) -> None:
    """Show what an unknown sensor offers and sends, so that a profile can be written for it.

    First its services and characteristics, then every notification as it comes: time, characteristic, length, rate
    over the last second, and the bytes in hexadecimal. Nothing is written to the sensor.
    """
    from station.commands.sensors_live import sniff_live

    with clear_failures():
        run_on_the_radio(sniff_live(radio, address, seconds))


@app.command()
def claim(
    sensor: Annotated[
        str | None,
        typer.Argument(help="Name or address; without it, the sensor that moves now: lift the bar."),
    ] = None,
    rack: Annotated[str, typer.Option("--rack", help="The rack it will belong to.")] = "rack 1",
    take_over: Annotated[
        bool, typer.Option("--take-over", help="Also take a sensor that belongs to another rack.")
    ] = False,
    profile: ProfileOption = None,
    data: DataOption = None,
    radio: RadioOption = None,
) -> None:
    """Give a sensor to a rack: the one that moves now, or one by its name or address.

    A rack that is running takes its new sensor up within seconds. A sensor that belongs to another rack is refused
    unless --take-over is given; that rack is named.
    """
    from station.commands.sensors_claim import claim_sensor

    with clear_failures():
        run_on_the_radio(
            claim_sensor(radio, sensor_book(data), known_profiles(profile), rack, sensor, take_over=take_over)
        )


@app.command()
def log(
    sensor: Annotated[
        list[str] | None,
        typer.Argument(help="Names or addresses to connect to; without any, what the racks have written."),
    ] = None,
    output: Annotated[
        LogFormat, typer.Option("--format", help="jsonl: one object a line; table: for reading.")
    ] = LogFormat.TABLE,
    seconds: SecondsOption = None,
    profile: ProfileOption = None,
    data: DataOption = None,
    radio: RadioOption = None,
) -> None:
    """Tell the truth about links: received, lost, duplicate, reordered, malformed, rate, jitter, signal, battery.

    Without a sensor it reads what the racks of this machine have written about theirs: the newest report of each as
    a table that refreshes until Ctrl-C, or all lines as JSON. With sensors it connects to them, and reports once a
    second until Ctrl-C. 'received' and the other counts begin when the link does.
    """
    from station.commands.sensors_log import log_live, racks_logs

    with clear_failures():
        if sensor:
            run_on_the_radio(
                log_live(radio, known_profiles(profile), sensor, seconds, as_json=output is LogFormat.JSONL)
            )
        else:
            try:
                racks_logs(data_root(data), seconds, as_json=output is LogFormat.JSONL)
            except KeyboardInterrupt:
                return


@app.command()
def record(
    file: Annotated[Path, typer.Argument(help="The recording to write: .csv or .parquet.")],
    sensor: Annotated[
        str | None, typer.Option(help="Name or address; without it, the only sensor in range.")
    ] = None,
    seconds: SecondsOption = None,
    profile: ProfileOption = None,
    radio: RadioOption = None,
) -> None:
    """Record what a sensor sends, until Ctrl-C is pressed.

    The file holds every sample as it arrived, with its counter, so that what was lost shows. 'replay' measures it,
    and 'demo --recording' or 'python -m simulated_sensor --file' plays it back over a radio number by number.
    """
    from station.commands.sensors_live import record_live

    with clear_failures():
        if file.suffix.lower() not in (".csv", ".parquet"):
            fail(f"{file}: a recording is a .csv or a .parquet file")
        if file.exists():
            fail(f"{file} is there already; name another file, or move it away")
        run_on_the_radio(record_live(radio, known_profiles(profile), sensor, file, seconds))


def register(app_: typer.Typer) -> None:
    """Make `sensors` a command of the app."""
    app_.add_typer(app)
