"""Matches out of iCalendar files; recurrence rules and their dates are examples of RFC 5545, section 3.8.5.3."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from station.squad.calendar import day_label
from station.squad.calendar_table import (
    COLUMNS,
    CalendarLine,
    calendar_rows,
    preview_icalendar,
    preview_rows,
    read_icalendar,
)
from station.squad.table_text import TableError, read_table

FIRST, LAST = date(1997, 9, 1), date(1998, 12, 31)


def calendar(*events: str) -> str:
    head = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//invented//EN\r\n"
    zone = (
        "BEGIN:VTIMEZONE\r\nTZID:America/New_York\r\n"
        "BEGIN:STANDARD\r\nDTSTART:19671029T020000\r\nRRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10\r\n"
        "TZOFFSETFROM:-0400\r\nTZOFFSETTO:-0500\r\nTZNAME:EST\r\nEND:STANDARD\r\n"
        "BEGIN:DAYLIGHT\r\nDTSTART:19870405T020000\r\nRRULE:FREQ=YEARLY;BYDAY=1SU;BYMONTH=4\r\n"
        "TZOFFSETFROM:-0500\r\nTZOFFSETTO:-0400\r\nTZNAME:EDT\r\nEND:DAYLIGHT\r\nEND:VTIMEZONE\r\n"
    )
    return head + zone + "".join(events) + "END:VCALENDAR\r\n"


def event(*lines: str, uid: str = "match-1", title: str = "home") -> str:
    made = (
        "BEGIN:VEVENT",
        f"UID:{uid}",
        "DTSTAMP:19970901T000000Z",
        f"SUMMARY:{title}",
        *lines,
        "END:VEVENT",
    )
    return "".join(f"{line}\r\n" for line in made)


NEW_YORK = "DTSTART;TZID=America/New_York:19970902T090000"


def days(*lines: str) -> list[str]:
    return [str(one.day) for one in read_icalendar(calendar(event(*lines)), FIRST, LAST)]


def dates(month: int, *days_of_month: int, year: int = 1997) -> list[str]:
    return [str(date(year, month, day)) for day in days_of_month]


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        # "Daily for 10 occurrences" ==> September 2-11
        ("FREQ=DAILY;COUNT=10", dates(9, *range(2, 12))),
        # "Every 10 days, 5 occurrences" ==> September 2,12,22; October 2,12
        ("FREQ=DAILY;INTERVAL=10;COUNT=5", dates(9, 2, 12, 22) + dates(10, 2, 12)),
        # "Weekly for 10 occurrences" ==> September 2,9,16,23,30; October 7,14,21,28; November 4
        ("FREQ=WEEKLY;COUNT=10", dates(9, 2, 9, 16, 23, 30) + dates(10, 7, 14, 21, 28) + dates(11, 4)),
        # "Weekly on Tuesday and Thursday for five weeks" ==> September 2,4,9,11,16,18,23,25,30; October 2
        (
            "FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH",
            dates(9, 2, 4, 9, 11, 16, 18, 23, 25, 30) + dates(10, 2),
        ),
        # "Every other week on Tuesday and Thursday, for 8 occurrences" ==> September 2,4,16,18,30; October 2,14,16
        (
            "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
            dates(9, 2, 4, 16, 18, 30) + dates(10, 2, 14, 16),
        ),
        # "Monthly on the third-to-the-last day of the month": from 28 September on, here for four
        (
            "FREQ=MONTHLY;BYMONTHDAY=-3;COUNT=4",
            dates(9, 28) + dates(10, 29) + dates(11, 28) + dates(12, 29),
        ),
    ],
)
def test_recurrence_examples_of_rfc_5545(rule: str, expected: list[str]) -> None:
    start = NEW_YORK if "BYMONTHDAY=-3" not in rule else "DTSTART;TZID=America/New_York:19970928T090000"
    assert days(start, f"RRULE:{rule}") == expected


def test_an_until_and_an_excluded_date_of_rfc_5545() -> None:
    # Section 3.8.5.1: EXDATE takes dates out; "Weekly until December 24, 1997" ends on December 23.
    found = days(
        NEW_YORK, "RRULE:FREQ=WEEKLY;UNTIL=19971224T000000Z", "EXDATE;TZID=America/New_York:19970909T090000"
    )
    assert found[:2] == dates(9, 2, 16)
    assert found[-1] == "1997-12-23"
    assert len(found) == 16


def test_a_day_is_the_day_where_the_match_is_played() -> None:
    assert days("DTSTART;TZID=America/New_York:19970902T233000") == ["1997-09-02"]
    assert days("DTSTART;VALUE=DATE:19970902") == ["1997-09-02"]


def line_of(*lines: str, uid: str = "match-1") -> dict[str, CalendarLine]:
    found = read_icalendar(calendar(event(*lines, uid=uid)), FIRST, LAST)
    return {one.key: one for one in found}


def test_a_moved_match_is_the_same_match_on_another_day() -> None:
    before = line_of(NEW_YORK)
    after = list(line_of("DTSTART;TZID=America/New_York:19970903T090000", "SEQUENCE:1").values())
    assert [s for s, _ in preview_icalendar(after, before).changes] == ["1997-09-02 → 1997-09-03 match home"]


def test_one_moved_occurrence_of_a_series_moves_alone() -> None:
    rule = "RRULE:FREQ=WEEKLY;COUNT=3"
    before = line_of(NEW_YORK, rule)
    moved = event(
        "RECURRENCE-ID;TZID=America/New_York:19970909T090000", "DTSTART;TZID=America/New_York:19970910T090000"
    )
    after = read_icalendar(calendar(event(NEW_YORK, rule), moved), FIRST, LAST)
    assert [s for s, _ in preview_icalendar(after, before).changes] == ["1997-09-09 → 1997-09-10 match home"]


def test_a_cancelled_match_is_called_off_and_importing_again_changes_nothing() -> None:
    before = line_of(NEW_YORK)
    assert preview_icalendar(list(before.values()), before).empty
    after = list(line_of(NEW_YORK, "STATUS:CANCELLED").values())
    assert [s for s, _ in preview_icalendar(after, before).changes] == ["1997-09-02 match home: called off"]
    assert preview_icalendar(after, {}).empty


def test_an_imported_match_on_the_day_of_a_typed_one_is_that_match() -> None:
    typed = CalendarLine("day 1997-09-02", date(1997, 9, 2), "match")
    (found,) = line_of(NEW_YORK).values()
    made = preview_icalendar([found], {typed.key: typed})
    assert [line.key for _, line in made.changes] == [typed.key]


@pytest.mark.parametrize("title", ["BYE", "Bye week", "Round 8 - bye"])
def test_a_round_without_a_match_is_a_bye_and_no_match(title: str) -> None:
    (line,) = read_icalendar(calendar(event("DTSTART;VALUE=DATE:19971012", title=title)), FIRST, LAST)
    assert line.kind == "bye"
    (line,) = read_icalendar(
        calendar(event("DTSTART;VALUE=DATE:19971012", title="Byewater away")), FIRST, LAST
    )
    assert line.kind == "match"


def test_a_bye_week_is_said_for_its_seven_days_and_moves_no_match_day() -> None:
    bye, match = date(1997, 10, 13), date(1997, 10, 11)
    assert day_label(bye, [match], [bye]) == "MD+2, bye week"
    assert day_label(bye + timedelta(days=6), [match], [bye]) == "bye week"
    assert day_label(bye + timedelta(days=7), [match], [bye]) == ""
    assert day_label(match, [match], [bye]) == "MD"


def test_what_lies_outside_the_asked_days_is_left_out() -> None:
    text = calendar(event(NEW_YORK, "RRULE:FREQ=WEEKLY"))
    found = read_icalendar(text, date(1998, 1, 1), date(1998, 1, 31))
    assert [str(one.day) for one in found] == dates(1, 6, 13, 20, 27, year=1998)


@pytest.mark.parametrize(
    "text", ["", "not a calendar", "BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n", b"\xff\xfe\x00"]
)
def test_a_file_that_is_none_is_refused_with_a_sentence(text: str | bytes) -> None:
    with pytest.raises(TableError, match="not an iCalendar file"):
        read_icalendar(text, FIRST, LAST)


def test_the_typed_calendar_says_what_it_changes_and_what_is_wrong() -> None:
    typed = CalendarLine("day 2026-10-10", date(2026, 10, 10), "match", "home")
    rows = read_table(
        "day\tkind\n2026-10-17\tmatch\n2026-10-24\tbye\n31.10.2026\tmatch\n2026-11-07\tdraw", COLUMNS
    )
    made = preview_rows(rows, {typed.key: typed})
    assert [s for s, _ in made.changes] == ["2026-10-17 match: new", "2026-10-24 bye: new"]
    assert [e.in_words() for e in made.errors] == [
        "line 4: day '31.10.2026' is not a date such as 2026-10-14",
        "line 5: kind is match, bye, cancelled, not 'draw'",
    ]
    (row,) = calendar_rows([typed])
    moved = type(row)(row.line, row.cells | {"day": str(typed.day + timedelta(days=1))}, row.key)
    assert [s for s, _ in preview_rows([moved], {typed.key: typed}).changes] == [
        "2026-10-10 → 2026-10-11 match home"
    ]
