"""Files that are handed on: CSV (RFC 4180, UTF-8), JSON lines or Parquet, and `datapackage.json` that explains them.

The description follows the open Data Package and Table Schema standards of Frictionless Data (datapackage.org), with
`unit` as a property of each field.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq

from station.store.errors import FolderNotWritable
from station.store.export_fields import SHEETS, Sheet
from station.store.export_rows import Span
from station.store.export_source import Source
from station.store.export_tables import arrow_schema, batches

Format = Literal["csv", "parquet", "jsonl"]
PACKAGE = "datapackage.json"
PACKAGE_NAME = "bar-speed-record"
_MEDIA = {"csv": "text/csv", "jsonl": "application/jsonl", "parquet": "application/vnd.apache.parquet"}
_UTC = pa.timestamp("us")  # without a zone: Arrow would look for a database of zones
_INSTANT = "%Y-%m-%dT%H:%M:%SZ"  # of microseconds Arrow writes the fraction too


def export(
    source: Source,
    names: Sequence[str],
    span: Span,
    form: Format,
    folder: Path,
    now: datetime,
    trouble: Callable[[str], None],
) -> list[tuple[Path, int]]:
    """Write tables and their description; each file with how many rows it has, the description last.

    Args:
        names: keys of `SHEETS`.
        now: UTC.
        trouble: told a sentence for each raw file that was left out.

    Raises:
        FolderNotWritable, StoreError: with what to do.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        written = []
        for name in dict.fromkeys(names):
            file = folder / f"{name}.{form}"
            written.append((file, write(file, SHEETS[name], form, batches(source, name, span, trouble))))
        package = folder / PACKAGE
        described = [_resource(SHEETS[file.stem], file, form, names) for file, _ in written]
        package.write_text(json.dumps(_package(described, now), indent=2, ensure_ascii=False) + "\n", "utf-8")
    except OSError as error:
        raise FolderNotWritable(folder, error.strerror or str(error)) from error
    return [*written, (package, len(described))]


def write(file: Path, sheet: Sheet, form: Format, parts: Iterable[pa.RecordBatch]) -> int:
    """Write one table; how many rows. The file appears whole or not at all."""
    rows = 0
    half = file.with_name(file.name + ".part")
    try:
        with _WRITERS[form](half, arrow_schema(sheet)) as put:
            for part in parts:
                put(part)
                rows += part.num_rows
        half.replace(file)
    finally:
        half.unlink(missing_ok=True)
    return rows


@contextmanager
def _csv(file: Path, schema: pa.Schema) -> Iterator[Callable[[pa.RecordBatch], None]]:
    with pa_csv.CSVWriter(str(file), _as_text(schema.empty_table()).schema) as writer:
        yield lambda part: writer.write_table(_as_text(pa.Table.from_batches([part])))


def _as_text(table: pa.Table) -> pa.Table:
    """Instants as the Table Schema wants them; Arrow's own CSV writes them with a blank."""
    for n, field in enumerate(table.schema):
        if pa.types.is_timestamp(field.type):
            table = table.set_column(n, field.name, pc.strftime(table.column(n).cast(_UTC), _INSTANT))
    return table


@contextmanager
def _jsonl(file: Path, _schema: pa.Schema) -> Iterator[Callable[[pa.RecordBatch], None]]:
    with file.open("w", encoding="utf-8", newline="\n") as lines:

        def put(part: pa.RecordBatch) -> None:
            for row in _as_text(pa.Table.from_batches([part])).to_pylist():
                lines.write(json.dumps(row, default=str, ensure_ascii=False) + "\n")

        yield put


@contextmanager
def _parquet(file: Path, schema: pa.Schema) -> Iterator[Callable[[pa.RecordBatch], None]]:
    with pq.ParquetWriter(file, schema, compression="zstd") as writer:
        yield lambda part: writer.write_batch(part) if part.num_rows else None


_WRITERS = {"csv": _csv, "jsonl": _jsonl, "parquet": _parquet}


def table_schema(sheet: Sheet, beside: Iterable[str] = ()) -> dict[str, Any]:
    """The Frictionless Table Schema of a table.

    Args:
        beside: tables in the same package, which keys may point at.
    """
    columns = []
    for f in sheet.fields:
        column: dict[str, Any] = {"name": f.name, "type": f.type, "description": f.meaning}
        columns.append(column | ({"unit": f.unit} if f.unit else {}) | _constraints(f.required))
    keys = [
        {"fields": [own], "reference": {"resource": other, "fields": [SHEETS[other].key[0]]}}
        for own, other in sheet.of
        if other in set(beside)
    ]
    schema: dict[str, Any] = {"fields": columns, "primaryKey": list(sheet.key), "missingValues": [""]}
    return schema | ({"foreignKeys": keys} if keys else {})


def _constraints(required: bool) -> dict[str, Any]:
    return {"constraints": {"required": True}} if required else {}


def _resource(sheet: Sheet, file: Path, form: Format, beside: Iterable[str]) -> dict[str, Any]:
    with file.open("rb") as content:
        checksum = hashlib.file_digest(content, "sha256").hexdigest()
    text = {"encoding": "utf-8"} if form != "parquet" else {}
    return {
        "name": sheet.name,
        "type": "table",
        "title": sheet.title,
        "path": file.name,
        "format": form,
        "mediatype": _MEDIA[form],
        **text,
        "bytes": file.stat().st_size,
        "hash": f"sha256:{checksum}",
        "schema": table_schema(sheet, beside),
    }


def _package(resources: Sequence[dict[str, Any]], now: datetime) -> dict[str, Any]:
    return {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": PACKAGE_NAME,
        "title": "Record of a bar-speed station",
        "description": "Corrections are applied. Units are written in UCUM. Days are local, instants UTC.",
        "created": now.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "resources": list(resources),
    }
