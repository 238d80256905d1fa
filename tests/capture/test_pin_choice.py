"""Who may choose a PIN: the first of all, then only beside a colleague who has one, at the desk and at the rack."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from station.capture.desk_sign_in import CHOOSE, LOCKS_AFTER, SHUT, DeskSignIn
from station.capture.pin_choice import NOT_VOUCHED, TYPE_AGAIN, PinChoice
from station.store.rack_things import pin_hashes
from station.store.record import Record
from tests.capture.bench import Bench

NOON = datetime(2026, 10, 14, 12, 40)  # noqa: DTZ001 - a local time of day
MINKE, HALVARD, DOCTOR = "Coach Minke", "Coach Halvard", "Dr. Weidholz"


def recorded(folder: Path) -> Record:
    return Record(folder, folder.name, lambda: datetime(2026, 10, 14, 10, 40, tzinfo=UTC))


class Desk(DeskSignIn):
    def __init__(self, record: Record) -> None:
        self.now = NOON
        super().__init__(record, lambda: self.now)
        self.record = record


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    record = recorded(tmp_path / "data" / "desk")
    rows = [{"name": MINKE, "role": ""}, {"name": HALVARD, "role": ""}, {"name": DOCTOR, "role": "medical"}]
    record.add_rows("staff", rows)
    yield Desk(record)
    record.close()


@pytest.fixture
def rack(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path / "data" / "rack-1")
    yield made
    made.record.close()


def test_the_first_of_all_chooses_a_pin(desk: Desk) -> None:
    assert desk.sign_in(MINKE) == ""
    assert desk.pin_words == CHOOSE
    assert not desk.answers_open
    assert desk.sign_in(MINKE, "2468") == ""
    assert desk.answers_open
    assert desk.shut_words == ""


@pytest.mark.parametrize("name", [HALVARD, DOCTOR])
def test_from_then_on_nobody_chooses_one_alone(desk: Desk, name: str) -> None:
    desk.sign_in(MINKE, "2468")
    desk.sign_in(None)
    desk.sign_in(name)
    assert desk.pin_words == NOT_VOUCHED
    assert desk.sign_in(name, "1357") == NOT_VOUCHED
    assert desk.shut_words == SHUT
    assert name not in pin_hashes(desk.record)


@pytest.mark.parametrize("name", [HALVARD, DOCTOR])
def test_beside_a_colleague_with_a_pin_the_new_name_gets_one(desk: Desk, name: str) -> None:
    desk.sign_in(MINKE, "2468")
    desk.sign_in(name)
    assert not desk.answers_open  # the colleague's PIN opens nothing for the new name
    assert desk.sign_in(name, "12") == "A PIN has 4 digits or more."
    assert desk.sign_in(name, "1357") == ""
    assert desk.answers_open
    desk.sign_in(None)
    assert desk.sign_in(name, "1357") == ""


def test_a_colleague_vouches_for_the_name_picked_next_and_no_other(desk: Desk) -> None:
    desk.sign_in(MINKE, "2468")
    desk.sign_in(HALVARD)
    desk.sign_in(DOCTOR)
    assert desk.sign_in(DOCTOR, "1357") == NOT_VOUCHED
    assert desk.sign_in(HALVARD, "1357") == NOT_VOUCHED


def test_a_colleague_who_signed_in_without_a_pin_vouches_for_nobody(desk: Desk) -> None:
    desk.sign_in(MINKE, "2468")
    desk.sign_in(None)
    desk.sign_in(HALVARD)
    assert desk.staff == HALVARD
    desk.sign_in(DOCTOR)
    assert desk.sign_in(DOCTOR, "1357") == NOT_VOUCHED


def test_a_wrong_pin_vouches_for_nobody(desk: Desk) -> None:
    desk.sign_in(MINKE, "2468")
    desk.sign_in(None)
    assert "not the PIN" in desk.sign_in(MINKE, "1111")
    assert desk.sign_in(HALVARD, "1357") == NOT_VOUCHED


def test_after_five_minutes_nobody_vouches_and_nothing_is_open(desk: Desk) -> None:
    desk.sign_in(MINKE, "2468")
    desk.now += LOCKS_AFTER
    assert not desk.answers_open  # before anything has looked at the clock
    desk.touched()  # too late
    assert not desk.answers_open
    assert desk.sign_in(HALVARD, "1357") == NOT_VOUCHED


def test_a_half_done_choice_is_locked_like_a_person_who_has_left(desk: Desk) -> None:
    desk.sign_in(MINKE, "2468")
    desk.sign_in(DOCTOR)  # medical staff: not signed in before the PIN
    assert desk.staff is None
    desk.now += LOCKS_AFTER
    assert desk.lock_when_idle()
    assert not desk.lock_when_idle()
    assert desk.sign_in(DOCTOR, "1357") == NOT_VOUCHED


def test_whoever_stays_at_the_screen_stays_signed_in(desk: Desk) -> None:
    desk.sign_in(MINKE, "2468")
    for _ in range(3):
        desk.now += LOCKS_AFTER - timedelta(seconds=1)
        desk.touched()
    assert desk.answers_open
    desk.now -= 2 * LOCKS_AFTER  # a clock set back keeps nobody signed in for longer
    assert not desk.answers_open


# -- the rack ------------------------------------------------------------------------------------------------------


def test_at_a_rack_nobody_chooses_a_pin_for_a_name_without_one(desk: Desk, rack: Bench) -> None:
    desk.sign_in(MINKE, "2468")
    rack.rack.sign_in(DOCTOR)
    rack.rack.set_pin("1357")
    assert rack.view.pin_words == NOT_VOUCHED
    assert DOCTOR not in pin_hashes(desk.record)


def test_the_pin_of_the_desk_is_asked_for_at_the_racks_of_its_machine(desk: Desk, rack: Bench) -> None:
    desk.sign_in(MINKE, "2468")
    rack.rack.sign_in(MINKE)
    assert rack.view.staff is None
    assert rack.view.pin_needed == (MINKE,)
    rack.rack.sign_in(MINKE, "2468")
    assert rack.view.staff == MINKE


def test_beside_a_colleague_a_pin_is_chosen_at_the_rack_and_holds_at_the_desk(
    desk: Desk, rack: Bench
) -> None:
    desk.sign_in(MINKE, "2468")
    rack.rack.sign_in(MINKE, "2468")
    rack.rack.sign_in(HALVARD)
    rack.rack.set_pin("1357")
    assert rack.view.pin_words == "The PIN is kept."
    assert desk.sign_in(HALVARD, "1357") == ""


def test_a_pin_is_changed_or_taken_away_by_whoever_has_just_typed_it(
    rack: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    seconds = [0.0]
    rack.rack._standing = PinChoice(lambda: seconds[0])
    rack.rack.sign_in(MINKE)
    rack.rack.set_pin("2468")
    before = pin_hashes(rack.record)
    seconds[0] += LOCKS_AFTER.total_seconds()
    for pin in ("1357", ""):
        rack.rack.set_pin(pin)
        assert rack.view.pin_words == TYPE_AGAIN
    assert pin_hashes(rack.record) == before
    rack.rack.sign_in(MINKE, "2468")
    rack.rack.set_pin("1357")
    assert pin_hashes(rack.record) != before


def test_who_was_signed_in_before_the_pin_was_chosen_elsewhere_does_not_change_it(
    desk: Desk, rack: Bench
) -> None:
    rack.rack.sign_in(MINKE)
    desk.sign_in(MINKE, "2468")
    rack.rack.set_pin("")
    assert rack.view.pin_words == TYPE_AGAIN
    assert MINKE in pin_hashes(desk.record)
