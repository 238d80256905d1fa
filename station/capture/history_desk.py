"""An older history at the desk: a file looked at, questions answered, a preview, and only then written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from station.squad.history_source import HistoryFile, Source, guessed, questions, read_history
from station.squad.history_table import HistoryPreview, Known, preview_history
from station.squad.lifts import LIFTS
from station.squad.table_text import TableError
from station.store import history_import
from station.store.history_import import Import, Written
from station.store.record import Record
from station.store.roster import roster

LARGEST_BYTES = 200_000_000


class HistoryDesk:
    """Reads one file at a time and writes what was previewed.

    Args:
        record: the desk's.
        now: local date and time, with zone.
    """

    def __init__(self, record: Record, now: Callable[[], datetime]) -> None:
        self.record, self._now = record, now
        self.name = ""
        self.file: HistoryFile | None = None
        self.source = Source()
        self.preview = HistoryPreview()

    def open(self, path: Path) -> None:
        """Read a file, and what its heads say of it. Nothing is written.

        Raises:
            TableError: it cannot be read.
        """
        try:
            if path.stat().st_size > LARGEST_BYTES:
                raise TableError(
                    f"{path.name} is larger than {LARGEST_BYTES / 1e6:.0f} MB; import it in parts"
                )
            text = path.read_bytes().decode("utf-8-sig")
        except OSError as error:
            raise TableError(f"{path} cannot be read ({error.strerror})") from error
        except UnicodeDecodeError:
            raise TableError(f"{path.name} is not UTF-8 text; save it as CSV UTF-8") from None
        self.file = read_history(text)
        self.name = path.stem
        self.use(guessed(self.file))

    def use(self, source: Source) -> None:
        """Read it so; the preview follows once all questions are answered."""
        self.source = source
        if self.file is None or self.questions():
            self.preview = HistoryPreview()
        else:
            self.preview = preview_history(self.file, source, self._known())

    def name_lift(self, word: str, lift: str) -> None:
        """What the file calls a lift is this one."""
        self.use(replace(self.source, lifts={**self.source.lifts, word.casefold(): lift}))

    def questions(self) -> tuple[str, ...]:
        """What has to be said first."""
        return questions(self.file, self.source) if self.file is not None else ("Which file?",)

    def write(self, label: str, staff: str) -> Written:
        """Write what was previewed.

        Args:
            label: where it comes from; "": the file's name.

        Raises:
            WriteFailed: nothing was kept.
        """
        zone = self._now().tzinfo
        assert zone is not None, "a local time with zone"
        written = history_import.import_sets(self.record, self.preview.sets, label or self.name, staff, zone)
        self.file, self.preview = None, HistoryPreview()
        return written

    def imports(self) -> list[Import]:
        """What was imported before, the newest first."""
        return history_import.imports(self.record)

    def take_out(self, one: Import, staff: str) -> int:
        """No rep of this import counts from now on; or all do again, where it was taken out."""
        act = history_import.bring_back if one.taken_out else history_import.take_out
        return act(self.record, one.key, staff)

    def _known(self) -> Known:
        today = self._now().date()
        names: dict[str, list[str]] = {}
        with self.record.database.read() as connection:
            for line in roster(connection, today):
                for word in (line.athlete.name.casefold(), line.athlete.athlete_id):
                    names.setdefault(word, []).append(line.athlete.athlete_id)
        return Known(names, tuple(LIFTS), today)


def preview_words(preview: HistoryPreview) -> tuple[str, ...]:
    """What would be written, in sentences: how much, of whom, and the first sets as they were understood."""
    if not preview.sets:
        return ("Nothing would be written.",)
    reps = sum(len(one.reps) for one in preview.sets)
    days = [one.day for one in preview.sets]
    people = {one.athlete_id for one in preview.sets}
    said = [
        f"{number_of(len(preview.sets), 'set')} with {number_of(reps, 'rep')} of "
        f"{number_of(len(people), 'athlete')}, {min(days)} to {max(days)}",
        *(
            f"line {one.line}: {one.athlete}, {one.day}, {one.lift}, {one.load_kg:g} kg: "
            + ", ".join(f"{rep.mean_velocity_m_s:.2f}" for rep in one.reps)
            + " m/s"
            for one in preview.sets[:5]
        ),
    ]
    return tuple(said)


def number_of(count: int, thing: str) -> str:
    """How many of a thing, in words."""
    return f"{count} {thing}{'' if count == 1 else 's'}"
