"""The review desk on the screen, with the mouse and with keys: found, struck, moved, measured again, commented."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from shutil import copytree

import pypdf
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QAbstractButton, QComboBox, QLineEdit, QTableView, QWidget
from pytestqt.qtbot import QtBot

from station.capture import review_set
from station.capture.review_desk import ReviewDesk
from station.capture.review_log import LogLine
from station.screens.review_fields import CHANGE_LOAD, COMMENT, MOVE, PRINT_DAY
from station.screens.review_log_model import MOST_PAGES, NOT_READ_YET, LogModel
from station.screens.review_set_page import AFTER, AGAIN, ATHLETE, BEFORE, FETCHING_RAW, PRINT, STRIKE, UNSAY
from station.screens.review_window import ReviewWindow
from station.screens.theme import ScreenGeometry, ThemeName
from station.store import raw_near
from station.store.log_filter import LogFilter
from station.store.record import Record
from station.store.session_log import PAGE_SETS, LogIndex
from tests.review_season import COACH, DAY, LIFT, LONGEST, NOON, a_season, lift_with_raw, opened
from tests.screens.conftest import LARGE, SMALL
from tests.screens.glance import control_sizes_mm, text_rows

LEFT = Qt.MouseButton.LeftButton
CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A season in a folder; its newest set was measured too slow by an older engine."""
    folder = tmp_path_factory.mktemp("season") / "review"
    record, _ = a_season(folder, athletes=4, weeks=5)
    lift_with_raw(record, "long", slower_m_s=0.05)
    record.close()
    return folder


@pytest.fixture
def record(season: Path, tmp_path: Path) -> Iterator[Record]:
    copytree(season, tmp_path / "review")
    made = opened(tmp_path / "review")
    yield made
    made.close()


Show = Callable[..., ReviewWindow]


@pytest.fixture
def show(record: Record, qtbot: QtBot, on_screen: Callable[[QWidget], None]) -> Iterator[Show]:
    made: list[ReviewWindow] = []

    def show_it(
        screen: ScreenGeometry = LARGE, theme: ThemeName = "dark", *, signed: bool = True
    ) -> ReviewWindow:
        window = ReviewWindow(record, lambda: NOON, theme, screen)
        made.append(window)
        on_screen(window)
        qtbot.waitUntil(lambda: window.log.model.line(0) is not None)
        if signed:
            choose(qtbot, window.head.staff, COACH)
            ask_desk(qtbot, window, lambda desk: desk.signed.staff == COACH)
            window.log.table.setFocus()
        return window

    yield show_it
    for window in made:
        window.close()


def ask_desk(qtbot: QtBot, window: ReviewWindow, holds: Callable[[ReviewDesk], bool]) -> None:
    """Wait until something holds at the desk, asked in its own thread."""
    answers: list[bool] = []
    window.office.desk.ask(holds, answers.append)
    qtbot.waitUntil(lambda: bool(answers))
    assert answers == [True]


def choose(qtbot: QtBot, box: QComboBox, words: str) -> None:
    """With keys alone: what begins with these words."""
    box.setFocus()
    qtbot.keyClicks(box, words.split()[0])  # a space would open the list
    assert box.currentText().startswith(words)


def touch(qtbot: QtBot, button: QAbstractButton) -> None:
    qtbot.mouseClick(button, LEFT)


def click_row(qtbot: QtBot, table: QTableView, row: int, *, add: bool = False) -> None:
    box = table.visualRect(table.model().index(row, 0))
    modifier = CTRL if add else Qt.KeyboardModifier.NoModifier
    qtbot.mouseClick(table.viewport(), LEFT, modifier, box.center())


def open_first(qtbot: QtBot, window: ReviewWindow) -> None:
    click_row(qtbot, window.log.table, 0)
    qtbot.keyClick(window.log.table, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.set)


def line(window: ReviewWindow, row: int = 0) -> LogLine:
    found = window.log.model.line(row)
    assert found is not None
    return found


