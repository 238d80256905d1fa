"""Every token of the screens: colours, sizes, spacing. Sizes are physical (mm, arc minutes) and become pixels
through the screen's stated diagonal and resolution.

Colours of marks are from the Okabe-Ito set (Okabe & Ito, Color Universal Design, 2008), chosen so that each has at
least 3:1 on its ground; text is drawn in the theme's ink alone, at 7:1 or better.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

ThemeName = Literal["dark", "light"]
MM_PER_INCH = 25.4

CAP_HEIGHT_EM = 0.698  # of the shipped typeface (OS/2 table)
TABULAR_DIGIT_EM = 0.540
LINE_PITCH_CAPS = 1.62  # from one baseline to the next, in cap heights
DESCENDER_CAPS = 0.305  # how far its g reaches below the baseline, in cap heights


class TextSize(StrEnum):
    """The four sizes of text, each with a clear step to the next."""

    NUMBER = "number"
    GLANCE = "glance"
    READING = "reading"
    COACH = "coach"


@dataclass(frozen=True, slots=True)
class Legible:
    """A text class is legible when its capitals fill `arc_minutes` at `distance_m`."""

    arc_minutes: float
    distance_m: float

    @property
    def cap_height_mm(self) -> float:
        """Height of a capital that fills the angle, mm."""
        return 2000.0 * self.distance_m * math.tan(math.radians(self.arc_minutes / 60.0) / 2.0)


# Distances: the athlete at the bar (number, glance), the person loading it (reading), the coach at the screen.
SMALL_SCREEN = {
    TextSize.NUMBER: Legible(30, 4.0),
    TextSize.GLANCE: Legible(20, 2.0),
    TextSize.READING: Legible(20, 1.2),
    TextSize.COACH: Legible(20, 0.6),
}
LARGE_SCREEN = {
    TextSize.NUMBER: Legible(47, 4.0),
    TextSize.GLANCE: Legible(20, 3.2),
    TextSize.READING: Legible(20, 1.7),
    TextSize.COACH: Legible(20, 0.8),
}
MIRROR = {
    TextSize.NUMBER: Legible(95, 4.0),
    TextSize.GLANCE: Legible(24, 4.0),
    TextSize.READING: Legible(20, 3.0),
    TextSize.COACH: Legible(20, 2.0),
}
LARGE_FROM_INCHES = 13.0
# Narrower screens than this (times the scale of text) show one thing at a time.
SMALL_SIDE_BY_SIDE_MM = 210.0
LARGE_SIDE_BY_SIDE_MM = 320.0
LARGER_TEXT_GROWS = 0.25  # of what the smallest text grows

SESSION_CONTROL_MM = 20.0
OTHER_CONTROL_MM = 12.0


@dataclass(frozen=True, slots=True)
class ScreenGeometry:
    """A screen as its owner states it: resolution in pixels and diagonal in inches."""

    width_px: int
    height_px: int
    diagonal_in: float

    @property
    def px_per_mm(self) -> float:
        """Pixels in a millimetre (square pixels)."""
        return math.hypot(self.width_px, self.height_px) / (self.diagonal_in * MM_PER_INCH)


@dataclass(frozen=True, slots=True)
class Metrics:
    """Sizes in pixels on one screen.

    Attributes:
        screen: the screen.
        legible: which angle at which distance each text class has to fill.
        scale: how much larger text is drawn than that; the number, the largest already, stays.
        large_print: one thing at a time, since all parts no longer fit side by side.
    """

    screen: ScreenGeometry
    legible: dict[TextSize, Legible]
    scale: float = 1.0
    large_print: bool = False

    @classmethod
    def for_touch(cls, screen: ScreenGeometry, scale_percent: int = 100) -> Metrics:
        """For the rack's own touch screen, with text at 100 to 200 %."""
        small = screen.diagonal_in < LARGE_FROM_INCHES
        scale = scale_percent / 100.0
        width_mm = screen.width_px / screen.px_per_mm
        needed_mm = SMALL_SIDE_BY_SIDE_MM if small else LARGE_SIDE_BY_SIDE_MM
        return cls(screen, SMALL_SCREEN if small else LARGE_SCREEN, scale, width_mm < needed_mm * scale)

    @classmethod
    def for_mirror(cls, screen: ScreenGeometry) -> Metrics:
        """For a screen above the rack that shows the athlete's part alone."""
        return cls(screen, MIRROR)

    def mm(self, length_mm: float) -> int:
        """Pixels that are at least this long."""
        return math.ceil(length_mm * self.screen.px_per_mm - 1e-9)

    def font_px(self, size: TextSize) -> int:
        """Font size whose capitals are at least as high as the class asks for."""
        high_mm = self._growth(size) * self.legible[size].cap_height_mm
        return math.ceil(high_mm * self.screen.px_per_mm / CAP_HEIGHT_EM)

    def _growth(self, size: TextSize) -> float:
        """The smallest text grows most; what is large already grows less, and the number keeps its room."""
        share = {TextSize.COACH: 1.0, TextSize.NUMBER: 0.0}.get(size, LARGER_TEXT_GROWS)
        return 1.0 + share * (self.scale - 1.0)

    def cap_px(self, size: TextSize) -> float:
        """Height of a capital of that class, pixels."""
        return self.font_px(size) * CAP_HEIGHT_EM

    def line_px(self, size: TextSize) -> int:
        """From one baseline to the next, pixels."""
        return round(self.cap_px(size) * LINE_PITCH_CAPS)

    def descender_px(self, size: TextSize) -> float:
        """How far a g reaches below the baseline, pixels."""
        return self.cap_px(size) * DESCENDER_CAPS

    @property
    def tight(self) -> bool:
        """Whether text beside the number must be short, since it has grown and the number has not."""
        return self.scale > 1.0

    @property
    def control(self) -> int:
        """Side of a control used during a session."""
        return self.mm(SESSION_CONTROL_MM)

    @property
    def control_height(self) -> int:
        """Height of a row of controls: a finger's, or what three lines of words need (two in large print)."""
        more_lines = 1 if self.large_print else 2
        lines = more_lines * self.line_px(TextSize.COACH) + self.cap_px(TextSize.COACH)
        return max(self.control, round(lines + 2.4 * self.gap))

    @property
    def gap(self) -> int:
        """The step of the spacing grid: it goes with the smallest text as it is at 100 %."""
        return round(self.cap_px(TextSize.COACH) / self.scale * 0.43)

    @property
    def hairline(self) -> int:
        """Thinnest line that is drawn."""
        return max(2, round(self.gap * 0.24))

    @property
    def stroke(self) -> int:
        """Line of a mark."""
        return max(3, round(self.gap * 0.44))


