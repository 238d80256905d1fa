"""Pictures of the day's other screens, both themes: `python -m tests.screens.day_pictures FOLDER`.

Check-in, jump line, squad day and roster, over an invented season, with the longest names.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

from PySide6.QtWidgets import QApplication, QWidget

from station.capture.checkin import RecordBook
from station.capture.history_desk import HistoryDesk
from station.capture.roster_desk import RosterDesk, TableKind
from station.capture.squad_desk import SquadDesk
from station.screens.import_window import ImportWindow
from station.screens.jump_line_window import JumpLineWindow
from station.screens.kiosk_window import KioskWindow
from station.screens.opening import screens_application
from station.screens.room_window import RoomWindow
from station.screens.roster_window import RosterWindow
from station.screens.snapshot import save_snapshot
from station.screens.squad_day_window import SquadDayWindow
from station.screens.theme import ScreenGeometry, ThemeName
from station.squad.athletes import Athlete
from station.squad.checkins import ITEM_KEYS, CheckIn, CheckInKind, Pain
from station.store import checkins
from station.store.record import Record
from tests.screens.conftest import LARGE, SMALL
from tests.screens.room_states import EMPTY, ToldDesk
from tests.screens.test_jump_line import STATES, Touched
from tests.season import fill_season

DAY = date(2026, 10, 14)
TOMORROW = date(2026, 10, 15)
NOON = datetime(2026, 10, 14, 12, 40)  # noqa: DTZ001 - a local time of day
NEW = "Coach Wibke Oldenstedt-Marquardsen"
LONGEST = "Ottokar Freiherr von Quellmann-Rosenborn"
SIZES = {"10in": SMALL, "15in": LARGE}
THEMES: tuple[ThemeName, ...] = ("dark", "light")
Picture = tuple[str, QWidget]
OLDER = (
    "Athlete,Date,Exercise,Load,Set,Rep,Mean velocity (m/s)\n"
    + "".join(
        f"{LONGEST},2025-09-{day:02d},BSQ,60,1,{n},0.{74 - n}\n" for day in (1, 8, 15) for n in (1, 2, 3)
    )
    + "Nobody Known,2025-09-15,BSQ,60,1,1,0.70\n"
)


def a_day(folder: Path) -> Record:
    """A squad on the third day after a match: one hurt, one ill, one who wants to talk."""
    record = Record(folder, "desk", lambda: datetime(2026, 10, 14, 5, 45, tzinfo=UTC))
    record.add_athletes([Athlete("long", LONGEST, 112, "rack 1")])
    ids = fill_season(record, DAY, weeks=8)
    record.add_rows("staff", [{"name": NEW, "role": ""}])
    checkins.give_consent(record, "long", given=True)
    answers = dict.fromkeys(ITEM_KEYS, 3)
    for athlete, more in (
        ("long", {"pains": (Pain("hamstring", "left"),), "note": "since the second half"}),
        (ids[3], {"ill": True}),
        (ids[7], {"wants_talk": True}),
    ):
        checkins.add_check_in(record, CheckIn(athlete, DAY, CheckInKind.ANSWERED, answers, **more))
    return record


def kiosk_pictures(record: Record, theme: ThemeName, screen: ScreenGeometry) -> Iterator[Picture]:
    """The list of names, the form, where it hurts, sleep and note, and the words after pain."""
    done = KioskWindow(RecordBook(record), theme, screen, today=lambda: DAY)
    done.show()
    yield "all-done", done
    done.close()
    kiosk = KioskWindow(RecordBook(record), theme, screen, today=lambda: TOMORROW)
    kiosk.show()
    yield "who", kiosk
    kiosk._begin(next(a for a in record.athletes(DAY) if a.name == LONGEST))
    yield "items", kiosk
    for item in ITEM_KEYS:
        kiosk.items.answers[item, 2].click()
    yield "answered", kiosk
    for key, name in (("It hurts", "pain"), ("Sleep, note", "more")):
        kiosk.items.options[key].click()
        yield name, kiosk
        kiosk._back()
    kiosk._hurts(Pain("hamstring", "left"))
    kiosk.items.options["Done"].click()
    yield "caution", kiosk
    kiosk.close()


def jump_pictures(theme: ThemeName, screen: ScreenGeometry) -> Iterator[Picture]:
    """Every state of the jump line."""
    window = JumpLineWindow(Touched(), theme, screen)
    window.show()
    for name, view in STATES.items():
        window.show_view(view)
        yield name.replace(" ", "-"), window
    window.close()


def desk_pictures(
    record: Record, theme: ThemeName, screen: ScreenGeometry, prints: Path
) -> Iterator[Picture]:
    """The squad day shut, as a coach and as medical staff see it with a PIN, and the three tables."""
    window = SquadDayWindow(SquadDesk(record, lambda: NOON), theme, screen, prints)
    window.show()
    yield "squad-day", window
    for name in ("Coach Minke Straten", "Dr. Tomke Weidholz"):
        window.staff.setCurrentIndex(window.staff.findData(name))
        yield f"squad-day-signing-in-{name.split()[0].strip('.').lower()}", window
        if window.pin.isVisible():
            window.pin.setText("2468")
            window.pin.returnPressed.emit()
        window.choose(window.day.list.entries[0])
        yield f"squad-day-{name.split()[0].strip('.').lower()}", window
        window.choose(None)
        yield f"squad-day-list-{name.split()[0].strip('.').lower()}", window
    window.foot["Rules"].click()
    window.rules_page.steps["below_chance", 1].click()
    yield "squad-day-rules", window
    window._back()
    for name in ("", NEW):  # whom no colleague vouches for
        window.staff.setCurrentIndex(window.staff.findData(name))
    yield "squad-day-without-a-pin", window
    window.choose(window.day.list.entries[0])
    yield "squad-day-without-a-pin-athlete", window
    window.foot["Print"].click()
    yield "squad-day-not-printed", window
    window.close()
    roster = RosterWindow(RosterDesk(record, lambda: DAY), theme, screen, "Coach Minke Straten")
    roster.show()
    for kind in TableKind:
        roster.show_table(kind)
        roster.table.setCurrentIndex(roster.model.index(0, 0))
        yield f"roster-{kind.name.lower()}", roster
    roster.show_table(TableKind.PLANS)
    roster.model.setData(roster.model.index(1, 0), "rack 1")
    roster.table.setCurrentIndex(roster.model.index(1, 0))
    yield "roster-plans-of-a-group", roster
    roster.close()


def room_pictures(record: Record, theme: ThemeName, screen: ScreenGeometry) -> Iterator[Picture]:
    """The room in a session and in the check round, and before any rack has told anything."""
    desk = ToldDesk(record, lambda: NOON.astimezone())
    window = RoomWindow(desk, theme, screen)
    window.show()
    window.staff.setCurrentIndex(window.staff.findText("Coach Minke Straten"))
    for name, check, rack in (("session", False, "rack 2"), ("check-round", True, "rack 5")):
        window.check = check
        window.choose(rack)
        yield name, window
    desk.shown = EMPTY
    window.look_again()
    yield "empty", window
    window.close()


def import_pictures(
    record: Record, theme: ThemeName, screen: ScreenGeometry, place: Path
) -> Iterator[Picture]:
    """An older history: a question open, then a preview with a line that is wrong."""
    file = place / "season-before.csv"
    file.write_text(OLDER, encoding="utf-8")
    window = ImportWindow(
        HistoryDesk(record, lambda: NOON.astimezone()), theme, screen, "Coach Minke Straten"
    )
    window.show()
    window.open_file(file)
    yield "question", window
    window.desk.use(replace(window.desk.source, load_unit="kg"))
    window.desk.name_lift("BSQ", "back squat")
    window._fill()
    yield "preview", window
    window.close()


def write_pictures(folder: Path) -> list[Path]:
    """One PNG for each screen, size, theme and state."""
    application = screens_application()
    written = []
    with tempfile.TemporaryDirectory() as place:
        record = a_day(Path(place) / "desk")
        for size, screen in SIZES.items():
            for theme in THEMES:
                for what, pictures in (
                    ("check-in", kiosk_pictures(record, theme, screen)),
                    ("jump-line", jump_pictures(theme, screen)),
                    ("desk", desk_pictures(record, theme, screen, Path(place))),
                    ("older-history", import_pictures(record, theme, screen, Path(place))),
                    ("room", room_pictures(record, theme, screen)),
                ):
                    for name, window in pictures:
                        written.append(
                            _saved(application, window, folder / f"{what}-{size}-{theme}-{name}.png")
                        )
        record.close()
    return written


def _saved(application: QApplication, window: QWidget, file: Path) -> Path:
    application.processEvents()
    return save_snapshot(window, file)


if __name__ == "__main__":
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    print(f"{len(write_pictures(Path(sys.argv[1])))} pictures in {sys.argv[1]}")