def test_a_set_is_found_by_typing_and_opens_with_its_curves_and_raw_samples(show: Show, qtbot: QtBot) -> None:
    window = show()
    everything = window.log.model.rowCount()
    qtbot.keyClick(window, Qt.Key.Key_F, CTRL)
    assert window.log.search.hasFocus()
    qtbot.keyClicks(window.log.search, "quellmann 95")
    qtbot.keyClick(window.log.search, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: window.log.model.rowCount() == 2)
    assert everything > 2
    qtbot.waitUntil(lambda: window.log.model.line(0) is not None)
    assert line(window).athlete == f"{LONGEST} (112)"
    open_first(qtbot, window)
    assert len(window.set.overlaid.plot.getPlotItem().listDataItems()) == 4
    qtbot.waitUntil(lambda: "none lost" in window.set.link.accessibleName())
    assert window.set.raw.isVisible()
    qtbot.keyClick(window.set.reps, Qt.Key.Key_Escape)
    assert window.pages.currentWidget() is window.log


def test_a_rep_is_struck_with_a_reason_restored_and_both_are_kept(show: Show, qtbot: QtBot) -> None:
    window = show()
    open_first(qtbot, window)
    click_row(qtbot, window.set.reps, 2)
    qtbot.keyClicks(window.fields.why, "caught by the spotter")
    touch(qtbot, window.set.keys[STRIKE])
    qtbot.waitUntil(lambda: "1 struck" in line(window).marks)
    assert window.set.review is not None
    qtbot.waitUntil(lambda: "caught by the spotter" in window.set.story.toPlainText())
    assert window.head.said == "1 rep struck out"
    assert window.fields.why.text() == ""
    qtbot.keyClick(window, Qt.Key.Key_Z, CTRL)
    qtbot.waitUntil(lambda: "1 struck" not in line(window).marks)
    story = window.set.story.toPlainText
    qtbot.waitUntil(lambda: "rep 3 restored" in story())
    assert "rep 3 struck out" in story()


def test_three_sets_are_moved_together_and_taken_back_together(show: Show, qtbot: QtBot) -> None:
    window = show()
    for row in (2, 3, 4):
        click_row(qtbot, window.log.table, row, add=row > 2)
    assert "3 chosen" in window.head.words.accessibleName()
    moved = [line(window, row) for row in (2, 3, 4)]
    assert len({one.athlete for one in moved}) == 1
    choose(qtbot, window.fields.athlete, "Ottokar")
    name = window.fields.athlete.currentText()
    touch(qtbot, window.fields.keys[MOVE])
    qtbot.waitUntil(lambda: all(line(window, row).athlete == name for row in (2, 3, 4)))
    assert window.head.said == f"3 sets moved to {name}"
    assert [index.row() for index in window.log.table.selectionModel().selectedRows()] == [2, 3, 4]
    touch(qtbot, window.head.undo)
    qtbot.waitUntil(lambda: [line(window, row) for row in (2, 3, 4)] == moved)
    assert not window.head.undo.isEnabled()


def test_a_set_is_measured_again_old_stands_beside_new_and_is_accepted(show: Show, qtbot: QtBot) -> None:
    window = show()
    before = line(window).best_m_s
    open_first(qtbot, window)
    touch(qtbot, window.set.keys[AGAIN])
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.compare)
    table = window.compare.table
    differences = [table.item(row, 3).text() for row in range(table.rowCount())]  # type: ignore[union-attr]
    assert differences == ["+0.050"] * 4
    assert line(window).best_m_s == before  # nothing is written before somebody accepts
    qtbot.keyClicks(window.compare.why, "a better engine")
    touch(qtbot, window.compare.accept)
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.set)
    qtbot.waitUntil(lambda: line(window).best_m_s == pytest.approx((before or 0.0) + 0.05))
    qtbot.waitUntil(lambda: "a better engine" in window.set.story.toPlainText())
    qtbot.keyClick(window, Qt.Key.Key_Z, CTRL)
    qtbot.waitUntil(lambda: line(window).best_m_s == before)


