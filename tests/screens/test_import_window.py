"""The import of an older history on the screen: questions, preview, and the way back."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PySide6.QtWidgets import QComboBox, QWidget

from station.capture.history_desk import HistoryDesk
from station.screens.import_window import ImportWindow
from station.screens.lettering import listen
from station.screens.theme import OTHER_CONTROL_MM, ScreenGeometry
from station.store.record import Record
from tests.screens.conftest import LARGE, SMALL
from tests.store.squad_record import AINO, LIFT, add_squad, opened

NOW = datetime(2026, 10, 14, 12, 40, tzinfo=UTC)
TEXT = (
    "Athlete,Date,Exercise,Load,Velocity (m/s)\n"
    "Aino Amsel,2025-09-01,BSQ,60,0.70\n"
    "Aino Amsel,2025-09-08,BSQ,60,0.72\n"
    "Nobody Known,2025-09-08,BSQ,60,0.72\n"
)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = opened(tmp_path / "data", "desk")
    add_squad(made)
    (tmp_path / "old.csv").write_text(TEXT)
    yield made
    made.close()


Show = Callable[..., ImportWindow]


@pytest.fixture
def show(record: Record, on_screen: Callable[[QWidget], None]) -> Show:
    def shown(screen: ScreenGeometry = LARGE) -> ImportWindow:
        window = ImportWindow(HistoryDesk(record, lambda: NOW), "light", screen, "Coach Minke Straten")
        on_screen(window)
        return window

    return shown


def choose(box: QComboBox, words: str) -> None:
    box.setCurrentIndex(box.findText(words))
    box.activated.emit(box.currentIndex())


def said(window: ImportWindow) -> str:
    return "\n".join(window.pane.lines)


def test_how_many_are_unwell_is_said_here_as_on_every_staff_screen(
    record: Record, on_screen: Callable[[QWidget], None]
) -> None:
    desk = HistoryDesk(record, lambda: NOW)
    window = ImportWindow(desk, "light", LARGE, unwell=lambda: "2 entries of pain or illness are open")
    on_screen(window)
    assert window.pane.lines[0] == "2 entries of pain or illness are open"


def test_a_unit_is_asked_for_then_a_lift_then_there_is_a_preview(
    show: Show, record: Record, tmp_path: Path
) -> None:
    window = show()
    window.open_file(tmp_path / "old.csv")
    assert "In which unit is the load" in said(window)
    assert not window.keys["Write"].isEnabled()
    choose(window.units["load unit"], "kg")
    assert "'BSQ' is no lift" in said(window)
    assert window._labels["what is this lift"].words == "“BSQ” is"
    choose(window.unknown, LIFT)
    assert "2 sets with 2 reps of 1 athlete," in said(window)
    assert "nobody is called 'Nobody Known'" in said(window)
    assert record.observations(AINO, LIFT) == []


def test_what_is_written_can_be_taken_out_and_brought_back(
    show: Show, record: Record, tmp_path: Path
) -> None:
    window = show()
    window.open_file(tmp_path / "old.csv")
    choose(window.units["load unit"], "kg")
    choose(window.unknown, LIFT)
    window.keys["Write"].click()
    assert "2 sets written" in said(window)
    assert len(record.observations(AINO, LIFT)) == 2
    choose(window.before, window.before.itemText(1))
    window.keys["Take out"].click()
    assert record.observations(AINO, LIFT) == []
    assert window.keys["Take out"].words == "Bring back"
    window.keys["Take out"].click()
    assert len(record.observations(AINO, LIFT)) == 2


def test_a_file_that_cannot_be_read_is_said(show: Show, tmp_path: Path) -> None:
    window = show()
    window.open_file(tmp_path / "no.csv")
    assert "cannot be read" in said(window)


@pytest.mark.parametrize("screen", [SMALL, LARGE])
def test_fields_are_large_enough_named_and_side_by_side(
    show: Show, tmp_path: Path, screen: ScreenGeometry
) -> None:
    window = show(screen)
    window.open_file(tmp_path / "old.csv")
    fields: list[QWidget] = [*window.columns.values(), *window.units.values(), window.unknown, window.before]
    fields.append(window.origin)
    for n, one in enumerate(fields):
        assert one.accessibleName()
        assert one.height() >= window.look.metrics.mm(OTHER_CONTROL_MM)
        assert window.rect().contains(one.geometry())
        assert not any(one.geometry().intersects(other.geometry()) for other in fields[n + 1 :])
    with listen() as drawn:
        window.grab()
    assert [line.text for line in drawn if not line.complete] == []
