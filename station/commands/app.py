"""The command line: one sub-command a job. Each imports what it needs when it runs, so that help is quick."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from station import __version__
from station.commands.assess import register as register_assess
from station.commands.athlete_command import app as athlete_app
from station.commands.backup_command import register as register_backup
from station.commands.export_command import register as register_export
from station.commands.fail import clear_failures, fail
from station.commands.forget_pin import register as register_forget_pin
from station.commands.history_command import register as register_history
from station.commands.import_command import register as register_import
from station.commands.options import (
    DataOption,
    DiagonalOption,
    FullScreenOption,
    RackOption,
    RadioOption,
    ThemeOption,
)
from station.commands.print_command import app as print_app
from station.commands.proof import register as register_proof
from station.commands.rack_extras import register as register_rack_extras
from station.commands.replay import register as register_replay
from station.commands.review_command import register as register_review
from station.commands.room_command import register as register_room
from station.commands.sensors import register as register_sensors
from station.commands.share import app as share_app

app = typer.Typer(
    name="station",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help=(
        "A weight-room station that measures bar speed over Bluetooth.\n\n"
        "A sensor on the bar sends its accelerations; the station finds each repetition, shows its speed, sets the "
        "warm-up set beside the athlete's own history at the same load, and suggests a load for today that a coach "
        "accepts, changes or declines.\n\n"
        "Figures support the judgement of qualified staff. They are neither a diagnosis nor a forecast of injury nor "
        "medical clearance; local rules and licensed practice come first."
    ),
)


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"station {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and end.")
    ] = False,
) -> None:
    pass


@app.command()
def demo(
    recording: Annotated[
        Path | None,
        typer.Option(
            help="Play this recorded sensor file (CSV or Parquet) over the virtual radio instead of lifts."
        ),
    ] = None,
    seconds: Annotated[
        float | None,
        typer.Option(
            help="How long a run without a display takes, s; 35, or as long as the recording.",
            min=1,
            max=7200,
        ),
    ] = None,
    headless: Annotated[
        bool, typer.Option("--headless", help="Run without a window even where there is a display.")
    ] = False,
    output: Annotated[
        Path, typer.Option(help="Folder for the picture that a run without a display leaves.")
    ] = Path("demo-output"),
    theme: ThemeOption = "dark",
    diagonal_in: DiagonalOption = 10.0,
) -> None:
    """Run the station with a simulated sensor and an invented squad.

    It is the real program with one thing exchanged: the radio. A simulated sensor in a process of its own
    speaks Bluetooth LE over a virtual radio, and the station scans, connects and subscribes as it would on the
    air. The squad, its history and every lift are made up ("demo data" on the screen); the record is thrown away
    at the end.

    With a display the rack screen opens: touch a tile to switch athlete, watch the set, read the suggestion. Without
    one the same program runs for about half a minute, prints each rep as it is painted, and leaves a picture of
    the rack screen in demo-output/rack.png.
    """
    from station.commands.demo import recording_length_s, run_demo
    from station.commands.rack_program import Look, display_present

    windowed = display_present() and not headless
    with clear_failures():
        if seconds is None:
            seconds = 35.0 if recording is None else recording_length_s(recording) + 6.0
        look = Look(
            theme,
            diagonal_in,
            headless_s=None if windowed else seconds,
            picture=None if windowed else output / "rack.png",
        )
        reps = run_demo(look, recording)
    if not windowed:
        typer.echo(f"{reps} reps painted; the rack screen is in {output / 'rack.png'}")
        if not reps:
            fail("no rep was measured in that time; run longer with --seconds", status=1)


@app.command()
def rack(
    rack: RackOption = "rack 1",
    data: DataOption = None,
    sensor: Annotated[
        str | None,
        typer.Option(
            help="Name or address of the sensor, also when it was another rack's; without it, the one that "
            "belongs to this rack, else the one on its bar once somebody asks for it on the screen."
        ),
    ] = None,
    profile: Annotated[
        Path | None,
        typer.Option(help="A sensor profile (TOML) of your own; the shipped ones are always known."),
    ] = None,
    radio: RadioOption = None,
    full_screen: FullScreenOption = False,
    theme: ThemeOption = "dark",
    diagonal_in: DiagonalOption = 10.0,
    mirror_in: Annotated[
        float | None,
        typer.Option(
            "--mirror",
            min=5,
            max=120,
            help="Diagonal, in inches, of a second display for the athlete's part alone.",
        ),
    ] = None,
) -> None:
    """Open the rack screen with this machine's Bluetooth adapter.

    Clamp the sensor to the bar, switch it on, and start. The station looks for the sensor that belongs to this
    rack, and goes on looking until it is there. A rack that has none yet connects to nothing before you ask: touch
    More, then Sensor, and lift the bar; or name one. Another rack's sensor is never taken unless you name it. Reps
    are kept from the first one on, also before anybody is named.
    """
    from station.commands.rack_command import run_on_radio
    from station.commands.rack_program import Look

    with clear_failures():
        run_on_radio(rack, data, sensor, profile, Look(theme, diagonal_in, full_screen, mirror_in), radio)


@app.command()
def squad(
    file: Annotated[
        Path,
        typer.Argument(
            help="CSV with the columns name, rack; optional: shirt_number, lift, "
            "warmup_load_kg, planned_load_kg, ceiling_kg, target_low_m_s, target_high_m_s, velocity_at_1rm_m_s."
        ),
    ],
    rack: RackOption = "rack 1",
    data: DataOption = None,
    staff: Annotated[
        list[str] | None,
        typer.Option(help="Name of a coach who may sign in at the rack; may be given again."),
    ] = None,
) -> None:
    """Add a squad to a rack's record from a CSV file.

    Every athlete is known at the rack; those whose column 'rack' names it stand as tiles. Bad rows are named by
    line and left out; the others are added.
    """
    from station.commands.rack_command import add_squad

    with clear_failures():
        added, complaints = add_squad(file, rack, data, staff or ())
    for complaint in complaints:
        typer.echo(complaint, err=True)
    typer.echo(f"{added} athletes added, {len(complaints)} rows left out")


@app.command()
def checkin(
    rack: Annotated[
        str, typer.Option("--rack", help="Name of this check-in screen; each has its own record.")
    ] = "check-in",
    data: DataOption = None,
    full_screen: FullScreenOption = False,
    theme: ThemeOption = "dark",
    diagonal_in: DiagonalOption = 10.0,
) -> None:
    """Open a check-in screen: five answers, a word if something hurts or somebody feels ill.

    It knows the roster of this machine's other records (import it at the desk). Earlier answers are never shown.
    Answering is everybody's choice: the first time it asks for consent, and "Not today" is a key of its own.
    """
    from station.commands.checkin_command import run_check_in
    from station.commands.rack_program import Look

    with clear_failures():
        run_check_in(rack, data, Look(theme, diagonal_in, full_screen))


@app.command()
def today(
    data: DataOption = None,
    full_screen: FullScreenOption = False,
    theme: ThemeOption = "light",
    diagonal_in: DiagonalOption = 22.0,
) -> None:
    """Open the squad day at the desk: whom to talk to first, who is as usual, who has not been seen.

    Three measures of everybody in their own usual ranges: bar speed, jump, check-in. It takes over what the other
    records of this machine hold (racks, check-in, jump line), says first when a group moved together and how many
    entries chance alone would make, and keeps who took and closed each entry. Two pages print: for the morning
    meeting, and without health data for the coaches.
    """
    from station.commands.rack_program import Look
    from station.commands.today_command import run_today

    with clear_failures():
        run_today(data, Look(theme, diagonal_in, full_screen))


@app.command()
def jumps(
    belt: Annotated[
        list[str],
        typer.Option(
            help="Name or address of a belt sensor; give it again for a second belt, in their turn."
        ),
    ],
    rack: Annotated[
        str, typer.Option("--rack", help="Name of this jump line; it has its own record.")
    ] = "jump line",
    data: DataOption = None,
    radio: RadioOption = None,
    full_screen: FullScreenOption = False,
    theme: ThemeOption = "dark",
    diagonal_in: DiagonalOption = 10.0,
) -> None:
    """Open the jump line: the squad files past with one belt, or with two in turn.

    Stand still, jump two or three times, hands on the hips, next. Each jump is measured from take-off velocity and
    from flight time; a trial that does not count says why. The mean of the trials stands on the athlete's own usual
    range of days like today. No touch is needed between jumps.
    """
    from station.commands.jumps_command import run_jumps
    from station.commands.rack_program import Look

    with clear_failures():
        run_jumps(rack, data, belt, Look(theme, diagonal_in, full_screen), radio)


register_replay(app)
register_sensors(app)
register_proof(app)
register_rack_extras(app)
register_assess(app)
register_backup(app)
register_export(app)
register_review(app)
register_history(app)
register_import(app)
register_room(app)
register_forget_pin(app)
app.add_typer(athlete_app)
app.add_typer(print_app)
app.add_typer(share_app)
