"""A PDF of A4 pages, as everything that is printed begins."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QMarginsF
from PySide6.QtGui import QPageLayout, QPageSize, QPdfWriter

MARGIN_MM = 14.0
RESOLUTION = 300


class PrintFailed(RuntimeError):
    """The page could not be written."""


def a4_pdf(file: Path, title: str) -> QPdfWriter:
    """A writer of upright A4 pages.

    Raises:
        PrintFailed: the file cannot be written.
    """
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.touch()
    except OSError as error:
        raise PrintFailed(f"{file} cannot be written ({error.strerror}); check the folder") from error
    writer = QPdfWriter(str(file))
    writer.setResolution(RESOLUTION)
    margins = QMarginsF(MARGIN_MM, MARGIN_MM, MARGIN_MM, MARGIN_MM)
    size = QPageSize(QPageSize.PageSizeId.A4)
    writer.setPageLayout(
        QPageLayout(size, QPageLayout.Orientation.Portrait, margins, QPageLayout.Unit.Millimeter)
    )
    writer.setTitle(title)
    return writer