@dataclass(frozen=True, slots=True)
class Palette:
    """One theme's colours, as #rrggbb.

    Attributes:
        ground, surface, pressed: behind everything, behind a control, behind a touched control.
        ink: all text, and the marks of today. On an `ink` plate text is drawn in `ground`.
        line: outlines and scales.
        usual: the athlete's own usual range. target: the target band. alert: the stop, trouble.
    """

    name: ThemeName
    ground: str
    surface: str
    pressed: str
    ink: str
    line: str
    usual: str
    target: str
    alert: str


PALETTES: dict[str, Palette] = {
    "dark": Palette(
        name="dark",
        ground="#0f1417",
        surface="#1c242a",
        pressed="#2e3a42",
        ink="#f4f1ea",
        line="#7d8a93",
        usual="#56b4e9",  # sky blue
        target="#009e73",  # bluish green
        alert="#e69f00",  # orange
    ),
    "light": Palette(
        name="light",
        ground="#ffffff",  # bluish green needs it: 3:1 also for people without red cones
        surface="#efede8",
        pressed="#d9d6cd",
        ink="#14191c",
        line="#6d7479",
        usual="#0072b2",  # blue
        target="#009e73",  # bluish green
        alert="#d55e00",  # vermillion
    ),
}


@dataclass(frozen=True, slots=True)
class Look:
    """What every widget needs to paint itself."""

    palette: Palette
    metrics: Metrics


def relative_luminance(colour: str) -> float:
    """Relative luminance of #rrggbb (WCAG 2.2 definition)."""
    channels = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2 definition), 1 to 21."""
    lighter, darker = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
