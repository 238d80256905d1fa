"""The one typeface, shipped with the package: loaded before the first widget, asked for by size class and weight.

IBM Plex Sans Condensed under the SIL Open Font License (fonts/OFL.txt). All its digits have one advance width.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtGui import QFont, QFontDatabase

from station.screens.theme import Metrics, TextSize

FAMILY = "IBM Plex Sans Condensed"
FONT_FILES = tuple(
    Path(__file__).parent / "fonts" / f"IBMPlexSansCondensed-{weight}.ttf"
    for weight in ("Medium", "SemiBold")
)


class TypefaceMissing(RuntimeError):
    """The shipped font files cannot be loaded."""


def load_typeface() -> None:
    """Make the shipped typeface known to Qt. Needs a QApplication; doing it twice does nothing.

    Raises:
        TypefaceMissing: a font file is missing or broken: the installation is incomplete.
    """
    if FAMILY in QFontDatabase.families():
        return
    for file in FONT_FILES:
        if QFontDatabase.addApplicationFont(str(file)) < 0:
            raise TypefaceMissing(f"cannot load the typeface {file}: install the station again")


def font(metrics: Metrics, size: TextSize, *, strong: bool = False) -> QFont:
    """The typeface at one of the four sizes, medium or (strong) semi-bold."""
    made = QFont(FAMILY)
    made.setPixelSize(metrics.font_px(size))
    made.setWeight(QFont.Weight.DemiBold if strong else QFont.Weight.Medium)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return made
