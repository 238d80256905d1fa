"""Qt's own widgets at the desk (lists to choose from, lines to type in, tables) in the theme's colours and sizes."""

from __future__ import annotations

from station.screens.theme import OTHER_CONTROL_MM, Look, TextSize
from station.screens.typeface import FAMILY


def desk_style(look: Look) -> str:
    """A style sheet for combo boxes, lines, tables and scroll areas."""
    p, m = look.palette, look.metrics
    font = f"font-family: '{FAMILY}'; font-weight: 500; font-size: {m.font_px(TextSize.COACH)}px;"
    text = f"color: {p.ink}; placeholder-text-color: {p.ink};"  # Qt's own placeholder is half transparent
    field = f"background: {p.surface}; {text} border: {m.hairline}px solid {p.line};"
    return f"""
        QComboBox, QLineEdit, QDateEdit {{ {font} {field} padding: 0 {m.gap}px;
            min-height: {m.mm(OTHER_CONTROL_MM) - 2 * m.hairline}px; }}
        QComboBox:focus, QLineEdit:focus, QTableView:focus {{ border-color: {p.ink}; }}
        QComboBox::drop-down {{ border: 0; width: 0; }}
        QComboBox QAbstractItemView {{ {font} {field} selection-background-color: {p.ink};
            selection-color: {p.ground}; }}
        QTableView {{ {font} background: {p.ground}; color: {p.ink}; gridline-color: {p.line};
            border: {m.hairline}px solid {p.line}; selection-background-color: {p.ink};
            selection-color: {p.ground}; }}
        QHeaderView::section {{ {font} background: {p.surface}; color: {p.ink}; border: 0;
            padding: {m.gap // 2}px; }}
        QTableCornerButton::section {{ background: {p.surface}; }}
        QScrollArea, QScrollArea > QWidget > QWidget {{ background: {p.ground}; border: 0; }}
        QScrollBar:vertical {{ background: {p.ground}; width: {2 * m.gap}px; }}
        QScrollBar::handle:vertical {{ background: {p.line}; min-height: {4 * m.gap}px; }}
        QScrollBar::add-line, QScrollBar::sub-line {{ height: 0; }}
    """


def review_style(look: Look) -> str:
    """The same for the review: cells apart from each other, hints in ink, long texts that scroll."""
    p, m = look.palette, look.metrics
    font = f"font-family: '{FAMILY}'; font-weight: 500; font-size: {m.font_px(TextSize.COACH)}px;"
    return f"""{desk_style(look)}
        QLineEdit {{ placeholder-text-color: {p.ink}; font-style: normal; }}
        QTableView::item {{ padding: 0 {m.gap // 2}px; }}
        QPlainTextEdit {{ {font} background: {p.ground}; color: {p.ink}; padding: {m.gap // 2}px;
            border: {m.hairline}px solid {p.line}; selection-background-color: {p.ink};
            selection-color: {p.ground}; }}
        QPlainTextEdit:focus {{ border-color: {p.ink}; }}
    """
