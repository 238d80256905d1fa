"""`python -m tests.validation`: the accuracy figures, as a table with plots under validation-output/.

Everything is simulated on held-out seeds but the last block, which is real sensors. Takes some minutes; `--sets 20`
is quicker and rougher.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Annotated

import numpy as np
import typer
from rich.console import Console
from rich.progress import Progress
from rich.table import Table

from tests.validation.jumps import report as report_jumps
from tests.validation.outcome import Outcome, compare, streamed
from tests.validation.plots import plot_errors
from tests.validation.readiness import report as report_readiness
from tests.validation.real import real_table
from tests.validation.scenarios import CONDITIONS, Condition, Goal, cases, no_lift_cases
from tests.validation.squad_day import report as report_squad_day
from tests.validation.textbook import textbook

OUTPUT = Path("validation-output")
_PARTS = 4


def main(
    sets: Annotated[int, typer.Option(help="Simulated sets a condition; 80 give at least 300 reps.")] = 80,
    no_lift_minutes: Annotated[int, typer.Option(help="Minutes at the rack without a lift.")] = 30,
    processes: Annotated[int, typer.Option(help="Processes to share the work.")] = 2,
) -> None:
    """Print the accuracy table and leave plots in validation-output/."""
    console = Console(width=210)
    OUTPUT.mkdir(exist_ok=True)
    outcomes: dict[str, Outcome] = {}
    yardsticks: dict[str, Outcome] = {}
    with (
        ProcessPoolExecutor(processes) as pool,
        Progress(console=Console(stderr=True), transient=True) as progress,
    ):
        ours = {c.name: [pool.submit(_part, c, sets, part) for part in range(_PARTS)] for c in CONDITIONS}
        nothing = pool.submit(_nothing, no_lift_minutes * 60.0)
        theirs = {c.name: pool.submit(_yardstick, c, sets // 4) for c in CONDITIONS if c.lost_share == 0}
        for condition in progress.track(CONDITIONS, description="conditions"):
            outcomes[condition.name] = _joined([future.result() for future in ours[condition.name]])
        no_lift = nothing.result()
        yardsticks = {name: future.result() for name, future in theirs.items()}
    console.print(_table(outcomes, no_lift, no_lift_minutes))
    console.print(_yardstick_table(yardsticks))
    console.print(real_table())
    plot_errors(outcomes, OUTPUT / "errors.png")
    console.print(f"Plots in {OUTPUT}/")
    report_readiness(console)
    report_jumps(console)
    report_squad_day(console)


def _part(condition: Condition, sets: int, part: int) -> Outcome:
    return compare(cases(condition, sets, part, _PARTS), streamed, calibrated=condition.calibrated)


def _nothing(seconds: float) -> Outcome:
    return compare(no_lift_cases(seconds))


def _yardstick(condition: Condition, sets: int) -> Outcome:
    return compare(cases(condition, sets), textbook)


def _joined(parts: list[Outcome]) -> Outcome:
    whole = Outcome()
    for part in parts:
        whole.add(part)
    return whole


def _table(outcomes: dict[str, Outcome], no_lift: Outcome, minutes: int) -> Table:
    table = Table(title="Simulated, held-out seeds. Error = station - truth. A star: goal not reached.")
    heads = (
        "condition",
        "reps",
        "missed",
        "invented",
        "not measured (a quarter lost at most)",
        "failed found",
        "MV SD",
        "at best",
        "MV mean",
    )
    for head in (*heads, "final after, 95 %", "covered by ±U", "median U", "PV mean / SD", "MPV mean / SD"):
        table.add_column(head, justify="left" if head == "condition" else "right")
    for condition in CONDITIONS:
        table.add_row(*_row(condition.name, outcomes[condition.name], condition.goal))
    table.add_row(f"no lift, {minutes} min", "0", "", _starred(str(no_lift.invented), no_lift.invented > 0))
    return table


def _row(name: str, o: Outcome, goal: Goal) -> list[str]:
    e, u, d = o.column(0), o.column(1), o.column(2)
    sd, mean, late = float(e.std(ddof=1)), float(e.mean()), float(np.percentile(d, 95))
    covered, median = float((np.abs(e) < u).mean()), float(np.median(u))
    return [
        name,
        str(len(e)),
        _starred(str(o.missed), goal.missed is not None and o.missed > goal.missed * o.true),
        _starred(str(o.invented), goal.invented is not None and o.invented > goal.invented * o.true),
        _starred(
            _not_measured(o), goal.missed is not None and o.missed + o.little_lost > goal.missed * o.true
        ),
        _starred(f"{o.failed_found}/{o.failed_true}", o.failed_found != o.failed_true),
        _starred(f"{sd:.4f}", goal.sd_m_s is not None and sd > goal.sd_m_s),
        f"{o.column(8).std(ddof=1):.4f}",
        _starred(f"{mean:+.4f}", goal.mean_m_s is not None and abs(mean) > goal.mean_m_s),
        _starred(f"{late:.2f} s", goal.final_after_s is not None and late > goal.final_after_s),
        _starred(f"{100 * covered:.1f} %", goal.sd_m_s is not None and not 0.93 <= covered <= 0.98),
        _starred(f"{median:.4f}", goal.sd_m_s is not None and median >= 3 * sd),
        f"{o.column(4).mean():+.4f} / {o.column(4).std():.4f}",
        f"{o.column(5).mean():+.4f} / {o.column(5).std():.4f}",
    ]


def _not_measured(o: Outcome) -> str:
    return f"{o.not_measured} ({o.little_lost})" if o.not_measured else "0"


def _yardstick_table(outcomes: dict[str, Outcome]) -> Table:
    table = Table(title="The textbook method on a quarter of the same cases (whole file at once, true clock)")
    for head in ("condition", "reps", "missed", "invented", "MV SD", "MV mean"):
        table.add_column(head, justify="left" if head == "condition" else "right")
    for name, o in outcomes.items():
        e = o.column(0)
        spread = [f"{e.std(ddof=1):.4f}", f"{e.mean():+.4f}"] if len(e) > 1 else ["", ""]
        table.add_row(name, str(len(e)), str(o.missed), str(o.invented), *spread)
    return table


def _starred(text: str, star: bool) -> str:
    return f"{text} *" if star else text


if __name__ == "__main__":
    typer.run(main)
