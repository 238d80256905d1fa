"""What `export` does: refuse what may not leave, open for reading, write, say what was written."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from datetime import date
from pathlib import Path

import typer

from station.commands.fail import fail
from station.commands.folders import data_root
from station.commands.rack_command import local_day, utc_now
from station.store.export_errors import HealthDataNotAskedFor
from station.store.export_fields import CHECKINS
from station.store.export_files import Format, export
from station.store.export_rows import Span
from station.store.export_source import open_source


def run_export(
    data: Path | None,
    folder: Path,
    what: Sequence[str],
    first: date | None,
    last: date | None,
    form: Format,
    *,
    with_health_data: bool,
) -> None:
    """Write the tables into `folder`; a line a file, complaints on stderr, status 1 when a set was left out."""
    if CHECKINS.name in what and not with_health_data:
        raise HealthDataNotAskedFor("--with-health-data")
    if first is not None and last is not None and first > last:
        fail(f"--from {first} is after --to {last}; exchange them")
    left_out: list[str] = []
    with closing(open_source(data_root(data))) as source:
        span = Span(first, last, local_day())
        *files, (package, _) = export(source, what, span, form, folder, utc_now(), left_out.append)
    for sentence in left_out:
        typer.echo(sentence, err=True)
    for file, rows in files:
        typer.echo(f"written: {file}, {rows} rows")
    typer.echo(f"written: {package}, what every column means")
    if left_out:
        fail(f"the raw samples of {len(left_out)} sets were left out", status=1)