def test_leaving_the_new_measurement_writes_nothing(show: Show, qtbot: QtBot, record: Record) -> None:
    window = show()
    open_first(qtbot, window)
    touch(qtbot, window.set.keys[AGAIN])
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.compare)
    qtbot.keyClick(window.compare.table, Qt.Key.Key_Escape)
    assert window.pages.currentWidget() is window.set
    with record.database.read() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM corrections").scalar_one() == 0


def test_a_comment_is_written_found_again_and_withdrawn(show: Show, qtbot: QtBot) -> None:
    window = show()
    click_row(qtbot, window.log.table, 1)
    qtbot.keyClicks(window.fields.why, "exam week")
    touch(qtbot, window.fields.keys[COMMENT])
    qtbot.waitUntil(lambda: "1 comment" in line(window, 1).marks)
    qtbot.keyClicks(window.log.search, "exam")
    qtbot.waitUntil(lambda: window.log.model.rowCount() == 1)
    qtbot.waitUntil(lambda: window.log.model.line(0) is not None)
    open_first(qtbot, window)
    assert "“exam week”" in window.set.story.toPlainText()
    touch(qtbot, window.set.keys[UNSAY])
    qtbot.waitUntil(lambda: "exam week" not in window.set.story.toPlainText())


def test_the_athletes_season_opens_from_log_and_set_and_leads_back(show: Show, qtbot: QtBot) -> None:
    window = show()
    click_row(qtbot, window.log.table, 2)
    touch(qtbot, window.fields.keys[ATHLETE])
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.athlete)
    assert window.athlete.season is not None
    assert window.athlete.season.name == line(window, 2).athlete
    assert "usual range today" in window.athlete.speeds.plot.accessibleName()
    qtbot.keyClick(window.athlete.lift, Qt.Key.Key_Escape)
    assert window.pages.currentWidget() is window.log
    qtbot.keyClick(window.log.table, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.set)
    touch(qtbot, window.set.keys[ATHLETE])
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.athlete)
    touch(qtbot, window.athlete.back)
    assert window.pages.currentWidget() is window.set


def test_loads_are_shown_and_typed_in_pounds_and_kept_in_kilograms(show: Show, qtbot: QtBot) -> None:
    window = show()
    touch(qtbot, window.head.unit)
    index = window.log.model.index(0, 4)
    assert window.log.model.data(index) == "209.5 lb"  # 95 kg
    click_row(qtbot, window.log.table, 0)
    qtbot.keyClicks(window.fields.load, "225")
    touch(qtbot, window.fields.keys[CHANGE_LOAD])
    qtbot.waitUntil(lambda: line(window).load_kg == pytest.approx(102.06, abs=0.01))  # 225 x 0.45359237


def test_nothing_is_done_before_somebody_has_signed_in(show: Show, qtbot: QtBot) -> None:
    window = show(signed=False)
    touch(qtbot, window.fields.keys[MOVE])
    assert window.head.said.startswith("Choose sets first")
    click_row(qtbot, window.log.table, 0)
    qtbot.keyClicks(window.fields.why, "word")
    touch(qtbot, window.fields.keys[COMMENT])
    qtbot.waitUntil(lambda: window.head.said.startswith("Sign in first"))
    assert window.fields.why.text() == "word"


def test_medical_staff_sign_in_with_a_pin(show: Show, qtbot: QtBot) -> None:
    window = show(signed=False)
    choose(qtbot, window.head.staff, "Dr.")
    qtbot.waitUntil(window.head.pin.isVisible)
    qtbot.keyClicks(window.head.pin, "2468")
    qtbot.keyClick(window.head.pin, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: not window.head.pin.isVisible())
    ask_desk(qtbot, window, lambda desk: desk.signed.staff == "Dr. Tomke Weidholz")


def test_a_set_whose_raw_samples_are_gone_says_so(show: Show, qtbot: QtBot, record: Record) -> None:
    for file in (record.database.folder / "raw").iterdir():
        file.unlink()
    window = show()
    open_first(qtbot, window)
    assert "raw samples of this set are gone" in window.set.link.accessibleName()
    assert not window.set.keys[AGAIN].isEnabled()
    assert not window.set.raw.isVisible()
    assert len(window.set.overlaid.plot.getPlotItem().listDataItems()) == 4


