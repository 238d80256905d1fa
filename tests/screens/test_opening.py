"""The program's way in: window, picture, failures in one clear sentence."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QWidget

from station.screens import typeface
from station.screens.opening import make_mirror_window, make_rack_window
from station.screens.sample_views import states
from station.screens.snapshot import SnapshotFailed, save_snapshot
from tests.screens.recording import RecordingActions

OnScreen = Callable[[QWidget], None]


@pytest.mark.parametrize(("diagonal_in", "size"), [(10.0, (1280, 800)), (15.0, (1920, 1080))])
def test_a_window_is_made_for_the_stated_diagonal(
    actions: RecordingActions, on_screen: OnScreen, diagonal_in: float, size: tuple[int, int]
) -> None:
    window = make_rack_window(actions, theme_name="light", diagonal_in=diagonal_in)
    on_screen(window)
    assert (window.width(), window.height()) == size
    assert window.look.palette.name == "light"
    assert window.look.metrics.screen.diagonal_in == diagonal_in


def test_full_screen_sizes_come_from_the_screen_itself(
    actions: RecordingActions, on_screen: OnScreen
) -> None:
    window = make_rack_window(actions, diagonal_in=10.0, full_screen=True)
    on_screen(window)
    assert window.isFullScreen()
    size = window.screen().size()
    assert (window.look.metrics.screen.width_px, window.look.metrics.screen.height_px) == size.toTuple()


def test_a_window_before_its_first_view_can_be_painted(
    actions: RecordingActions, on_screen: OnScreen, tmp_path: Path
) -> None:
    window = make_rack_window(actions)
    on_screen(window)
    save_snapshot(window, tmp_path / "empty.png")


def test_a_picture_shows_the_window_as_it_is(
    actions: RecordingActions, on_screen: OnScreen, tmp_path: Path
) -> None:
    window = make_rack_window(actions)
    window.show_view(states()["mid set"])
    on_screen(window)
    file = save_snapshot(window, tmp_path / "new folder" / "rack.png")
    picture = QImage(str(file))
    assert (picture.width(), picture.height()) == (1280, 800)
    number = window.now.number
    corner = number.mapTo(window, number.rect().topLeft())
    box = picture.copy(corner.x(), corner.y(), number.width(), number.height())
    inked = sum(box.pixelColor(x, box.height() // 2).name() == "#f4f1ea" for x in range(box.width()))
    assert inked > 50


def test_a_picture_that_cannot_be_written_is_said(
    actions: RecordingActions, on_screen: OnScreen, tmp_path: Path
) -> None:
    window = make_rack_window(actions)
    on_screen(window)
    (tmp_path / "taken.png").mkdir()
    with pytest.raises(SnapshotFailed, match="cannot write the picture"):
        save_snapshot(window, tmp_path / "taken.png")


def test_the_mirror_is_made_beside_its_window(actions: RecordingActions, on_screen: OnScreen) -> None:
    window = make_rack_window(actions)
    window.show_view(states()["mid set"])
    mirror = make_mirror_window(window)
    on_screen(mirror)
    on_screen(window)
    assert window.mirror is mirror
    assert "0.44" in mirror.now.number.accessibleName()


def test_a_missing_typeface_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(typeface, "FAMILY", "A family that is not there")
    monkeypatch.setattr(typeface, "FONT_FILES", (tmp_path / "gone.ttf",))
    with pytest.raises(typeface.TypefaceMissing, match="install the station again"):
        typeface.load_typeface()
