"""An athlete's own copy as a PDF that can be read without the station: training, jumps, check-ins, all else."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from itertools import groupby
from pathlib import Path

from PySide6.QtGui import QFont, QTextDocument

from station.screens.a4_pdf import RESOLUTION, a4_pdf
from station.screens.squad_print import STYLE
from station.screens.typeface import FAMILY
from station.squad.checkins import ITEMS, CheckIn
from station.store.own_copy import OwnCopy
from station.store.rows import RepRow, SetRow

TEXT_PT = 9.0
CAUTION = (
    "Figures support the judgement of qualified staff. They are neither a diagnosis, nor a forecast of injury, nor "
    "medical clearance."
)
ABOUT = (
    "This is everything the station's records hold about you, but for the sensor's raw samples, which you can ask "
    "for. Making this copy erased nothing."
)
WORDS = {
    "athletes": "Name and number",
    "plans": "Plans",
    "lift_plans": "Plans",
    "lift_targets": "Target velocities",
    "roster_changes": "Changes of the roster",
    "training_statuses": "Training status",
    "appearances": "Matches",
    "consents": "Consent to check-ins",
    "load_holds": "Days on which no load was suggested",
    "check_in_marks": "Days with a check-in",
    "badges": "Badges",
    "comments": "What staff wrote about sets",
    "decisions": "What was suggested, and decided",
    "corrections": "Corrections of sets, reps and jumps",
    "entry_events": "What staff noted about entries on the day's list",
}
_NOT_FOR_READERS = ("id", "athlete_id", "set_id", "target_id", "born_at", "rack")


def print_own_copy(copy: OwnCopy, file: Path) -> Path:
    """Write the PDF.

    Raises:
        PrintFailed: the file cannot be written.
    """
    writer = a4_pdf(file, f"Own copy, {copy.name}")
    document = QTextDocument()
    document.documentLayout().setPaintDevice(writer)
    document.setDocumentMargin(0)
    document.setDefaultStyleSheet(STYLE)
    face = QFont(FAMILY)
    face.setPointSizeF(TEXT_PT)
    document.setDefaultFont(face)
    document.setHtml(_html(copy))
    document.setPageSize(writer.pageLayout().paintRectPixels(RESOLUTION).size().toSizeF())
    document.print_(writer)
    return file


def _html(copy: OwnCopy) -> str:
    parts = [
        f"<p class='title'>{escape(copy.name)}: own copy of {copy.day:%d %B %Y}</p>",
        f"<p>{escape(ABOUT)} {escape(CAUTION)}</p>",
    ]
    parts += _part(
        "Sets", ("day", "lift", "load", "", "mean velocity of each rep, m/s"), map(_set, copy.sets)
    )
    heights = [
        (
            str(day),
            ", ".join(
                f"{100 * trial.height_m:.1f}" + ("" if trial.valid else " (no)") for trial in day_trials
            ),
        )
        for day, day_trials in groupby(copy.jumps, key=lambda trial: trial.day)
    ]
    parts += _part("Jumps", ("day", "height of each, cm"), heights)
    parts += _part(
        "Check-ins",
        ("day", "answers, 1 (worst) to 5 (best)", "what else was said"),
        map(_said, copy.check_ins),
    )
    for table, rows in copy.others.items():
        columns = [name for name in rows[0] if name not in _NOT_FOR_READERS]
        body = [[str(row["born_at"].date()), *(_cell(row[name]) for name in columns)] for row in rows]
        heads = ["written", *(_head(name) for name in columns)]
        parts += _part(WORDS.get(table, table.replace("_", " ")), heads, body)
    return "".join(parts)


def _set(found: tuple[SetRow, tuple[RepRow, ...]]) -> tuple[str, ...]:
    row, reps = found
    return (str(row.day), row.lift, f"{row.load_kg:g} kg", row.kind, ", ".join(_rep(rep) for rep in reps))


def _rep(rep: RepRow) -> str:
    words = f"{rep.mean_velocity_m_s:.2f}" if rep.mean_velocity_m_s is not None else rep.status
    words += " (measured again)" if rep.engine_version else ""
    return f"{words} (struck out)" if rep.struck else words


def _said(one: CheckIn) -> tuple[str, ...]:
    answers = ", ".join(
        f"{item.question.lower()} {one.answers[item.key]}" for item in ITEMS if item.key in one.answers
    )
    more = [pain.in_words() for pain in one.pains]
    more += ["feels ill"] * one.ill + ["wants to talk"] * one.wants_talk
    more += [f"slept {one.hours_slept:g} h"] if one.hours_slept is not None else []
    return str(one.day), answers or one.kind.value, "; ".join([*more, one.note] if one.note else more)


def _part(title: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    body = list(rows)
    if not body:
        return []
    head = "".join(f"<td><span class='strong'>{escape(words)}</span></td>" for words in heads)
    lines = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in body)
    table = f"<table width='100%' cellpadding='2'><tr>{head}</tr>{lines}</table>"
    return [f"<p class='head' style='margin-top: 12px'>{escape(title)}</p>{table}"]


def _head(column: str) -> str:
    """A column's name in words: "ceiling, kg"."""
    for ending, unit in (("_kg", ", kg"), ("_m_s", ", m/s"), ("_m", ", m"), ("_s", ", s")):
        if column.endswith(ending):
            return column.removesuffix(ending).replace("_", " ") + unit
    return column.replace("_", " ")


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict) and set(value) == {"to"}:
        return _cell(value["to"])
    if isinstance(value, list | tuple):
        return ", ".join(_cell(one) for one in value)
    return "" if value is None else str(value)