def test_older_and_newer_go_from_set_to_set(show: Show, qtbot: QtBot) -> None:
    window = show()
    open_first(qtbot, window)
    first = window.open_set_id
    qtbot.keyClick(window.set.reps, Qt.Key.Key_PageDown)
    qtbot.waitUntil(lambda: window.set.review is not None and window.set.review.line.set_id != first)
    assert window.open_set_id == line(window, 1).set_id
    qtbot.keyClick(window.set.reps, Qt.Key.Key_PageUp)
    qtbot.waitUntil(lambda: window.set.review is not None and window.set.review.line.set_id == first)


def test_the_screen_goes_on_while_a_question_takes_long(show: Show, qtbot: QtBot) -> None:
    window = show()
    go_on = threading.Event()
    window.office.reader.ask(lambda _reader: go_on.wait(30), lambda _: None)
    try:
        window.log.search.setFocus()
        qtbot.keyClicks(window.log.search, "2026")
        click_row(qtbot, window.log.table, 3)
        assert window.log.search.text() == "2026"
        assert window.log.table.currentIndex().row() == 3
    finally:
        go_on.set()


def test_a_hundred_thousand_sets_are_never_all_read(qtbot: QtBot) -> None:
    model, asked = LogModel(), list[int]()
    model.page_wanted.connect(asked.append)
    pages = 100_000 // PAGE_SETS
    index = LogIndex(LogFilter(), tuple((DAY, str(n)) for n in range(pages)), 100_000)
    some = (
        LogLine("s", DAY, NOON, "a", "Aino", LIFT, 60.0, "work", "rack 1", 1, 3, 0.7, 0.1, ()),
    ) * PAGE_SETS
    model.show_index(index)
    assert (model.rowCount(), asked) == (100_000, [])
    for row in range(0, 100_000, 999):  # somebody scrolls through all of it: only where that ends is read
        assert model.data(model.index(row, 2)) == NOT_READ_YET
    assert model.data(model.index(99_999, 2)) == NOT_READ_YET
    qtbot.waitUntil(lambda: asked == [pages - 1])
    model.line(3 * PAGE_SETS)  # while that page is on its way
    model.put_page(index, pages - 1, some)
    assert model.data(model.index(99_999, 2)) == "Aino"
    qtbot.waitUntil(lambda: asked == [pages - 1, 3])
    for page in range(100):
        model.put_page(index, page, some)
    assert model.line(0) is None  # let go of, and asked for again
    assert sum(model.line(page * PAGE_SETS) is not None for page in range(60, 100)) == MOST_PAGES
    model.put_page(LogIndex(LogFilter(), (), 0), 0, some)
    assert model.line(0) is None  # of an earlier question


@pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
@pytest.mark.parametrize("theme", ["dark", "light"])
def test_every_page_is_legible_named_and_large_enough(
    show: Show, qtbot: QtBot, screen: ScreenGeometry, theme: ThemeName
) -> None:
    window = show(screen, theme)
    check(window, screen)
    open_first(qtbot, window)
    qtbot.waitUntil(lambda: "none lost" in window.set.link.accessibleName())
    check(window, screen)
    touch(qtbot, window.set.keys[AGAIN])
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.compare)
    check(window, screen)
    window.open_athlete("athlete-000")
    qtbot.waitUntil(lambda: window.pages.currentWidget() is window.athlete)
    check(window, screen)


def check(window: ReviewWindow, screen: ScreenGeometry) -> None:
    rows = text_rows(window, window.look.metrics)
    assert rows
    assert all(row.arc_minutes >= 20 and row.contrast >= 7 for row in rows)
    assert min(min(w, h) for _, w, h in control_sizes_mm(window, screen)) >= 11.99
    for kind in (QAbstractButton, QComboBox, QLineEdit, QTableView):
        for widget in window.findChildren(kind):
            inner = widget.objectName().startswith("qt_") or isinstance(widget.parent(), QTableView)
            if widget.isVisibleTo(window) and not inner:
                assert widget.accessibleName(), widget
                assert window.rect().contains(
                    widget.mapTo(window, QPoint(0, 0)) + QPoint(widget.width() - 1, widget.height() - 1)
                ), widget.accessibleName()


