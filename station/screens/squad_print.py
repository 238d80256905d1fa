"""The day's list on one page: for the morning meeting, and without health data for the coaches."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from html import escape
from pathlib import Path

from PySide6.QtGui import QFont, QPdfWriter, QTextDocument

from station.capture.squad_day import SquadDay
from station.readiness.squad_list import Entry, squad_list, without_health
from station.readiness.squad_rules import SquadRules
from station.readiness.squad_values import Place
from station.screens.a4_pdf import RESOLUTION, a4_pdf
from station.screens.squad_wording import (
    CAUTION,
    chance_words,
    counted_words,
    handled_words,
    heading,
    reason_words,
    stamp,
    status_words,
    title_words,
    unwell_words,
    who_words,
)
from station.screens.typeface import FAMILY

LARGEST_PT, SMALLEST_PT, STEP_PT = 10.0, 4.0, 0.5
# The typeface's own semi-bold, not a thickened one; italics it has none.
STYLE = ".title, .head, .strong { font-weight: 600; } .title { font-size: large; } p { margin: 0 0 6px 0; }"


def print_page(
    day: SquadDay, now: datetime, file: Path, *, coaches: bool = False, rules: SquadRules | None = None
) -> Path:
    """Write the one page.

    Args:
        now: stands on the page.
        coaches: without anything from check-ins: as if nobody had been asked how they feel.

    Raises:
        PrintFailed: the file cannot be written.
    """
    made = squad_list(without_health(day.athletes), now, rules) if coaches else day.list
    page = SquadDay(made, day.athletes, day.match_day, day.jump_line, day.roles)
    writer = a4_pdf(file, "Squad day" + (", coaches" if coaches else ""))
    document = _fitting(_html(page, now, coaches=coaches), writer)
    document.print_(writer)
    return file


def _fitting(html: str, writer: QPdfWriter) -> QTextDocument:
    """The text in the largest size at which it is one page."""
    document = QTextDocument()
    document.documentLayout().setPaintDevice(writer)
    document.setDocumentMargin(0)
    area = writer.pageLayout().paintRectPixels(RESOLUTION)
    document.setDefaultStyleSheet(STYLE)
    document.setHtml(html)
    size = LARGEST_PT
    while True:
        face = QFont(FAMILY)
        face.setPointSizeF(size)
        document.setDefaultFont(face)
        document.setPageSize(area.size().toSizeF())
        if document.pageCount() == 1 or size <= SMALLEST_PT:
            return document
        size -= STEP_PT


def _html(page: SquadDay, now: datetime, *, coaches: bool) -> str:
    made = page.list
    parts = [f"<p class='title'>{escape(title_words(page))}{': coaches' if coaches else ''}</p>"]
    parts += [f"<p><span class='strong'>{escape(sentence)}</span></p>" for sentence in made.together]
    counts = "" if coaches else f" {unwell_words(made).capitalize()}. {counted_words(made)}"
    parts.append(f"<p>{escape(chance_words(made) + counts)}</p>")
    for place in Place:
        entries = [entry for entry in made.entries if entry.place is place]
        if entries:
            parts.append(f"<p class='head'>{escape(heading(place, len(entries)))}</p>")
            parts.append(_rows(entries) if place in (Place.TALK_FIRST, Place.LOOK_AT) else _names(entries))
    parts.append(f"<p><small>{escape(CAUTION)} Printed {escape(stamp(now))}.</small></p>")
    return "".join(parts)


def _rows(entries: Sequence[Entry]) -> str:
    rows = []
    for entry in entries:
        status = f" ({status_words(entry)})" if status_words(entry) else ""
        who = f"<span class='strong'>{escape(who_words(entry))}</span>{escape(status)}"
        taken = f" <span class='strong'>{escape(handled_words(entry))}</span>" if entry.handled else ""
        rows.append(
            f"<tr><td width='26%'>{who}</td><td width='14%'>{escape(entry.agree)}</td>"
            f"<td>{escape(reason_words(entry))}{taken}</td></tr>"
        )
    return f"<table width='100%' cellpadding='2'>{''.join(rows)}</table>"


def _names(entries: Sequence[Entry]) -> str:
    """Names in a running line, with what is to be said of them."""
    said = []
    for entry in entries:
        more = "; ".join(part for part in (status_words(entry), reason_words(entry)) if part)
        said.append(who_words(entry) + (f" ({more})" if more else ""))
    return f"<p>{escape(', '.join(said))}</p>"
