"""`replay`: recorded sensor files through the same clock and engine as live capture."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from drivers.clock import ClockError, SampleClock
from drivers.recording import RecordingError, read_recording
from drivers.samples import SampleBlock, TimedBlock
from station.commands.progress import progress_bar
from station.motion.as_text import as_line, as_record
from station.motion.engine import MotionEngine
from station.motion.events import MotionEvent
from station.squad.errors import UnknownLift
from station.squad.lifts import Lift, lift_named

_BLOCK_SAMPLES = 512


class PlacementChoice(StrEnum):
    """Where the sensor was worn."""

    BAR = "bar"
    BELT = "belt"


class OutputFormat(StrEnum):
    """How events are printed."""

    JSONL = "jsonl"
    TABLE = "table"


def replay(
    files: Annotated[list[Path], typer.Argument(help="Recordings: CSV, or Parquet with the same columns.")],
    placement: Annotated[
        PlacementChoice, typer.Option(help="Sensor on the bar (repetitions) or on a belt (jumps).")
    ],
    lift: Annotated[
        str | None,
        typer.Option(help="What was lifted, such as 'back squat'. Without it: any lift, cautious limits."),
    ] = None,
    output: Annotated[
        OutputFormat, typer.Option("--format", help="jsonl: one JSON object an event; table: for reading.")
    ] = OutputFormat.JSONL,
) -> None:
    """Measure recorded sensor files and print what was found.

    Files are streamed through the same clock and engine as at the rack, without looking ahead. Times are seconds
    since a file's first sample. A file that cannot be read gets one line on stderr and exit status 2, and nothing is
    printed for any file.
    """
    try:
        chosen = None if lift is None else lift_named(lift)
        for path in files:
            _refuse_bad(path)
    except (UnknownLift, RecordingError) as error:
        print(error, file=sys.stderr)
        raise typer.Exit(2) from error
    with progress_bar() as progress:
        for path in files:
            task = progress.add_task(path.name, total=None)
            recording = read_recording(path)
            progress.update(task, total=len(recording))
            for event, done in measured(recording, placement, chosen):
                progress.update(task, completed=done)
                if event is not None:
                    print(_printed(path, event, output), flush=True)


def register(app: typer.Typer) -> None:
    """Make `replay` a command of the app."""
    app.command()(replay)


def measured(
    recording: SampleBlock, placement: PlacementChoice, lift: Lift | None
) -> Iterator[tuple[MotionEvent | None, int]]:
    """Events of a recording as they are decided, each with the samples read so far; None marks mere progress."""
    engine = MotionEngine(placement.value, lift)
    done = 0
    for timed in _timed(recording):
        done += len(timed)
        yield from ((event, done) for event in engine.feed(timed))
        yield None, done
    yield from ((event, done) for event in engine.finish())


def _timed(recording: SampleBlock) -> Iterator[TimedBlock]:
    """The recording on the recovered clock, block by block."""
    clock = SampleClock(None)
    for start in range(0, len(recording), _BLOCK_SAMPLES):
        yield clock.time(recording.slice(start, start + _BLOCK_SAMPLES))
    yield clock.finish()


def _refuse_bad(path: Path) -> None:
    """Read a file through before anything is printed.

    Raises:
        RecordingError: the file cannot be read or timed; the text is one line with file, line and column.
    """
    try:
        for _ in _timed(read_recording(path)):
            pass
    except (ClockError, ValueError) as error:
        raise RecordingError(path, str(error)) from error


def _printed(path: Path, event: MotionEvent, output: OutputFormat) -> str:
    if output is OutputFormat.JSONL:
        return json.dumps({"file": str(path), **as_record(event)}, ensure_ascii=False)
    return f"{path.name}  {as_line(event)}"
