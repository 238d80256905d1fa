"""The check-in: five answers are kept, everything else is a choice, and an abandoned form leaves nothing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from station.capture.checkin import TIME_OUT_S, CheckInDesk, RecordBook, Step
from station.squad.athletes import Athlete
from station.squad.checkins import ITEM_KEYS, CheckIn, CheckInKind, Pain
from station.store import checkins, nearby
from station.store.record import Record

DAY = date(2026, 10, 14)
AINO = Athlete("a", "Aino Amsel", 14, "rack 1")
BELA = Athlete("b", "Bela Birkholz", 14, "rack 1")


def opened(folder: Path, name: str) -> Record:
    return Record(folder / name, name, lambda: datetime(2026, 10, 14, 5, 0, tzinfo=UTC))


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = opened(tmp_path, "door")
    made.add_athletes([AINO, BELA])
    yield made
    made.close()


@pytest.fixture
def desk(record: Record) -> CheckInDesk:
    for athlete in (AINO, BELA):
        checkins.give_consent(record, athlete.athlete_id, given=True)
    return CheckInDesk(RecordBook(record), DAY)


def kept(record: Record) -> list[CheckIn]:
    with record.database.read() as connection:
        return checkins.check_ins_since(connection, DAY)


def answer_all(desk: CheckInDesk, value: int = 4) -> None:
    for n, item in enumerate(ITEM_KEYS):
        desk.answer(item, value, 1.0 + n)


def test_name_five_answers_and_done_are_seven_touches(desk: CheckInDesk, record: Record) -> None:
    desk.begin(AINO, 0.0)
    answer_all(desk)
    assert desk.finish(8.0)
    (one,) = kept(record)
    assert (one.touches, one.seconds, one.total) == (7, 8.0, 20)
    assert desk.step is Step.THANKS
    assert not desk.caution


def test_an_open_item_is_asked_for_and_never_taken_for_fine(desk: CheckInDesk, record: Record) -> None:
    desk.begin(AINO, 0.0)
    desk.answer("mood", 5, 1.0)
    assert not desk.finish(2.0)
    assert kept(record) == []


def test_a_second_touch_changes_an_answer(desk: CheckInDesk, record: Record) -> None:
    desk.begin(AINO, 0.0)
    answer_all(desk)
    desk.answer("mood", 1, 7.0)
    desk.finish(8.0)
    assert kept(record)[0].answers["mood"] == 1


@pytest.mark.parametrize("said", ["pain", "illness"])
def test_pain_or_illness_brings_the_caution_and_the_hold(
    desk: CheckInDesk, record: Record, said: str
) -> None:
    desk.begin(AINO, 0.0)
    answer_all(desk)
    if said == "pain":
        desk.hurts(Pain("hamstring", "left"), 7.0)
    else:
        desk.feels_ill(7.0)
    desk.finish(8.0)
    assert desk.caution
    assert kept(record)[0].unwell
    with record.database.read() as connection:
        assert checkins.held_back(connection, DAY) == {"a"}


def test_skipping_is_counted_and_pain_said_before_it_is_kept(desk: CheckInDesk, record: Record) -> None:
    desk.begin(AINO, 0.0)
    desk.answer("mood", 2, 1.0)
    desk.hurts(Pain("knee", "right"), 2.0)
    desk.skip(3.0)
    (one,) = kept(record)
    assert (one.kind, one.answers, one.total) == (CheckInKind.SKIPPED, {}, None)
    assert one.pains == (Pain("knee", "right"),)


def test_without_consent_nothing_is_asked_and_a_no_is_kept(record: Record) -> None:
    desk = CheckInDesk(RecordBook(record), DAY)
    desk.begin(AINO, 0.0)
    assert desk.step is Step.CONSENT
    desk.decline(3.0)
    (one,) = kept(record)
    assert (one.kind, one.answers) == (CheckInKind.DECLINED, {})
    with record.database.read() as connection:
        assert checkins.consents_now(connection) == {"a": False}
    desk.leave()
    desk.begin(AINO, 10.0)
    assert desk.step is Step.CONSENT  # asked again only when the athlete comes back
    desk.agree(11.0)
    assert desk.step is Step.ITEMS


def test_a_form_left_alone_is_forgotten(desk: CheckInDesk, record: Record) -> None:
    desk.begin(AINO, 0.0)
    answer_all(desk)
    assert not desk.tick(5.0 + TIME_OUT_S - 0.1, DAY)
    assert desk.tick(5.0 + TIME_OUT_S, DAY)
    assert (desk.step, desk.form) == (Step.WHO, None)
    assert kept(record) == []


def test_who_has_been_here_is_no_longer_offered_and_can_come_back_by_number(
    desk: CheckInDesk, record: Record
) -> None:
    desk.begin(AINO, 0.0)
    answer_all(desk)
    desk.finish(8.0)
    assert [a.name for a in desk.people()] == ["Bela Birkholz"]
    assert [a.name for a in desk.wearing(14)] == ["Aino Amsel", "Bela Birkholz"]
    assert desk.wearing(99) == []


def test_a_kiosk_takes_the_roster_over_and_nobodys_answers(tmp_path: Path, record: Record) -> None:
    checkins.add_check_in(record, CheckIn("a", DAY, CheckInKind.ANSWERED, dict.fromkeys(ITEM_KEYS, 2)))
    other = opened(tmp_path, "second door")
    try:
        book = RecordBook(other)
        assert [a.name for a in book.people()] == ["Aino Amsel", "Bela Birkholz"]
        assert kept(other) == []
        assert nearby.take_over(other) == 0  # taking over again adds nothing
    finally:
        other.close()


def test_the_desk_takes_everything_over_and_a_rack_learns_only_the_hold(
    tmp_path: Path, record: Record
) -> None:
    unwell = CheckIn("a", DAY, CheckInKind.ANSWERED, dict.fromkeys(ITEM_KEYS, 2), ill=True)
    checkins.add_check_in(record, unwell)
    desk, rack = opened(tmp_path, "desk"), opened(tmp_path, "rack-1")
    try:
        nearby.take_over(desk, nearby.DESK_TABLES)
        assert kept(desk) == [unwell]
        nearby.take_over(rack)
        assert kept(rack) == []
        assert nearby.held_back_nearby(rack.database.folder, DAY) == {"a"}
    finally:
        desk.close()
        rack.close()


def test_a_neighbour_that_is_no_record_is_left_alone(tmp_path: Path, record: Record) -> None:
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "record.sqlite").write_text("not a database at all, but long enough to be read as one")
    assert nearby.take_over(record) == 0
    assert nearby.held_back_nearby(record.database.folder, DAY) == set()
    assert [a.name for a in record.athletes(DAY)] == ["Aino Amsel", "Bela Birkholz"]
