"""The record in a notebook: pandas tables, read only. `station.open_record` is the way in."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pyarrow as pa

from station.store.export_errors import HealthDataNotAskedFor, NotebookMissing
from station.store.export_fields import SHEETS
from station.store.export_rows import Span
from station.store.export_source import Source, open_source
from station.store.export_tables import arrow_schema, batches

if TYPE_CHECKING:
    from types import TracebackType

    from pandas import DataFrame


class OpenRecord:
    """A record as it stood when it was opened, corrections applied; columns are those of the exported files.

    Each method takes the first and the last day, both included, and gives a table. A URL is read anew at each call.

    Raises:
        StoreError: from any of them, the record cannot be read; the sentence says what to do.
    """

    def __init__(self, source: Source) -> None:
        """Take a source over; `station.open_record` opens one."""
        self._source = source

    def athletes(self) -> DataFrame:
        """Everybody, those who left too."""
        return self._table("athletes", None, None)

    def reps(self, first: date | None = None, last: date | None = None) -> DataFrame:
        """Repetitions; those that were struck are there and say so (`struck`, `counted`)."""
        return self._table("reps", first, last)

    def sets(self, first: date | None = None, last: date | None = None) -> DataFrame:
        """Sets, with what is needed to measure them again."""
        return self._table("sets", first, last)

    def sessions(self, first: date | None = None, last: date | None = None) -> DataFrame:
        """Sessions as each athlete had them."""
        return self._table("sessions", first, last)

    def jumps(self, first: date | None = None, last: date | None = None) -> DataFrame:
        """Jump trials."""
        return self._table("jumps", first, last)

    def checkins(
        self, first: date | None = None, last: date | None = None, *, with_health_data: bool = False
    ) -> DataFrame:
        """Check-in answers: personal health data, given only where `with_health_data` says so."""
        if not with_health_data:
            raise HealthDataNotAskedFor("with_health_data=True")
        return self._table("checkins", first, last)

    def raw(self, first: date | None = None, last: date | None = None) -> DataFrame:
        """Raw samples of sets, as the sensor sent them; many: ask for few days."""
        return self._table("raw", first, last)

    def close(self) -> None:
        """Let go of the record."""
        self._source.close()

    def __enter__(self) -> OpenRecord:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        self.close()

    def _table(self, name: str, first: date | None, last: date | None) -> DataFrame:
        span = Span(first, last, datetime.now().astimezone().date())
        parts = list(batches(self._source, name, span))
        return pa.Table.from_batches(parts, arrow_schema(SHEETS[name])).to_pandas()


def open_for_notebook(path_or_url: str | Path) -> OpenRecord:
    """As `station.open_record`."""
    try:
        import pandas  # noqa: F401
    except ImportError as error:
        raise NotebookMissing from error
    return OpenRecord(open_source(path_or_url))
