"""A recording file comes back bit by bit, and a bad one is refused with file, line and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from pyarrow import parquet

from drivers.recording import RecordingError, RecordingWriter, read_recording, write_recording
from drivers.samples import SampleBlock

HEADER = "seq,host_time_s,acc_x_m_s2,acc_y_m_s2,acc_z_m_s2,gyr_x_rad_s,gyr_y_rad_s,gyr_z_rad_s"
ROW = "0.1,0.2,9.8,0.01,0.02,0.03"


def block(n: int = 50, *, gyr: bool = True, device: bool = True) -> SampleBlock:
    rng = np.random.default_rng(4)
    return SampleBlock(
        np.arange(n) * 2,
        np.sort(rng.random(n)),
        rng.normal(size=(n, 3)),
        rng.normal(size=(n, 3)) if gyr else None,
        np.arange(n) * 0.005 if device else None,
    )


def same(a: SampleBlock, b: SampleBlock) -> bool:
    pairs = [(getattr(a, name), getattr(b, name)) for name in SampleBlock.__slots__]
    return all((x is None and y is None) or np.array_equal(x, y) for x, y in pairs)


def refusal(path: Path, text: str | bytes) -> RecordingError:
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    with pytest.raises(RecordingError) as caught:
        read_recording(path)
    assert str(caught.value).startswith(str(path))
    assert "\n" not in str(caught.value)
    return caught.value


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
@pytest.mark.parametrize(("gyr", "device"), [(True, True), (False, False), (True, False)])
def test_what_was_written_is_read_back_to_the_bit(
    tmp_path: Path, suffix: str, gyr: bool, device: bool
) -> None:
    path = tmp_path / f"set{suffix}"
    samples = block(gyr=gyr, device=device)
    with RecordingWriter(path) as writer:
        writer.write(samples.slice(0, 7))
        writer.write(samples.slice(7, 7))
        writer.write(samples.slice(7, len(samples)))
    assert same(read_recording(path), samples)


@given(acc=arrays(np.float64, (5, 3), elements=st.floats(allow_nan=False, allow_infinity=False)))
@settings(max_examples=30, deadline=None)
def test_every_finite_number_survives_the_text(
    tmp_path_factory: pytest.TempPathFactory, acc: np.ndarray
) -> None:
    path = tmp_path_factory.mktemp("any") / "any.csv"
    write_recording(path, SampleBlock(np.arange(5), np.arange(5.0), acc))
    assert np.array_equal(read_recording(path).acc_m_s2, acc)


def test_a_recording_that_breaks_off_leaves_no_file_under_its_name(tmp_path: Path) -> None:
    path = tmp_path / "set.csv"

    def record() -> None:
        with RecordingWriter(path) as writer:
            writer.write(block())
            writer.write(block(gyr=False))

    with pytest.raises(ValueError, match="same columns"):
        record()
    assert not path.exists()


def test_lines_end_either_way_and_more_columns_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "set.csv"
    path.write_bytes(f'\ufeffnote,{HEADER}\r\nhello,0,1.5,{ROW}\r\n\r\n"a, b",1,1.5,{ROW}\r\n'.encode())
    samples = read_recording(path)
    assert samples.seq.tolist() == [0, 1]
    assert samples.device_time_s is None


@pytest.mark.parametrize(
    ("text", "line", "column", "words"),
    [
        ("", 1, None, "empty"),
        (HEADER + "\n", None, None, "no samples"),
        (f"{HEADER.replace('acc_y_m_s2', 'acc_y')}\n0,0,{ROW}\n", 1, "acc_y_m_s2", "missing"),
        (f"{HEADER.replace('gyr_z_rad_s', 'other')}\n0,0,{ROW}\n", 1, "gyr_z_rad_s", "missing"),
        (f"{HEADER},seq\n0,0,{ROW},0\n", 1, "seq", "twice"),
        (f"{HEADER}\n0,0,{ROW}\n1,0,0.1,high,9.8,0,0,0\n", 3, "acc_y_m_s2", "'high' is not a number"),
        (f"{HEADER}\n0,0,{ROW}\n\n1,0,0.1,,9.8,0,0,0\n", 4, "acc_y_m_s2", "'' is not a number"),
        (f"{HEADER}\n0.5,0,{ROW}\n", 2, "seq", "not a whole number"),
        (f"{HEADER}\n0,0,{ROW}\n1,0,0.1\n", 3, None, "3 values in a file of 8 columns"),
        (f"{HEADER}\n0,0,{ROW}\n1,0,nan,0,0,0,0,0\n", 3, "acc_x_m_s2", "not a finite number"),
        (f"{HEADER}\n0,1,{ROW}\n1,1,{ROW}\n\n2,0.9,{ROW}\n", 5, "host_time_s", "time runs backwards"),
        (f"{HEADER}\n0,1,{ROW}\n0,1,{ROW}\n", 3, "seq", "does not increase"),
    ],
)
def test_a_bad_csv_file_is_refused_with_line_and_column(
    tmp_path: Path, text: str, line: int | None, column: str | None, words: str
) -> None:
    error = refusal(tmp_path / "bad.csv", text)
    assert (error.line, error.column) == (line, column)
    assert words in str(error)
    assert line is None or f"line {line}" in str(error)


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    error = refusal(tmp_path / "bad.csv", f"{HEADER}\n0,0,{ROW}\n1,0,".encode() + b"\xff\xfe,1,2,3,4,5\n")
    assert (error.line, error.column) == (3, "acc_x_m_s2")


@given(junk=st.binary(max_size=200))
@settings(max_examples=60, deadline=None)
@pytest.mark.parametrize("name", ["junk.csv", "junk.parquet"])
def test_any_bytes_are_refused_in_one_line(
    tmp_path_factory: pytest.TempPathFactory, name: str, junk: bytes
) -> None:
    refusal(tmp_path_factory.mktemp("junk") / name, junk)


def test_a_missing_file_is_said_to_be_missing(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="No such file"):
        read_recording(tmp_path / "none.csv")
    with pytest.raises(RecordingError, match=r"none\.parquet"):
        read_recording(tmp_path / "none.parquet")


def test_a_bad_parquet_file_is_refused_with_row_and_column(tmp_path: Path) -> None:
    path = tmp_path / "bad.parquet"
    columns = {name: [0.0, 1.0, 2.0] for name in HEADER.split(",")[1:]}
    parquet.write_table(pa.table({"seq": [0, 1, 1], **columns}), path)
    with pytest.raises(RecordingError, match="row 3, column seq: the sample counter does not increase"):
        read_recording(path)
    parquet.write_table(pa.table({"seq": [0, 1, 2], **columns, "acc_x_m_s2": ["a", "b", "c"]}), path)
    with pytest.raises(RecordingError, match="column acc_x_m_s2: text"):
        read_recording(path)
    parquet.write_table(pa.table({"seq": [0, None, 2], **columns}), path)
    with pytest.raises(RecordingError, match="row 2, column seq: a value is missing"):
        read_recording(path)
