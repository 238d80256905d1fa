"""`assess`: one object an athlete and lift, every key; bad rows named and left out; an unreadable file is 2."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from station.commands.app import app
from tests.readiness.histories import DAY, LIFT, steady

KEYS = (
    "athlete_id lift load_kg mean_velocity_m_s usual_low_m_s usual_high_m_s verdict probability_slower "
    "probability_faster sessions_in_history today_1rm_kg today_1rm_low_kg today_1rm_high_kg planned_load_kg "
    "suggested_load_kg reason"
).split()
HEAD = "athlete_id,day,lift,load_kg,mean_velocity_m_s"


def row(day: object, load: float, velocity: float, athlete: str = "a", more: str = "") -> str:
    return f"{athlete},{day},{LIFT},{load},{velocity}{more}"


HISTORY = [row(s.day, s.load_kg, s.mean_velocity_m_s) for s in steady(8)]


def run(
    folder: Path, rows: list[str], *, plan: str | None = None, head: str = HEAD, form: str = "jsonl"
) -> tuple[int, list[dict[str, Any]], str]:
    sets = folder / "sets.csv"
    sets.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    arguments = ["assess", str(sets), "--day", str(DAY), "--format", form]
    if plan is not None:
        (folder / "plan.csv").write_text(plan, encoding="utf-8")
        arguments += ["--plan", str(folder / "plan.csv")]
    result = CliRunner().invoke(app, arguments)
    objects = [json.loads(line) for line in result.stdout.splitlines()] if form == "jsonl" else []
    return result.exit_code, objects, result.stderr if form == "jsonl" else result.stdout


PLAN = f"athlete_id,lift,planned_load_kg,ceiling_kg,warmup_load_kg\na,{LIFT},95,100,60\n"


def test_a_slow_day_with_a_plan(tmp_path: Path) -> None:
    status, (one,), _ = run(tmp_path, [*HISTORY, row(DAY, 60, 0.88)], plan=PLAN)
    assert status == 0
    assert list(one) == KEYS
    assert one["verdict"] == "slower"
    assert one["sessions_in_history"] == 8
    assert one["mean_velocity_m_s"] == 0.88 < one["usual_low_m_s"] < one["usual_high_m_s"]
    assert one["probability_slower"] > one["probability_faster"]
    assert one["today_1rm_low_kg"] < one["today_1rm_kg"] < one["today_1rm_high_kg"]
    assert 85.5 <= one["suggested_load_kg"] < one["planned_load_kg"] == 95
    assert one["reason"].startswith("Ease to")


def test_without_a_plan_the_load_with_most_days_is_the_warm_up_ties_to_the_heavier(tmp_path: Path) -> None:
    _, (one,), _ = run(tmp_path, [*HISTORY, row(DAY, 60, 1.0), row(DAY, 95, 0.6)])
    assert one["load_kg"] == 95
    assert one["planned_load_kg"] is one["suggested_load_kg"] is None
    assert one["reason"].startswith("Ask a coach before you load.")


def test_a_set_after_a_heavier_one_is_not_judged(tmp_path: Path) -> None:
    _, (one,), _ = run(tmp_path, [*HISTORY, row(DAY, 95, 0.6), row(DAY, 60, 0.7)], plan=PLAN)
    assert list(one) == KEYS
    assert one["verdict"] is one["load_kg"] is one["mean_velocity_m_s"] is one["today_1rm_kg"] is None
    assert "before a heavier one" in one["reason"]


def test_two_earlier_sessions_are_too_little_history(tmp_path: Path) -> None:
    _, (one,), _ = run(tmp_path, [*HISTORY[:4], row(DAY, 60, 0.7)], plan=PLAN)
    assert one["verdict"] == "too little history"
    assert one["usual_low_m_s"] < one["usual_high_m_s"]
    assert one["suggested_load_kg"] == 95


def test_a_first_day_is_too_little_history_as_well(tmp_path: Path) -> None:
    _, (one,), _ = run(tmp_path, [row(DAY, 60, 0.7)])
    assert one["verdict"] == "too little history"
    assert one["sessions_in_history"] == 0


def test_of_two_sessions_the_last_is_judged_and_the_first_is_history(tmp_path: Path) -> None:
    rows = [f"{r}," for r in HISTORY] + [row(DAY, 60, 1.0, more=",1"), row(DAY, 60, 0.85, more=",2")]
    _, (one,), _ = run(tmp_path, rows, plan=PLAN, head=f"{HEAD},session")
    assert one["mean_velocity_m_s"] == 0.85
    assert one["sessions_in_history"] == 9


def test_a_set_at_another_depth_is_shown_as_not_judged(tmp_path: Path) -> None:
    rows = [f"{r},0.60" for r in HISTORY] + [row(DAY, 60, 1.3, more=",0.45")]
    _, (one,), _ = run(tmp_path, rows, plan=PLAN, head=f"{HEAD},displacement_m")
    assert one["verdict"] is None
    assert "different depth" in one["reason"]


def test_bad_rows_are_named_by_line_and_left_out(tmp_path: Path) -> None:
    bad = [
        "a,yesterday,back squat,60,1.0",
        "a,2026-10-01,curl,60,1.0",
        row(DAY, -5, 1.0),
        "a,2026-10-01,back squat,60,nan",
    ]
    status, objects, said = run(tmp_path, [*bad, *HISTORY, row(DAY, 60, 1.0)], plan=PLAN)
    assert status == 0
    assert len(objects) == 1
    assert [f"line {n}" in said for n in (2, 3, 4, 5)] == [True] * 4
    assert "4 rows left out" in said


@pytest.mark.parametrize("rows", [["no", "columns"], []])
def test_an_unreadable_file_is_status_two(tmp_path: Path, rows: list[str]) -> None:
    status, objects, said = run(tmp_path, rows, head="athlete,when")
    assert status == 2
    assert not objects
    assert "column athlete_id, day, lift, load_kg, mean_velocity_m_s is missing" in said


def test_a_missing_file_and_bytes_that_are_no_text_are_status_two(tmp_path: Path) -> None:
    (tmp_path / "bytes.csv").write_bytes(b"\xff\xfe\x00\x81" * 50)
    for name in ("nowhere.csv", "bytes.csv"):
        result = CliRunner().invoke(app, ["assess", str(tmp_path / name), "--day", str(DAY)])
        assert result.exit_code == 2
        assert name in result.stderr
        assert len(result.stderr.strip().splitlines()) == 1


def test_rows_after_the_day_are_not_looked_at(tmp_path: Path) -> None:
    later = [row(DAY + timedelta(days=7), 60, 0.2)]
    with_later = run(tmp_path, [*HISTORY, row(DAY, 60, 1.0), *later], plan=PLAN)[1]
    assert with_later == run(tmp_path, [*HISTORY, row(DAY, 60, 1.0)], plan=PLAN)[1]


def test_the_table_is_for_reading(tmp_path: Path) -> None:
    status, _, text = run(tmp_path, [*HISTORY, row(DAY, 60, 0.88)], plan=PLAN, form="table")
    assert status == 0
    assert "verdict" in text
    assert "slower" in text
