"""Raw samples of jumps: kept with each jump, measured again by another engine, gone with an erased athlete."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from simulated_sensor.jump_path import PlannedJump
from simulated_sensor.jumps import make_jump_trace
from station.capture.jump_raw import KEPT_S, LatestSamples
from station.capture.link_news import LinkNews
from station.capture.rack_view import SensorLine
from station.capture.remeasure_jumps import measure_jump_again
from station.commands.app import app
from station.motion.calibration import Calibration
from station.store.backup import make_backup, read_manifest
from station.store.erasure import erase_athlete
from station.store.kept_raw import KeptJump, kept_jumps
from station.store.raw_files import forget_old_raw, raw_space, read_raw
from station.store.record import Record
from station.store.sensor_book import SensorBook
from tests.capture.test_jump_line import DAY, blocks, feed, line_of
from tests.capture.test_jump_line import record as record
from tests.store.squad_record import samples

HEIGHTS_M = (0.31, 0.36)


@pytest.fixture
def jumped(record: Record) -> Record:
    """A record with two jumps of the first in line."""
    line, _ = line_of(record)
    feed(line, make_jump_trace([PlannedJump(h, 0.3) for h in HEIGHTS_M], seed=4)[0])
    return record


def kept(record: Record) -> list[KeptJump]:
    return kept_jumps(record.database.engine)


def test_each_jump_has_its_raw_samples_as_they_came(jumped: Record) -> None:
    both = kept(jumped)
    assert [round(one.height_m, 2) for one in both] == pytest.approx(HEIGHTS_M, abs=0.011)
    raw = [read_raw(jumped.database.folder, one.file, one.sha256) for one in both]
    sent = make_jump_trace([PlannedJump(h, 0.3) for h in HEIGHTS_M], seed=4)[0]
    for block in raw:
        assert block.gyr_rad_s is not None
        assert np.array_equal(block.acc_m_s2, sent.acc_m_s2[block.seq])
        assert block.host_time_s[-1] - block.host_time_s[0] <= KEPT_S + 0.5


def test_the_same_engine_finds_the_same_height_again(jumped: Record) -> None:
    again = [measure_jump_again(jumped.database.folder, one) for one in kept(jumped)]
    assert [one.trouble for one in again] == ["", ""]
    for one in again:
        # Ten seconds and not the whole morning: the clock's rate is known less well.
        assert one.height_m == pytest.approx(one.kept.height_m, abs=0.003)


def test_a_jump_whose_file_was_changed_is_said_and_not_measured(jumped: Record) -> None:
    first = kept(jumped)[0]
    file = jumped.database.folder / "raw" / first.file
    file.write_bytes(file.read_bytes()[:-1])
    assert "checksum" in measure_jump_again(jumped.database.folder, first).trouble


def test_the_command_sets_old_beside_new(jumped: Record, tmp_path: Path) -> None:
    name = jumped.database.folder.name
    jumped.close()
    result = CliRunner().invoke(app, ["remeasure", "--data", str(tmp_path), "--rack", name])
    assert result.exit_code == 0
    assert result.stdout.count("jump  then 3") == 2
    assert "0 sets and 2 jumps measured again, 0 with other figures" in " ".join(result.stderr.split())


def test_a_calibrated_belt_is_measured_with_its_calibration_and_the_jump_keeps_it(record: Record) -> None:
    calibration = Calibration(np.array([0.1, -0.2, 0.05]), np.eye(3), 9.81, 0.01)
    SensorBook(record.database.folder.parent).calibrated("AA:BB", "Belt 1", calibration.as_row())
    line, _ = line_of(record)
    line.link(LinkNews(SensorLine("Belt 1", "streaming", True, 80), address="AA:BB"))
    feed(line, make_jump_trace([PlannedJump(0.35)], seed=4)[0])
    (one,) = kept(record)
    assert one.calibration == calibration.as_row()


def test_a_folder_that_refuses_loses_the_samples_and_not_the_jump(record: Record) -> None:
    (record.database.folder / "raw").write_text("a file where a folder belongs")
    line, shown = line_of(record)
    feed(line, make_jump_trace([PlannedJump(0.35)], seed=4)[0])
    assert len(shown.last.trials) == 1
    assert kept(record) == []
    (said,) = [t.words for t in shown.last.troubles if t.kind == "raw"]
    assert said.startswith("Raw samples of the last jump are not kept")


def test_they_are_backed_up_give_way_after_two_seasons_and_their_room_is_known(
    jumped: Record, tmp_path: Path
) -> None:
    folder = jumped.database.folder
    assert (raw_space(folder).files, raw_space(folder).oldest) == (2, DAY)
    made = make_backup(folder, tmp_path / "backups", jumped._now())
    assert set(read_manifest(made).raw) == {one.file for one in kept(jumped)}
    assert forget_old_raw(folder, DAY) == []
    assert len(forget_old_raw(folder, DAY.replace(year=DAY.year + 3))) == 2
    assert len(kept(jumped)) == 2  # the jumps stay


def test_they_go_with_an_erased_athlete_and_others_stay(jumped: Record) -> None:
    line, _ = line_of(jumped)
    line.jumps_now("b")
    feed(line, make_jump_trace([PlannedJump(0.4)], seed=5)[0])
    raw = jumped.database.folder / "raw"
    assert len(list(raw.iterdir())) == 3
    erase_athlete(jumped, "a", DAY)
    assert [file.name for file in raw.iterdir()] == [one.file for one in kept(jumped)]
    assert len(kept(jumped)) == 1


def test_a_sensor_that_counts_anew_begins_another_recording() -> None:
    latest = LatestSamples()
    assert latest.held() is None
    latest.add(samples(100))
    latest.add(samples(50, start=100))
    held = latest.held()
    assert held is not None
    assert len(held) == 150
    latest.add(samples(20))
    held = latest.held()
    assert held is not None
    assert list(held.seq) == list(range(20))


def test_the_oldest_samples_give_way() -> None:
    latest = LatestSamples()
    for block in blocks(make_jump_trace([PlannedJump(0.3)] * 4, seed=1)[0]):
        latest.add(block)
    held = latest.held()
    assert held is not None
    assert KEPT_S <= held.host_time_s[-1] - held.host_time_s[0] < KEPT_S + 0.5
