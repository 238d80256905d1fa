"""Writing a recording file block by block."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray
from pyarrow import csv as arrow_csv
from pyarrow import parquet

from drivers.recording_columns import ACC_COLUMNS, GYR_COLUMNS, is_parquet
from drivers.samples import SampleBlock


class RecordingWriter:
    """Writes a recording block by block; the file appears under its name when the writer is closed.

    Until then it carries `.part` at its end, so that a file under its own name is always a whole one. Used in a
    `with` statement; an exception inside leaves no file under the name.

    Args:
        path: `.csv` or `.parquet`.
    """

    def __init__(self, path: Path | str) -> None:
        self.path = Path(path)
        self._part = self.path.with_name(self.path.name + ".part")
        self._writer: parquet.ParquetWriter | arrow_csv.CSVWriter | None = None
        self._sink: pa.NativeFile | None = None
        self._schema: pa.Schema | None = None

    def __enter__(self) -> RecordingWriter:
        return self

    def __exit__(self, kind: object, *rest: object) -> None:
        if kind is None:
            self.close()
        else:
            self._close_file()

    def write(self, block: SampleBlock) -> None:
        """Append samples. All blocks of a recording have the same columns."""
        if not len(block):
            return
        table = _table(block)
        if self._writer is None:
            self._open(table.schema)
        elif table.schema != self._schema:
            raise ValueError("the blocks of one recording must have the same columns")
        assert self._writer is not None
        self._writer.write_table(table)

    def close(self) -> None:
        """Finish the file and give it its name. Nothing appears when no sample was written."""
        if self._writer is not None:
            self._close_file()
            self._part.replace(self.path)

    def _open(self, schema: pa.Schema) -> None:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        self._schema = schema
        self._sink = pa.OSFile(str(self._part), "wb")
        if is_parquet(self.path):
            self._writer = parquet.ParquetWriter(self._sink, schema)
        else:
            self._sink.write((",".join(schema.names) + "\n").encode())
            self._writer = arrow_csv.CSVWriter(
                self._sink, schema, write_options=arrow_csv.WriteOptions(include_header=False)
            )

    def _close_file(self) -> None:
        if self._writer is not None and self._sink is not None:
            self._writer.close()
            self._sink.close()
            self._sink = None


def write_recording(path: Path | str, block: SampleBlock) -> None:
    """Write a whole recording at once."""
    with RecordingWriter(path) as writer:
        writer.write(block)


def _table(block: SampleBlock) -> pa.Table:
    columns: dict[str, NDArray[Any]] = {"seq": block.seq, "host_time_s": block.host_time_s}
    if block.device_time_s is not None:
        columns["device_time_s"] = block.device_time_s
    columns |= {name: block.acc_m_s2[:, axis] for axis, name in enumerate(ACC_COLUMNS)}
    if block.gyr_rad_s is not None:
        columns |= {name: block.gyr_rad_s[:, axis] for axis, name in enumerate(GYR_COLUMNS)}
    return pa.table({name: _column(np.ascontiguousarray(values)) for name, values in columns.items()})


def _column(values: NDArray[Any]) -> pa.Array:
    """The values as they lie in memory. `pa.array` would load pandas first, a third of a second in mid-session."""
    kind = pa.from_numpy_dtype(values.dtype)
    return pa.Array.from_buffers(kind, len(values), [None, pa.py_buffer(values)])
