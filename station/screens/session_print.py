"""A session on paper: every athlete's sets and reps, the warm-up beside the own usual range, what was decided."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from station.capture.rack_view import Unit
from station.capture.session_sheet import PrintedAthlete, PrintedLift, SessionSheet
from station.readiness.plates import load_words
from station.readiness.results import Verdict
from station.readiness.within_set import velocity_loss
from station.screens.a4_flow import SMALL_PT, TITLE_PT, A4Flow
from station.screens.own_copy_print import CAUTION
from station.screens.print_charts import draw_reps
from station.screens.season_print import NOT_TO_TRY
from station.screens.squad_wording import stamp
from station.store.effective import UNCOUNTED_STATUS
from station.store.rows import RepRow, SetRow

HEADS = ("set", "load", "mean velocity of each rep, m/s", "fastest", "loss", "remarks")
SHARES = (0.12, 0.10, 0.40, 0.10, 0.08, 0.20)
CHART_MM = 26.0
ABOUT = (
    "Mean velocity is that of the upward movement, m/s. Dots are reps in order, hollow ones do not count; the band "
    "is the athlete's own usual range at the warm-up load, where the next value is expected with 80 % probability."
)


def print_session(sheet: SessionSheet, file: Path, now: datetime, unit: Unit = "kg") -> Path:
    """Write the PDF.

    Args:
        now: stands on the page.
        unit: of loads.

    Raises:
        PrintFailed: the file cannot be written.
    """
    title = f"Session of {sheet.day:%d %B %Y}{f', {sheet.match_day}' if sheet.match_day else ''}"
    with A4Flow(file, title, f"{CAUTION} Printed {stamp(now)}.") as page:
        page.words(title, TITLE_PT, strong=True)
        count = len({one.name for one in sheet.athletes})
        page.words(
            f"{count} {'athlete' if count == 1 else 'athletes'}; {', '.join(sheet.racks) or 'no rack'}"
        )
        page.words(ABOUT, SMALL_PT)
        if not sheet.athletes:
            page.words("Nothing was lifted on this day.")
        for athlete in sheet.athletes:
            _athlete(page, athlete, unit)
    return file


def _athlete(page: A4Flow, athlete: PrintedAthlete, unit: Unit) -> None:
    page.heading(
        athlete.name + (f", session {athlete.session}" if athlete.session > 1 else ""), 24.0 + CHART_MM
    )
    for one in athlete.lifts:
        page.words(f"{one.lift}: {verdict_words(one, unit)}", strong=True)
        rows = [_row(n, row, reps, unit) for n, (row, reps) in enumerate(one.sets, 1)]
        page.table(HEADS, rows, SHARES)
        _chart(page, one, unit)
        for sentence in (*_maximum(one, unit), *one.decided):
            page.words(sentence)


def verdict_words(one: PrintedLift, unit: Unit) -> str:
    """The warm-up set beside the own usual range, or why nothing can be said."""
    if one.warmup_load_kg is None:
        return "no fixed warm-up load"
    at = f"at {load_words(one.warmup_load_kg, unit)}"
    if one.usual is None or one.verdict is None:
        return f"no counted warm-up set {at}"
    if one.verdict is Verdict.TOO_LITTLE_HISTORY or one.difference_m_s is None:
        return f"too little history {at} ({one.usual.sessions} earlier sessions)"
    usual = f"usual {one.usual.low_m_s:.2f} to {one.usual.high_m_s:.2f} m/s"
    if one.verdict is Verdict.AS_USUAL:
        return f"as usual {at}, {usual}"
    return f"{abs(one.difference_m_s):.2f} m/s {one.verdict} than usual {at}, {usual}"


def _maximum(one: PrintedLift, unit: Unit) -> tuple[str, ...]:
    if one.one_rm_kg is None:
        return ()
    low, middle, high = (load_words(round(kg), unit) for kg in one.one_rm_kg)
    return (f"Estimated 1RM {middle} ({low.split()[0]} to {high}). {NOT_TO_TRY}",)


def _row(n: int, row: SetRow, reps: tuple[RepRow, ...], unit: Unit) -> tuple[str, ...]:
    speeds = [_rep(rep) for rep in reps]
    good = [rep.mean_velocity_m_s for rep in reps if _counts(rep) and rep.mean_velocity_m_s is not None]
    loss = velocity_loss(good)
    remarks = [] if row.full_effort else ["not full effort"]
    remarks += [] if row.name_confirmed or row.athlete_id is None else ["name not confirmed"]
    return (
        f"{n}, {row.kind}",
        load_words(row.load_kg, unit),
        ", ".join(speeds) or "no reps",
        f"{max(good):.2f}" if good else "–",
        f"{100 * loss:.0f} %" if loss is not None and len(good) > 1 else "–",
        ", ".join(remarks),
    )


def _rep(rep: RepRow) -> str:
    if rep.struck:
        return f"({rep.mean_velocity_m_s:.2f} struck)" if rep.mean_velocity_m_s is not None else "(struck)"
    if rep.mean_velocity_m_s is None or rep.status == "failed":
        return rep.status
    return f"{rep.mean_velocity_m_s:.2f}" + ("" if _counts(rep) else f" {rep.status}")


def _counts(rep: RepRow) -> bool:
    return not rep.struck and rep.status not in UNCOUNTED_STATUS and rep.mean_velocity_m_s is not None


def _chart(page: A4Flow, one: PrintedLift, unit: Unit) -> None:
    sets = [
        (
            load_words(row.load_kg, unit),
            [(rep.mean_velocity_m_s, _counts(rep)) for rep in reps if rep.mean_velocity_m_s is not None],
        )
        for row, reps in one.sets
    ]
    drawn = [(words, reps) for words, reps in sets if reps]
    if not drawn:
        return
    usual = (
        one.usual if one.usual is not None and one.usual.enough_history and one.verdict is not None else None
    )
    band = (usual.low_m_s, usual.high_m_s) if usual is not None else None
    page.chart(CHART_MM, lambda painter, box: draw_reps(painter, box, drawn, band))
