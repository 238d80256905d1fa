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

from drivers.recording_columns import ACC_COLUMNS, GYR_COLUMNS, RecordingError, is_parquet
from drivers.recording_writer import RecordingWriter, write_recording
from drivers.samples import FloatArray, SampleBlock

__all__ = [
    "ACC_COLUMNS",
    "GYR_COLUMNS",
    "RecordingError",
    "RecordingWriter",
    "read_recording",
    "write_recording",
]

_REQUIRED = ("seq", "host_time_s", *ACC_COLUMNS)


def read_recording(path: Path | str) -> SampleBlock:
    """Read a whole recording.

    Args:
        path: a CSV file, or a Parquet file (`.parquet`).

    Raises:
        RecordingError: a missing column, text where a number belongs, time running backwards, no samples.
    """
    path = Path(path)
    try:
        table = _read_parquet(path) if is_parquet(path) else _read_csv(path)
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


def _wanted(path: Path, names: list[str]) -> dict[str, pa.DataType]:
    """The columns to read and their types; refuses a file that lacks one."""
    wanted = list(_REQUIRED)
    if "device_time_s" in names:
        wanted.append("device_time_s")
    if any(name in names for name in GYR_COLUMNS):
        wanted.extend(GYR_COLUMNS)
    for name in wanted:
        if name not in names:
            raise RecordingError(path, "this column is missing", None if is_parquet(path) else 1, name)
        if names.count(name) > 1:
            raise RecordingError(path, "this column is there twice", None if is_parquet(path) else 1, name)
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
        line = row + 1 if is_parquet(path) else _line_of_row(path, row)
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
