"""Words, tables and charts one below the other on A4 pages, as vectors; a part that has no room begins a new page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter

from station.screens.a4_pdf import RESOLUTION, a4_pdf
from station.screens.theme import MM_PER_INCH, PALETTES
from station.screens.typeface import FAMILY

TEXT_PT, SMALL_PT, HEAD_PT, TITLE_PT = 9.0, 7.5, 11.0, 15.0
INK = PALETTES["light"].ink
LINE_MM, PART_MM = 1.2, 4.0
FOOT_MM = 9.0
Draw = Callable[[QPainter, QRectF], None]


class A4Flow:
    """Writes from the top of the first page down; in a `with` statement, at whose end the file is whole.

    Args:
        file: the PDF.
        title: of the document.
        foot: stands at the foot of every page, before its number.

    Raises:
        PrintFailed: the file cannot be written.
    """

    def __init__(self, file: Path, title: str, foot: str) -> None:
        self._writer = a4_pdf(file, title)
        self._painter = QPainter(self._writer)
        self._painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        area = self._writer.pageLayout().paintRectPixels(RESOLUTION)
        self.width, self.height = float(area.width()), float(area.height())
        self._foot, self._page, self._y = foot, 1, 0.0
        self._foot_now()

    def __enter__(self) -> A4Flow:
        return self

    def __exit__(self, *_: object) -> None:
        self._painter.end()

    @staticmethod
    def mm(length_mm: float) -> float:
        """Pixels of the page."""
        return length_mm * RESOLUTION / MM_PER_INCH

    # -- parts -----------------------------------------------------------------------------------------------

    def words(self, text: str, size_pt: float = TEXT_PT, *, strong: bool = False) -> None:
        """A paragraph over the whole width."""
        box = self._measured(text, face(size_pt, strong=strong), self.width)
        self._room(box.height())
        self._text(box.translated(0, self._y), text, face(size_pt, strong=strong))
        self._y += box.height() + self.mm(LINE_MM)

    def heading(self, text: str, keep_mm: float = 20.0) -> None:
        """A heading that stays with what follows it.

        Args:
            keep_mm: what must have room below it on the same page.
        """
        self._y += self.mm(PART_MM) if self._y else 0.0
        self._room(self.mm(keep_mm))
        self.words(text, HEAD_PT, strong=True)

    def table(self, heads: Sequence[str], rows: Sequence[Sequence[str]], shares: Sequence[float]) -> None:
        """Lines of cells, wrapped in their columns; the heads once.

        Args:
            shares: of the width, one a column; they sum up to 1.
        """
        self._row(heads, shares, strong=True)
        for cells in rows:
            self._row(cells, shares, strong=False)
        self._y += self.mm(LINE_MM)

    def chart(self, height_mm: float, draw: Draw) -> None:
        """A drawing over the whole width."""
        self._room(self.mm(height_mm))
        draw(self._painter, QRectF(0, self._y, self.width, self.mm(height_mm)))
        self._y += self.mm(height_mm + LINE_MM)

    # -- how -------------------------------------------------------------------------------------------------

    def _row(self, cells: Sequence[str], shares: Sequence[float], *, strong: bool) -> None:
        kind, gap = face(TEXT_PT, strong=strong), self.mm(2.0)
        boxes, left = [], 0.0
        for text, share in zip(cells, shares, strict=True):
            wide = share * self.width
            boxes.append(self._measured(text, kind, wide - gap).translated(left, 0))
            left += wide
        high = max(box.height() for box in boxes)
        self._room(high)
        for box, text in zip(boxes, cells, strict=True):
            self._text(box.translated(0, self._y), text, kind)
        self._y += high + self.mm(LINE_MM / 2)

    def _measured(self, text: str, kind: QFont, wide: float) -> QRectF:
        metrics = QFontMetricsF(kind, self._writer)
        found = metrics.boundingRect(QRectF(0, 0, wide, 1e6), Qt.TextFlag.TextWordWrap, text or " ")
        return QRectF(0, 0, wide, found.height())

    def _text(self, box: QRectF, text: str, kind: QFont) -> None:
        self._painter.setFont(kind)
        self._painter.setPen(QColor(INK))
        self._painter.drawText(box, Qt.TextFlag.TextWordWrap, text)

    def _room(self, high: float) -> None:
        """A new page where this has no room on this one."""
        if self._y + high > self.height - self.mm(FOOT_MM) and self._y:
            self._writer.newPage()
            self._page += 1
            self._y = 0.0
            self._foot_now()

    def _foot_now(self) -> None:
        box = QRectF(0, self.height - self.mm(FOOT_MM - 1.5), self.width, self.mm(FOOT_MM - 1.5))
        self._text(box, f"{self._foot} Page {self._page}.", face(SMALL_PT))


def face(size_pt: float, *, strong: bool = False) -> QFont:
    """The typeface in a size."""
    made = QFont(FAMILY)
    made.setPointSizeF(size_pt)
    made.setWeight(QFont.Weight.DemiBold if strong else QFont.Weight.Normal)
    return made
