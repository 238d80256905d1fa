"""The columns of a recording file, and the error that names file, line and column."""

from __future__ import annotations

from pathlib import Path

ACC_COLUMNS = ("acc_x_m_s2", "acc_y_m_s2", "acc_z_m_s2")
GYR_COLUMNS = ("gyr_x_rad_s", "gyr_y_rad_s", "gyr_z_rad_s")
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
        place = "row" if is_parquet(path) else "line"
        parts = [str(path), *([f"{place} {line}"] if line else []), *([f"column {column}"] if column else [])]
        super().__init__(f"{', '.join(parts)}: {what}")


def is_parquet(path: Path) -> bool:
    """Whether a file is a Parquet file, by its name."""
    return path.suffix.lower() in _PARQUET_SUFFIXES
