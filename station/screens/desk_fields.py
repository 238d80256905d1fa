"""Fields that the staff's screens have in common: a PIN, a choice, and a list that scrolls up and down alone."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QLineEdit, QScrollArea, QWidget


def pin_field(parent: QWidget) -> QLineEdit:
    """Where a PIN is typed; hidden until one is asked for."""
    field = QLineEdit(parent)
    field.setEchoMode(QLineEdit.EchoMode.Password)
    field.setPlaceholderText("PIN, Enter")
    field.setAccessibleName("PIN")
    field.hide()
    return field


def scrolled(rows: QWidget, parent: QWidget) -> QScrollArea:
    """These rows, as wide as there is room."""
    area = QScrollArea(parent)
    area.setWidget(rows)
    area.setWidgetResizable(True)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    return area


def offer(box: QComboBox, items: Sequence[tuple[str, str]]) -> None:
    """Offer these words, each with what it stands for, keeping what was chosen; nobody is told of a change."""
    if [box.itemData(n) for n in range(box.count())] == [data for _, data in items]:
        return
    kept = box.currentData()
    box.blockSignals(True)
    box.clear()
    for words, data in items:
        box.addItem(words, data)
    box.setCurrentIndex(max(box.findData(kept), 0))
    box.blockSignals(False)
