"""Raw samples of a set survive a power cut up to the last second, and come back as they were."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.recording import read_recording
from drivers.samples import SampleBlock
from station.store.journal import RawJournal, finish_journal, left_over, read_journal


def block(start: int, n: int, gyro: bool = True, device_time: bool = False) -> SampleBlock:
    rng = np.random.default_rng(start)
    return SampleBlock(
        np.arange(start, start + n),
        np.full(n, start / 200.0),
        rng.normal(0, 10, (n, 3)),
        rng.normal(0, 1, (n, 3)) if gyro else None,
        np.arange(start, start + n) / 200.0 if device_time else None,
    )


@pytest.mark.parametrize("gyro", [True, False])
@pytest.mark.parametrize("device_time", [True, False])
def test_samples_come_back_to_the_bit(tmp_path: Path, gyro: bool, device_time: bool) -> None:
    journal = RawJournal(tmp_path, "set-1")
    parts = [block(0, 10, gyro, device_time), block(10, 7, gyro, device_time)]
    for part in parts:
        journal.append(part)
    file = journal.finish()
    assert file is not None
    back = read_recording(tmp_path / file.file)
    assert np.array_equal(back.acc_m_s2, np.vstack([p.acc_m_s2 for p in parts]))
    assert np.array_equal(back.seq, np.arange(17))
    assert (back.gyr_rad_s is not None) == gyro
    assert (back.device_time_s is not None) == device_time
    assert file.sha256 == hashlib.sha256((tmp_path / file.file).read_bytes()).hexdigest()
    assert not left_over(tmp_path)


def test_what_was_synced_is_there_without_finishing(tmp_path: Path) -> None:
    journal = RawJournal(tmp_path, "set-1")
    journal.append(block(0, 200))
    journal.sync()
    (left,) = left_over(tmp_path)
    got = read_journal(left)
    assert got is not None
    assert len(got) == 200
    journal.finish()


@settings(max_examples=40, deadline=None)
@given(cut=st.integers(0, 2 + 4 + 50 * 64))
def test_a_journal_cut_off_anywhere_gives_its_whole_rows(
    tmp_path_factory: pytest.TempPathFactory, cut: int
) -> None:
    folder = tmp_path_factory.mktemp("journal")
    journal = RawJournal(folder, "set-1")
    journal.append(block(0, 50))
    journal.sync()
    (left,) = left_over(folder)
    left.write_bytes(left.read_bytes()[:cut])
    got = read_journal(left)
    assert (0 if got is None else len(got)) == max(cut - 6, 0) // 64
    journal._file.close()


def test_a_left_over_journal_is_finished_at_the_next_start(tmp_path: Path) -> None:
    journal = RawJournal(tmp_path, "set-1")
    journal.append(block(0, 30))
    journal.sync()
    journal._file.close()
    (left,) = left_over(tmp_path)
    file = finish_journal(left)
    assert file is not None
    assert file.samples == 30
    assert not left_over(tmp_path)


def test_an_empty_journal_leaves_no_file(tmp_path: Path) -> None:
    assert RawJournal(tmp_path, "set-1").finish() is None
    assert list(tmp_path.iterdir()) == []


def test_a_gyro_that_falls_out_in_mid_set_leaves_holes_not_errors(tmp_path: Path) -> None:
    journal = RawJournal(tmp_path, "set-1")
    journal.append(block(0, 5, gyro=True))
    journal.append(block(5, 5, gyro=False))
    journal.sync()
    got = read_journal(journal.path)
    assert got is not None
    assert got.gyr_rad_s is not None
    assert np.isnan(got.gyr_rad_s[5:]).all()
    journal.finish()
