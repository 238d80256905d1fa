"""Marks stay apart from their ground and from each other for people without red or green cones."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from PySide6.QtGui import QImage

from station.screens.colour_vision import MISSING_CONE, linear, seen_colours, seen_picture
from station.screens.sample_views import states
from station.screens.theme import PALETTES, contrast
from tests.screens.conftest import SMALL, ShowRack

KINDS = pytest.mark.parametrize("kind", sorted(MISSING_CONE))
# CIE 1976 L*a*b* from linear sRGB, D65 (IEC 61966-2-1 matrix; white 0.9505, 1, 1.089)
XYZ_FROM_RGB = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
# Differences above about 2.3 are just noticeable (Mahy et al. 1994, from memory); marks must be far beyond.
FAR_APART = 15.0


def rgb(colour: str) -> np.ndarray:
    return np.array([int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)])


def hex_of(srgb: np.ndarray) -> str:
    return "#" + "".join(f"{round(255 * float(c)):02x}" for c in srgb)


def lab(srgb: np.ndarray) -> np.ndarray:
    relative = XYZ_FROM_RGB @ linear(srgb) / np.array([0.9505, 1.0, 1.089])
    root = np.where(relative > (6 / 29) ** 3, np.cbrt(relative), relative / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


@KINDS
@pytest.mark.parametrize("level", [0.0, 0.2, 0.5, 1.0])
def test_grey_stays_grey(kind: str, level: float) -> None:
    # The model keeps greys by construction (Viénot et al. 1999).
    assert seen_colours(np.full(3, level), kind) == pytest.approx(np.full(3, level), abs=0.01)


@KINDS
def test_red_and_green_come_together(kind: str) -> None:
    red, green = seen_colours(rgb("#ff0000"), kind), seen_colours(rgb("#00ff00"), kind)
    hues = [np.arctan2(*lab(colour)[1:]) for colour in (red, green)]
    assert hues[0] == pytest.approx(hues[1], abs=0.15)


@KINDS
@pytest.mark.parametrize("theme", ["dark", "light"])
def test_marks_are_told_apart(kind: str, theme: str) -> None:
    palette = PALETTES[theme]
    ground = hex_of(seen_colours(rgb(palette.ground), kind))
    marks = {
        name: seen_colours(rgb(getattr(palette, name)), kind) for name in ("usual", "target", "alert", "ink")
    }
    for name, colour in marks.items():
        assert contrast(hex_of(colour), ground) >= 3, name
    for (one, first), (other, second) in combinations(marks.items(), 2):
        assert np.linalg.norm(lab(first) - lab(second)) > FAR_APART, (one, other)


@KINDS
def test_a_picture_is_changed_pixel_by_pixel(kind: str) -> None:
    picture = QImage(3, 2, QImage.Format.Format_RGB32)
    picture.fill("#d55e00")
    seen = seen_picture(picture, kind)
    assert (seen.width(), seen.height()) == (3, 2)
    assert seen.pixelColor(2, 1).name() == hex_of(seen_colours(rgb("#d55e00"), kind))


TOLD_APART = (
    *("slower", "as usual", "faster", "too little history", "not full effort"),
    *("mid set", "stop reached", "uncertain", "not measured", "failed rep", "struck out", "name proposed"),
)
FEWEST_PIXELS = 300  # a third of a small digit on ten inches
CLEARLY_LIGHTER = 0.15  # of relative luminance


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_states_tell_themselves_apart_by_lightness_alone(show_rack: ShowRack, theme: str) -> None:
    window = show_rack(states()["mid set"], SMALL, theme)
    seen: dict[tuple[str, str], np.ndarray] = {}
    for name in TOLD_APART:
        window.show_view(states()[name])
        parts = [window.now.grab().toImage(), window.history.grab().toImage()]
        for kind in sorted(MISSING_CONE):
            seen[kind, name] = np.concatenate([lightness(seen_picture(part, kind)) for part in parts])
    for kind in sorted(MISSING_CONE):
        for one, other in combinations(TOLD_APART, 2):
            a, b = seen[kind, one], seen[kind, other]
            different = int((np.abs(a - b) > CLEARLY_LIGHTER).sum()) if len(a) == len(b) else len(a)
            assert different > FEWEST_PIXELS, (kind, one, other)


def lightness(picture: QImage) -> np.ndarray:
    """Relative luminance of every second pixel, in one row."""
    made = picture.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(made.constBits(), np.uint8).reshape(made.height(), made.bytesPerLine())
    rgb = rows[::2, : 3 * made.width()].reshape(-1, made.width(), 3)[:, ::2].reshape(-1, 3)
    return np.asarray(linear(rgb / 255.0) @ XYZ_FROM_RGB[1])
