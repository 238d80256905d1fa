"""The commands `backup`, `restore` and `space`: a second copy of the records, brought back; the room they take."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from station.commands.fail import clear_failures, fail
from station.commands.options import DataOption


def backup(
    folder: Annotated[
        Path | None,
        typer.Argument(help="Where to; best on another disk. Without it, the folder of the nightly backup."),
    ] = None,
    nightly: Annotated[
        bool, typer.Option("--nightly", help="From now on every running station also does it each night.")
    ] = False,
    data: DataOption = None,
) -> None:
    """Back up every record of this machine, also while stations run.

    Each backup is a folder with the record as it stood at one instant, a checksum of every file, and the raw samples
    beside it. It is checked before it counts. Two weeks of them are kept. A backup holds check-in answers if the
    record does: keep it where only staff can read it.
    """
    from station.commands.folders import data_root
    from station.commands.rack_command import utc_now
    from station.store.backup import make_backup, read_manifest
    from station.store.database import FILE_NAME
    from station.store.nightly import Nightly, keep_nightly, read_nightly

    root = data_root(data)
    with clear_failures():
        known = read_nightly(root)
        to = folder or (known.folder if known else None)
        if to is None:
            fail("name a folder to back up to, best on another disk")
        records = sorted(file.parent for file in root.glob(f"*/{FILE_NAME}"))
        if not records:
            fail(f"there is no record in {root}; name its folder with --data")
        for record in records:
            manifest = read_manifest(made := make_backup(record, to.absolute(), utc_now()))
            typer.echo(f"{record.name}: {made.parent}, {len(manifest.raw)} raw files, checked")
            for name in manifest.damaged:
                typer.echo(
                    f"{record.name}: {name} is damaged, its earlier copy was kept if there was one", err=True
                )
        if nightly:
            keep_nightly(root, Nightly(to.absolute(), utc_now()))
            typer.echo(f"each night from now on: {to.absolute()}")


def restore(
    file: Annotated[Path, typer.Argument(help="The backup's manifest.json, or its folder.")],
    replace: Annotated[
        bool,
        typer.Option(
            "--replace",
            help="Also when the present record has rows that the backup has not; it is put aside.",
        ),
    ] = False,
    data: DataOption = None,
) -> None:
    """Bring a backup back into its record's place; close its station first.

    Checksums and the database's own checks come first: a backup that is not whole changes nothing. What was there is
    put aside, not deleted. Athletes who were erased meanwhile are erased again before anything else.
    """
    from contextlib import closing

    from station.commands.folders import data_root
    from station.commands.rack_command import utc_now
    from station.store.backup import read_manifest
    from station.store.record import Record
    from station.store.restore import restore as bring_back

    with clear_failures():
        folder = data_root(data) / read_manifest(file).rack
        done = bring_back(file, folder, utc_now(), replace_newer=replace)
        with closing(Record(folder, folder.name, utc_now)):
            pass  # brought to today's version, erasures applied
    typer.echo(
        f"{done.folder} is as it was on {done.made_at:%Y-%m-%d at %H:%M} UTC, {done.raw_files} raw files"
    )
    if done.put_aside is not None:
        typer.echo(f"what was there before is in {done.put_aside}")
    for name in done.missing:
        typer.echo(f"raw samples missing or damaged: {name}", err=True)


def space(data: DataOption = None) -> None:
    """Say how much room records and raw samples take, and how old the last good backup is.

    Raw samples are kept for two seasons (730 days) and then give way, while a station runs; sets and reps stay.
    """
    import sqlite3

    from station.commands.folders import data_root
    from station.commands.rack_command import local_day, utc_now
    from station.store.database import FILE_NAME
    from station.store.nightly import last_good
    from station.store.raw_files import KEPT_FOR, raw_space

    root = data_root(data)
    for file in sorted(root.glob(f"*/{FILE_NAME}")):
        made = last_good(file.parent)
        try:
            raw = raw_space(file.parent)
        except sqlite3.Error as error:
            typer.echo(f"{file.parent.name}: cannot be read now ({error})", err=True)
            continue
        reach = f"{raw.oldest} to {raw.newest}" if raw.files else "none"
        age = "never" if made is None else f"{(utc_now() - made).days} days ago"
        size = f"record {file.stat().st_size / 1e6:.1f} MB, raw samples {raw.size_bytes / 1e6:.1f} MB"
        typer.echo(f"{file.parent.name}: {size} in {raw.files} files ({reach}), last good backup {age}")
    typer.echo(f"raw samples from before {local_day() - KEPT_FOR} give way")


def register(app: typer.Typer) -> None:
    """Make the commands of the app."""
    app.command()(backup)
    app.command()(restore)
    app.command()(space)
