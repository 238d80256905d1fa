"""A picture of a window as it really is, for runs without a display."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QApplication, QWidget


class SnapshotFailed(RuntimeError):
    """The picture could not be written."""


def save_snapshot(window: QWidget, file: Path) -> Path:
    """Paint what is pending and write the window to a PNG file; folders are made.

    Raises:
        SnapshotFailed: the file cannot be written.
    """
    if not window.isVisible():
        window.show()
    QApplication.processEvents()
    file.parent.mkdir(parents=True, exist_ok=True)
    if not window.grab().save(str(file), "PNG"):
        raise SnapshotFailed(f"cannot write the picture {file}: check the folder and the free space")
    return file
