"""Pictures of the review desk, both themes: `python -m tests.screens.review_pictures FOLDER`.

Over an invented season, with the longest names: log, several chosen, a set open, a rep struck and commented, raw
samples gone, old beside new, accepted, an athlete's season in kilograms and pounds, and with too little of it.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from PySide6.QtCore import QItemSelectionModel
from PySide6.QtWidgets import QApplication

from station.screens.opening import screens_application
from station.screens.review_fields import COMMENT
from station.screens.review_set_page import AGAIN, STRIKE
from station.screens.review_window import ReviewWindow
from station.screens.snapshot import save_snapshot
from station.screens.theme import ScreenGeometry, ThemeName
from station.store.record import Record
from tests.review_season import COACH, NOON, a_season, lift_with_raw
from tests.screens.conftest import LARGE, SMALL

SIZES = {"10in": SMALL, "15in": LARGE}
THEMES: tuple[ThemeName, ...] = ("dark", "light")
LONGEST_WAIT_S = 60.0


def until(holds: Callable[[], object]) -> None:
    """Let the window work until something holds."""
    end = time.monotonic() + LONGEST_WAIT_S
    while not holds():
        if time.monotonic() > end:
            raise TimeoutError("the review did not come to it")
        QApplication.processEvents()


def states(window: ReviewWindow, set_id: str, gone_id: str) -> Iterator[str]:
    """The window in every state, one after the other."""
    log, page = window.log, window.set
    until(lambda: log.model.line(0) is not None)
    yield "log"
    window.head.staff.setCurrentIndex(window.head.staff.findData(COACH))
    rows = QItemSelectionModel.SelectionFlag.Select | QItemSelectionModel.SelectionFlag.Rows
    for row in (2, 3, 4):
        log.table.selectionModel().select(log.model.index(row, 0), rows)
    yield "log-chosen"
    window.open_set(set_id)
    until(lambda: "none lost" in page.link.accessibleName())
    yield "set"
    page.reps.selectRow(2)
    window.fields.why.setText("caught by the spotter")
    page.keys[STRIKE].click()
    until(lambda: "caught by the spotter" in page.story.toPlainText())
    window.fields.why.setText("the spotter touched the bar before the third rep, the athlete says")
    window.fields.keys[COMMENT].click()
    until(lambda: "before the third" in page.story.toPlainText())
    yield "set-struck"
    page.keys[AGAIN].click()
    until(lambda: window.pages.currentWidget() is window.compare)
    yield "compare"
    window.compare.accept.click()
    until(lambda: "measured again" in page.story.toPlainText())
    yield "accepted"
    window.open_set(gone_id)
    until(lambda: page.review is not None and page.review.line.set_id == gone_id)
    yield "raw-gone"
    window.open_athlete("athlete-003")
    until(lambda: window.pages.currentWidget() is window.athlete)
    yield "athlete"
    window.head.unit.click()
    yield "athlete-lb"
    window.open_athlete("long")
    until(lambda: window.athlete.season is not None and window.athlete.season.athlete_id == "long")
    yield "athlete-too-little"


def write_pictures(folder: Path) -> list[Path]:
    """One PNG for each screen size, theme and state."""
    application = screens_application()
    written = []
    for size, screen in SIZES.items():
        for theme in THEMES:
            with tempfile.TemporaryDirectory() as place:
                record, gone_id = a_season(Path(place) / "review", athletes=16, weeks=30)
                for file in Path(place).glob("*/raw/*.parquet"):
                    file.unlink()
                record.rack = "rack 3"  # where it was lifted
                set_id = lift_with_raw(record, "long", slower_m_s=0.03)
                written += _of_one(
                    application, record, (set_id, gone_id), theme, screen, folder / f"review-{size}-{theme}"
                )
    return written


def _of_one(
    application: QApplication,
    record: Record,
    sets: tuple[str, str],
    theme: ThemeName,
    screen: ScreenGeometry,
    stem: Path,
) -> list[Path]:
    window = ReviewWindow(record, lambda: NOON, theme, screen)
    window.show()
    written = []
    try:
        for name in states(window, *sets):
            application.processEvents()
            written.append(save_snapshot(window, stem.with_name(f"{stem.name}-{name}.png")))
    finally:
        window.close()
        record.close()
    return written


if __name__ == "__main__":
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    print(f"{len(write_pictures(Path(sys.argv[1])))} pictures in {sys.argv[1]}")
