"""The glance table: what the real widgets draw, in arc minutes, contrast ratios and millimetres.

`python -m tests.screens.glance` prints it.
"""

from __future__ import annotations

import math
import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtGui import QImage
from PySide6.QtWidgets import QAbstractButton, QWidget

from station.screens.lettering import Lettered, listen
from station.screens.theme import Look, Metrics, ScreenGeometry, TextSize, contrast

if TYPE_CHECKING:
    from station.screens.mirror_window import MirrorWindow
    from station.screens.rack_window import RackWindow


@dataclass(frozen=True, slots=True)
class TextRow:
    """One text class on one screen: the smallest capitals and the lowest contrast found."""

    size: TextSize
    distance_m: float
    cap_mm: float
    arc_minutes: float
    contrast: float


def arc_minutes(height_mm: float, distance_m: float) -> float:
    """Angle that a height fills at a distance."""
    return math.degrees(2 * math.atan(height_mm / 2000 / distance_m)) * 60


def painted_widgets(window: QWidget) -> list[QWidget]:
    return [w for w in (window, *window.findChildren(QWidget)) if w.isVisibleTo(window)]


def lettered(window: QWidget) -> list[Lettered]:
    """Every line that painting the window draws."""
    with listen() as heard:
        window.grab()
    return heard


def text_rows(window: QWidget, metrics: Metrics) -> list[TextRow]:
    """A row for each text class that is on the window."""
    lines = lettered(window)
    rows = []
    for size in TextSize:
        own = [line for line in lines if line.size is size]
        if own:
            cap_mm = min(line.cap_px for line in own) / metrics.screen.px_per_mm
            distance = metrics.legible[size].distance_m
            lowest = min(contrast(line.ink, line.ground) for line in own)
            rows.append(TextRow(size, distance, cap_mm, arc_minutes(cap_mm, distance), lowest))
    return rows


def control_sizes_mm(window: QWidget, screen: ScreenGeometry) -> Iterator[tuple[str, float, float]]:
    """Name, width and height of every visible control."""
    for button in window.findChildren(QAbstractButton):
        if button.isVisibleTo(window):
            yield (
                button.accessibleName(),
                button.width() / screen.px_per_mm,
                button.height() / screen.px_per_mm,
            )


def colours_in(image: QImage) -> Counter[str]:
    """How often each colour occurs in a picture."""
    return Counter(image.pixelColor(x, y).name() for x in range(image.width()) for y in range(image.height()))


MARKS = ("usual", "target", "alert", "line", "ink")


def mark_contrasts(window: QWidget, look: Look) -> dict[str, float]:
    """Each colour of a mark that is painted on the window, and its contrast with the ground."""
    seen = colours_in(window.grab().toImage())
    palette = look.palette
    drawn = {mark: getattr(palette, mark) for mark in MARKS if seen[getattr(palette, mark)] > 20}
    return {mark: contrast(colour, palette.ground) for mark, colour in drawn.items()}


def print_rows(name: str, theme: str, rows: list[TextRow]) -> None:
    """A line a text class."""
    for row in rows:
        print(
            f"{name:6}{theme:6}{row.size:9}{row.cap_mm:6.1f} mm {row.arc_minutes:5.1f}' at {row.distance_m} m"
            f"  contrast {row.contrast:4.1f}:1"
        )


def print_marks(name: str, theme: str, window: RackWindow | MirrorWindow) -> None:
    """One line for the marks."""
    marks = mark_contrasts(window, window.look)
    print(f"{name:6}{theme:6}marks    " + ", ".join(f"{mark} {ratio:.1f}:1" for mark, ratio in marks.items()))


def main() -> None:
    """Print the table."""
    from station.screens.mirror_window import MirrorWindow
    from station.screens.opening import screens_application
    from station.screens.pictures import MIRROR, SCREENS, NobodyListens
    from station.screens.rack_window import RackWindow
    from station.screens.sample_views import club, states

    application = screens_application()
    for name, screen in SCREENS.items():
        for theme in ("dark", "light"):
            window = RackWindow(NobodyListens(), theme, screen)
            window.show_view(replace(states()["mid set"], squad=club()))
            window.show()
            application.processEvents()
            print_rows(name, theme, text_rows(window, window.look.metrics))
            print_marks(name, theme, window)
            smallest = min(min(w, h) for _, w, h in control_sizes_mm(window, screen))
            print(f"{name:6}{theme:6}smallest control {smallest:.1f} mm")
            window.tiles.anybody.click()
            names = min(min(w, h) for _, w, h in control_sizes_mm(window.everybody, screen))
            print(f"{name:6}{theme:6}smallest key on the page of names {names:.1f} mm")
            window.close()
            window.deleteLater()
    for theme in ("dark", "light"):
        mirror = MirrorWindow(theme, MIRROR)
        mirror.show_view(states()["mid set"])
        mirror.show()
        application.processEvents()
        print_rows("32in", theme, text_rows(mirror, mirror.look.metrics))
        print_marks("32in", theme, mirror)
        mirror.close()
        mirror.deleteLater()


if __name__ == "__main__":
    main()