def test_tab_reaches_every_control_of_the_log(show: Show, qtbot: QtBot) -> None:
    window = show()
    wanted = {
        widget
        for widget in (
            *(window.log.days, window.log.athlete, window.log.lift, window.log.rack, window.log.search),
            *(
                window.log.table,
                window.fields.athlete,
                window.fields.lift,
                window.fields.load,
                window.fields.why,
            ),
            *(*window.fields.keys.values(), window.head.staff, window.head.unit),
        )
        if widget.isVisibleTo(window)
    }
    reached = set[QWidget]()
    window.log.table.setFocus()
    for _ in range(60):
        reached.add(window.focusWidget())
        qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Tab)
    assert wanted <= reached


def test_open_pain_or_illness_is_counted_here_too(
    qtbot: QtBot, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ReviewDesk, "open_unwell", lambda _desk: 2)
    window = show()
    qtbot.waitUntil(lambda: "2 open pain or illness" in window.head.words.lines[-1])
    assert window.head.words.lines[-1].startswith(f"{window.index.sets if window.index else 0} sets")


def printed(folder: Path, name: str) -> str:
    """The words of a PDF that the review wrote."""
    with pypdf.PdfReader(folder / "prints" / name) as reader:
        return " ".join(" ".join(page.extract_text().split()) for page in reader.pages)


def test_a_session_and_a_season_are_printed_with_keys(qtbot: QtBot, show: Show) -> None:
    window = show()
    athlete, other = line(window, 0).athlete.split(" (")[0], "athlete-000"
    qtbot.keyClick(window.fields.keys[PRINT_DAY], Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: "Printed to" in window.head.said)
    day = printed(window.folder, f"session-{DAY}.pdf")
    assert "Session of 14 October 2026" in day
    assert "Ottokar" in day
    open_first(qtbot, window)
    qtbot.keyClick(window.set.keys[PRINT], Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: f"session-{DAY}-long.pdf" in window.head.said)
    assert "1 athlete;" in printed(window.folder, f"session-{DAY}-long.pdf")
    window.open_athlete(other)
    qtbot.waitUntil(lambda: window.athlete.season is not None)
    qtbot.keyClick(window.athlete.print, Qt.Key.Key_Space)
    season = printed(window.folder, f"season-{DAY}-{other}-{LIFT.replace(' ', '-')}.pdf")
    assert "Warm-up speed at 60 kg" in season
    assert athlete not in season


def test_a_set_is_open_before_its_raw_samples_have_come_from_the_shared_database(
    qtbot: QtBot, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    window, go_on = show(), threading.Event()
    (kept,) = (window.folder / "raw").glob(f"*{line(window, 0).set_id}*")
    elsewhere = kept.rename(window.folder / "at the rack")

    def fetch(folder: Path, _set_id: str) -> int:
        assert go_on.wait(30)
        elsewhere.rename(folder / "raw" / kept.name)
        return 1

    monkeypatch.setattr(raw_near, "url_for", lambda *_: "postgresql://nowhere")
    monkeypatch.setattr(review_set, "fetch_set", fetch)
    open_first(qtbot, window)
    qtbot.waitUntil(lambda: FETCHING_RAW in window.set.link.accessibleName())
    assert not window.set.keys[AGAIN].isEnabled()
    qtbot.keyClick(window.set.keys[AFTER], Qt.Key.Key_Space)  # others can be looked at meanwhile
    qtbot.waitUntil(lambda: window.open_set_id == line(window, 1).set_id)
    qtbot.keyClick(window.set.keys[BEFORE], Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: FETCHING_RAW in window.set.link.accessibleName())
    go_on.set()
    qtbot.waitUntil(lambda: "none lost" in window.set.link.accessibleName(), timeout=30_000)
    assert window.set.keys[AGAIN].isEnabled()
