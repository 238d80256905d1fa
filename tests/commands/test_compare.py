"""`compare`: our repetitions beside a reference device's, matched by number or by time; bad input in one sentence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

pytest.importorskip("PySide6")

from station.commands.app import app

SPEEDS = [0.92, 0.85, 0.77, 0.71, 0.64]


def ours(folder: Path, speeds: list[float] = SPEEDS) -> Path:
    events = [{"file": "set.csv", "event": "gap", "start_time_s": 1.0}]
    for number, speed in enumerate(speeds, start=1):
        times = {"start_time_s": 3.0 * number, "end_time_s": 3.0 * number + 0.8}
        events.append(
            {"file": "set.csv", "event": "rep", "number": number, "mean_velocity_m_s": speed, **times}
        )
    path = folder / "reps.jsonl"
    path.write_text("".join(json.dumps(event) + "\n" for event in events))
    return path


def compare(*words: str | Path) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, ["compare", *map(str, words)])
    return result.exit_code, result.stdout, result.stderr


def test_repetitions_are_matched_by_number_and_drawn(tmp_path: Path) -> None:
    table = tmp_path / "reference.csv"
    rows = [f"{number},{speed - 0.01:.3f}" for number, speed in enumerate(SPEEDS, start=1)]
    table.write_text("number,mean_velocity_m_s\n" + "\n".join(rows) + "\n9,0.5\n")
    plot = tmp_path / "plot.png"
    status, out, _ = compare(ours(tmp_path), table, "--plot", plot)
    assert status == 0
    assert "5 repetitions compared; 0 of ours and 1 of the reference" in out
    assert "Bias (ours minus reference) +0.0100 m/s" in out
    assert "meets the published criterion of 0.07 m/s" in out
    assert plot.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    "numbers", [[1, 2, 3, 1, 2], [1, 2, 3, 4, 5]], ids=["a set at a time", "through all sets"]
)
def test_the_numbers_of_a_second_set_are_not_taken_for_the_first(tmp_path: Path, numbers: list[int]) -> None:
    mine = ours(tmp_path)
    events = [json.loads(line) for line in mine.read_text().splitlines()]
    for event, number in zip(events[1:], [1, 2, 3, 1, 2], strict=True):
        event["number"] = number
    mine.write_text("".join(json.dumps(event) + "\n" for event in events))
    table = tmp_path / "reference.csv"
    rows = [f"{number},{speed - 0.01:.3f}" for number, speed in zip(numbers, SPEEDS, strict=True)]
    table.write_text("number,mean_velocity_m_s\n" + "\n".join(rows) + "\n")
    status, out, _ = compare(mine, table, "--plot", tmp_path / "plot.png")
    assert status == 0
    assert "5 repetitions compared; 0 of ours and 0 of the reference" in out
    assert "SD of the differences 0.0000 m/s" in out


def test_another_clock_is_no_hindrance(tmp_path: Path) -> None:
    table = tmp_path / "reference.csv"
    times = [
        3.0 * number + 0.4 + 1000.0 for number in (1, 2, 4, 5)
    ]  # the third was not seen by the reference
    speeds = [0.90, 0.86, 0.70, 0.65]
    table.write_text(
        "time_s,mean_velocity_m_s\n" + "".join(f"{t},{v}\n" for t, v in zip(times, speeds, strict=True))
    )
    status, out, _ = compare(ours(tmp_path), table, "--plot", tmp_path / "plot.png")
    assert status == 0
    assert "4 repetitions compared; 1 of ours and 0 of the reference" in out


def test_repeated_days_give_the_typical_error(tmp_path: Path) -> None:
    table = tmp_path / "reference.csv"
    rows = [f"{n},{v},2026-09-0{n},A,back squat,100" for n, v in enumerate(SPEEDS, start=1)]
    table.write_text("number,mean_velocity_m_s,day,athlete_id,lift,load_kg\n" + "\n".join(rows) + "\n")
    status, out, _ = compare(ours(tmp_path), table, "--plot", tmp_path / "plot.png")
    assert status == 0
    assert "Day to day, ours: typical error" in out
    assert "over 4 changes" in out


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("speed\n0.5\n", "line 1: the columns mean_velocity_m_s and number or time_s are needed"),
        ("number,mean_velocity_m_s\n1,fast\n", "line 2"),
        ("number,mean_velocity_m_s\n1,0.5\n2,-3\n", "line 3: a velocity in m/s"),
        ("number,mean_velocity_m_s\n1,0.5\n", "there are 1"),
    ],
)
def test_a_bad_table_is_named_by_line(tmp_path: Path, text: str, says: str) -> None:
    table = tmp_path / "reference.csv"
    table.write_text(text)
    status, _, err = compare(ours(tmp_path), table)
    assert status == 2
    assert says in err
    assert len(err.strip().splitlines()) == 1


def test_what_is_no_event_is_named_by_line(tmp_path: Path) -> None:
    bad = tmp_path / "bad.jsonl"
    bad.write_text('{"event": "set_end"}\nnonsense\n')
    table = tmp_path / "reference.csv"
    table.write_text("number,mean_velocity_m_s\n1,0.5\n")
    status, _, err = compare(bad, table)
    assert status == 2
    assert "line 2" in err
