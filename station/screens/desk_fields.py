"""Fields that the staff's screens have in common: a PIN, and a list that scrolls up and down alone."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit, QScrollArea, QWidget


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
