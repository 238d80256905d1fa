"""The rows that are handed on as Arrow tables, a batch at a time, so that raw samples of a season need no room."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from sqlalchemy import select

from drivers.samples import SampleBlock
from station.store.errors import RawDamaged
from station.store.export_errors import NoRawSamples
from station.store.export_fields import RAW, SHEETS, Sheet
from station.store.export_rows import ROWS, Row, Span
from station.store.export_source import Source
from station.store.raw_files import FOLDER, read_raw
from station.store.tables import raw_files, sets

_AT_ONCE = 10_000
_ARROW: dict[str, pa.DataType] = {
    "string": pa.string(),
    "integer": pa.int64(),
    "number": pa.float64(),
    "boolean": pa.bool_(),
    "date": pa.date32(),
    "datetime": pa.timestamp("us", "UTC"),
}


def arrow_schema(sheet: Sheet) -> pa.Schema:
    """The columns of a table with types; unit and meaning as metadata of each."""
    return pa.schema(
        [
            pa.field(f.name, _ARROW[f.type], not f.required, {"unit": f.unit, "description": f.meaning})
            for f in sheet.fields
        ]
    )


def batches(
    source: Source, name: str, span: Span, trouble: Callable[[str], None] | None = None
) -> Iterator[pa.RecordBatch]:
    """A table in batches; at least one, which may be empty.

    Args:
        name: a key of `SHEETS`.
        trouble: told a sentence for each raw file that cannot be read; its set is left out. None: it raises.

    Raises:
        StoreError: the record cannot be read.
    """
    schema = arrow_schema(SHEETS[name])
    yield pa.RecordBatch.from_pylist([], schema)
    if name == RAW.name:
        yield from _raw(source, span, trouble, schema)
        return
    with source.read() as connection:
        rows = ROWS[name](connection, span)
        while some := list(islice(rows, _AT_ONCE)):
            yield _batch(some, schema)


def _batch(rows: list[Row], schema: pa.Schema) -> pa.RecordBatch:
    """Nothing said is nothing, not an empty text: CSV knows no difference."""
    batch = pa.RecordBatch.from_pylist(rows, schema)
    columns = [
        pc.if_else(pc.equal(column, ""), pa.scalar(None, pa.string()), column)
        if pa.types.is_string(column.type)
        else column
        for column in batch.columns
    ]
    return pa.RecordBatch.from_arrays(columns, schema=schema)


def _raw(
    source: Source, span: Span, trouble: Callable[[str], None] | None, schema: pa.Schema
) -> Iterator[pa.RecordBatch]:
    if not source.folders:
        raise NoRawSamples
    query = select(raw_files.c.set_id, raw_files.c.file, raw_files.c.sha256)
    query = span.of(query.join(sets, sets.c.id == raw_files.c.set_id), sets).order_by(
        raw_files.c.set_id, raw_files.c.id
    )
    with source.read() as connection:
        found = connection.execute(query).all()
    parts: Counter[str] = Counter()
    for row in found:
        parts[row.set_id] += 1
        try:
            block = read_raw(_where(source, row.file), row.file, row.sha256)
            yield _samples(row.set_id, parts[row.set_id], block, schema)
        except RawDamaged as error:
            if trouble is None:
                raise
            trouble(str(error))


def _where(source: Source, file: str) -> Path:
    """The record's folder where a raw file lies; the first where it lies nowhere."""
    return next((f for f in source.folders if (f / FOLDER / file).exists()), source.folders[0])


def _samples(set_id: str, part: int, block: SampleBlock, schema: pa.Schema) -> pa.RecordBatch:
    n = len(block)
    nothing = pa.nulls(n, pa.float64())
    own = block.device_time_s
    turned = [nothing] * 3 if block.gyr_rad_s is None else [pa.array(axis) for axis in block.gyr_rad_s.T]
    columns = [
        pa.array([set_id] * n, pa.string()),
        pa.array(np.full(n, part, np.int64)),
        pa.array(block.seq.astype(np.int64)),
        pa.array(block.host_time_s, pa.float64()),
        nothing if own is None else pa.array(own, pa.float64()),
        *(pa.array(axis, pa.float64()) for axis in block.acc_m_s2.T),
        *turned,
    ]
    return pa.RecordBatch.from_arrays(columns, schema=schema)
