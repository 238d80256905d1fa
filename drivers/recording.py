"""The recording file: raw samples as they arrived, in CSV (UTF-8, RFC 4180) or Parquet with the same columns.

Columns: `seq`, `host_time_s`, optional `device_time_s`, `acc_x_m_s2 acc_y_m_s2 acc_z_m_s2`, optional
`gyr_x_rad_s gyr_y_rad_s gyr_z_rad_s`. Others are passed over.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import numpy as np
import pyarrow as pa
from pyarrow import csv as arrow_csv
from pyarrow import parquet

from drivers.samples import FloatArray, SampleBlock

ACC_COLUMNS = ("acc_x_m_s2", "acc_y_m_s2", "acc_z_m_s2")
GYR_COLUMNS = ("gyr_x_rad_s", "gyr_y_rad_s", "gyr_z_rad_s")
_REQUIRED = ("seq", "host_time_s", *ACC_COLUMNS)
_PARQUET_SUFFIXES = (".parquet", ".pq")


class RecordingError(Exception):
    """A recording file that cannot be read. Its text is one line that names file, line and column.

    Attributes:
        path: the file.
        line: line of a CSV file counted from 1 (the header is line 1), row of a Parquet file, or None.
        column: name of the column, or None.
    """

    def __init__(self, path: Path, what: str, line: int | None = None, column: str | None = None) -> None:
        self.path, self.line, self.column = path, line, column
        place = "row" if _is_parquet(path) else "line"
        parts = [str(path), *([f"{place} {line}"] if line else []), *([f"column {column}"] if column else [])]
        super().__init__(f"{', '.join(parts)}: {what}")


def read_recording(path: Path | str) -> SampleBlock:
    """Read a whole recording.

    Args:
        path: a CSV file, or a Parquet file (`.parquet`).

    Raises:
        RecordingError: a missing column, text where a number belongs, time running backwards, no samples.
    """
    path = Path(path)
    try:
        table = _read_parquet(path) if _is_parquet(path) else _read_csv(path)
    except OSError as error:
        raise RecordingError(path, f"cannot be read ({error.strerror or error})") from error
    if not table.num_rows:
        raise RecordingError(path, "there are no samples in it")
    columns = {name: table[name].to_numpy() for name in table.column_names}
    _check(path, columns)
    gyr = np.column_stack([columns[name] for name in GYR_COLUMNS]) if GYR_COLUMNS[0] in columns else None
    return SampleBlock(
        columns["seq"],
        columns["host_time_s"],
        np.column_stack([columns[name] for name in ACC_COLUMNS]),
        gyr,
        columns.get("device_time_s"),
    )


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
        if _is_parquet(self.path):
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


def _is_parquet(path: Path) -> bool:
    return path.suffix.lower() in _PARQUET_SUFFIXES


def _table(block: SampleBlock) -> pa.Table:
    columns: dict[str, object] = {"seq": block.seq, "host_time_s": block.host_time_s}
    if block.device_time_s is not None:
        columns["device_time_s"] = block.device_time_s
    columns |= {name: block.acc_m_s2[:, axis] for axis, name in enumerate(ACC_COLUMNS)}
    if block.gyr_rad_s is not None:
        columns |= {name: block.gyr_rad_s[:, axis] for axis, name in enumerate(GYR_COLUMNS)}
    return pa.table({name: pa.array(np.ascontiguousarray(values)) for name, values in columns.items()})


def _wanted(path: Path, names: list[str]) -> dict[str, pa.DataType]:
    """The columns to read and their types; refuses a file that lacks one."""
    wanted = list(_REQUIRED)
    if "device_time_s" in names:
        wanted.append("device_time_s")
    if any(name in names for name in GYR_COLUMNS):
        wanted.extend(GYR_COLUMNS)
    for name in wanted:
        if name not in names:
            raise RecordingError(path, "this column is missing", None if _is_parquet(path) else 1, name)
        if names.count(name) > 1:
            raise RecordingError(path, "this column is there twice", None if _is_parquet(path) else 1, name)
    return {name: pa.int64() if name == "seq" else pa.float64() for name in wanted}


def _read_parquet(path: Path) -> pa.Table:
    try:
        with parquet.ParquetFile(path) as file:
            types = _wanted(path, file.schema_arrow.names)
            table = file.read(columns=list(types))
    except pa.ArrowInvalid as error:
        raise RecordingError(path, f"is not a Parquet file ({_first_line(error)})") from error
    for name, kind in types.items():
        column = table[name]
        if not (pa.types.is_integer(column.type) or pa.types.is_floating(column.type)):
            raise RecordingError(path, "text where numbers belong", None, name)
        if column.null_count:
            row = int(np.argmax(column.is_null().to_numpy())) + 1
            raise RecordingError(path, "a value is missing", row, name)
        try:
            table = table.set_column(table.column_names.index(name), name, column.cast(kind))
        except pa.ArrowInvalid as error:
            raise RecordingError(path, f"not a whole number ({_first_line(error)})", None, name) from error
    return table


def _read_csv(path: Path) -> pa.Table:
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
        names = next(csv.reader(file), [])
    if not names:
        raise RecordingError(path, "the file is empty", 1)
    types = _wanted(path, names)
    if next(_csv_rows(path, skip=1), None) is None:
        raise RecordingError(path, "there are no samples in it")
    convert = arrow_csv.ConvertOptions(column_types=types, include_columns=list(types), null_values=[])
    try:
        return arrow_csv.read_csv(path, convert_options=convert)
    except pa.ArrowInvalid as error:
        _find_bad_line(path)
        raise RecordingError(path, _first_line(error)) from error


def _check(path: Path, columns: dict[str, FloatArray]) -> None:
    """Refuse values that are not finite, time running backwards and a counter that does not increase."""
    rows = {name: ~np.isfinite(values) for name, values in columns.items()}
    problems = [(bad, name, "not a finite number") for name, bad in rows.items()]
    problems += [
        (_with_first(np.diff(columns[name]) < 0.0), name, "time runs backwards")
        for name in ("host_time_s", "device_time_s")
        if name in columns
    ]
    problems += [(_with_first(np.diff(columns["seq"]) <= 0), "seq", "the sample counter does not increase")]
    found = [(int(np.argmax(bad)), name, what) for bad, name, what in problems if bad.any()]
    if found:
        row, name, what = min(found)
        line = row + 1 if _is_parquet(path) else _line_of_row(path, row)
        raise RecordingError(path, f"{what} ({columns[name][row]})", line, name)


def _with_first(
    later: np.ndarray[tuple[int], np.dtype[np.bool_]],
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return np.concatenate([[False], later])


def _csv_rows(path: Path, skip: int = 0) -> Iterator[tuple[int, list[str]]]:
    """The rows of a CSV file with their line numbers, the header first, empty lines left out."""
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
        reader = csv.reader(file)
        yield from islice(((reader.line_num, row) for row in reader if row), skip, None)


def _line_of_row(path: Path, row: int) -> int:
    return next(line for number, (line, _) in enumerate(_csv_rows(path)) if number == row + 1)


def _find_bad_line(path: Path) -> None:
    """Go through the file slowly and name the first thing that is not as it should be."""
    rows = _csv_rows(path)
    _, names = next(rows)
    types = _wanted(path, names)
    for line, row in rows:
        if len(row) != len(names):
            raise RecordingError(path, f"{len(row)} values in a file of {len(names)} columns", line)
        for name, text in zip(names, row, strict=True):
            if name in types and not _is_number(text, whole=name == "seq"):
                kind = "whole number" if name == "seq" else "number"
                raise RecordingError(path, f"{text[:40]!r} is not a {kind}", line, name)


def _is_number(text: str, *, whole: bool) -> bool:
    try:
        if whole:
            return -(2**63) <= int(text) < 2**63
        float(text)
    except ValueError:
        return False
    return True


def _first_line(error: Exception) -> str:
    return str(error).partition("\n")[0]
