"""A package that `export` wrote, read back: the description first, then each table in batches of today's columns."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq

from station.store.export_errors import PackageUnreadable
from station.store.export_fields import SHEETS, Sheet
from station.store.export_files import PACKAGE, PACKAGE_NAME
from station.store.export_tables import arrow_schema

_AT_ONCE = 10_000


@dataclass(frozen=True, slots=True)
class Part:
    """One table of a package."""

    sheet: Sheet
    file: Path
    form: str


def open_package(path: Path) -> dict[str, Part]:
    """The tables of a package, by name; every file is what was written, with today's columns.

    Args:
        path: `datapackage.json`, or the folder that holds it.

    Raises:
        PackageUnreadable: with what is wrong.
    """
    file = path / PACKAGE if path.is_dir() else path
    try:
        told = json.loads(file.read_text(encoding="utf-8"))
        if told.get("name") != PACKAGE_NAME:
            raise PackageUnreadable(
                file, "it is no export of this station; an older history is 'import-history'"
            )
        parts = [_part(file, resource) for resource in told["resources"]]
    except OSError as error:
        raise PackageUnreadable(file, error.strerror or str(error)) from error
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise PackageUnreadable(file, f"it is no data package: {error}") from error
    return {part.sheet.name: part for part in parts}


def _part(package: Path, told: dict[str, Any]) -> Part:
    sheet, file = SHEETS.get(told["name"]), package.parent / Path(told["path"]).name
    if sheet is None:
        raise PackageUnreadable(package, f"there is no table {told['name']} in this version")
    columns = {field["name"]: field["type"] for field in told["schema"]["fields"]}
    if columns != {field.name: field.type for field in sheet.fields}:
        raise PackageUnreadable(
            package, f"{sheet.name} has other columns than in this version; export it anew"
        )
    with file.open("rb") as content:
        if f"sha256:{hashlib.file_digest(content, 'sha256').hexdigest()}" != told["hash"]:
            raise PackageUnreadable(file, "it is not what was written: its checksum is another")
    return Part(sheet, file, told["format"])


def rows_of(part: Part) -> Iterator[dict[str, Any]]:
    """Row by row, with the types of the schema; nothing said is None."""
    for batch in batches_of(part):
        yield from batch.to_pylist()


def batches_of(part: Part) -> Iterator[pa.RecordBatch]:
    """The same in batches.

    Raises:
        PackageUnreadable: with the file and what is wrong.
    """
    try:
        yield from _READERS[part.form](part.file, arrow_schema(part.sheet))
    except (pa.ArrowException, OSError, ValueError, KeyError) as error:
        raise PackageUnreadable(part.file, str(error)) from error


def _parquet(file: Path, schema: pa.Schema) -> Iterator[pa.RecordBatch]:
    with pq.ParquetFile(file) as opened:
        for batch in opened.iter_batches(_AT_ONCE):
            yield batch.cast(schema)


def _csv(file: Path, schema: pa.Schema) -> Iterator[pa.RecordBatch]:
    types = {field.name: field.type for field in schema}
    convert = pa_csv.ConvertOptions(
        column_types=types, null_values=[""], strings_can_be_null=True, include_columns=schema.names
    )
    with pa_csv.open_csv(file, parse_options=_LINES, convert_options=convert) as reader:
        for batch in reader:
            yield batch.cast(schema)


# A note may hold a line's end within its quotes.
_LINES = pa_csv.ParseOptions(newlines_in_values=True)


def _jsonl(file: Path, schema: pa.Schema) -> Iterator[pa.RecordBatch]:
    with file.open(encoding="utf-8") as lines:
        while some := [_typed(json.loads(line), schema) for line in islice(lines, _AT_ONCE)]:
            yield pa.RecordBatch.from_pylist(some, schema)


def _typed(row: dict[str, Any], schema: pa.Schema) -> dict[str, Any]:
    for field in schema:
        value = row[field.name]
        if value is not None and pa.types.is_date(field.type):
            row[field.name] = date.fromisoformat(value)
        elif value is not None and pa.types.is_timestamp(field.type):
            row[field.name] = datetime.fromisoformat(value)
    return row


_READERS = {"parquet": _parquet, "csv": _csv, "jsonl": _jsonl}
