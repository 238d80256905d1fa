"""Tables as people bring them: pasted from a spreadsheet (tabs), or a CSV file; columns by name or in order."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Generic, TypeVar

T = TypeVar("T")


class TableError(Exception):
    """The text cannot be read as this table; the message says why and what is wanted."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line: its number as the person sees it, its cells by column, and whose row it is, where it is known."""

    line: int
    cells: dict[str, str]
    key: str | None = None

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "").strip()


@dataclass(frozen=True, slots=True)
class LineError:
    """What is wrong with one line."""

    line: int
    words: str

    def in_words(self) -> str:
        """ "line 3: ..."."""
        return f"line {self.line}: {self.words}"


@dataclass(frozen=True, slots=True)
class Preview(Generic[T]):
    """What a table would change: a sentence and the change itself, and what is wrong with the other lines."""

    changes: tuple[tuple[str, T], ...] = ()
    errors: tuple[LineError, ...] = field(default=())

    @property
    def empty(self) -> bool:
        """Nothing would change."""
        return not self.changes


def read_table(text: str, columns: Sequence[str]) -> list[Row]:
    """Rows of a pasted table or a CSV file; empty lines are left out.

    The first line names the columns, in any order and with others between, when it holds the first one's name; else
    the cells are taken in the order of `columns`. Tabs, semicolons or commas separate, whichever the first line has.

    Raises:
        TableError: there is nothing, or it has fewer columns than the first one needs.
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    if not first:
        raise TableError("there is no line; copy the cells in the spreadsheet first")
    separator = next((mark for mark in ("\t", ";", ",") if mark in first), ",")
    lines = list(csv.reader(io.StringIO(text.removeprefix("\ufeff")), delimiter=separator))
    heads = [_plain(cell) for cell in lines[0]] if lines and lines[0] else []
    named = _plain(columns[0]) in heads
    order = [_known(head, columns) for head in heads] if named else list(columns)
    rows = []
    for number, cells in enumerate(lines, 1):
        if (number == 1 and named) or not any(cell.strip() for cell in cells):
            continue
        rows.append(
            Row(number, {name: cell.strip() for name, cell in zip(order, cells, strict=False) if name})
        )
    return rows


def _plain(head: str) -> str:
    return head.strip().lower().replace(" ", "_")


def _known(head: str, columns: Sequence[str]) -> str:
    return next((column for column in columns if _plain(column) == head), "")


def number_of(text: str, what: str, least: float, most: float) -> float | None:
    """A number, with a comma or a point; None when empty.

    Raises:
        ValueError: it is none, or out of range; the message names it.
    """
    if not text:
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise ValueError(f"{what} {text!r} is not a number") from None
    if not least <= value <= most:
        raise ValueError(f"{what} {text} is not between {least:g} and {most:g}")
    return value
