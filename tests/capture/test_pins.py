"""The wait after wrong PINs: through a restart, at all screens of a machine, whatever is done to the clock."""

from __future__ import annotations

import stat
import sys
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from hypothesis import given
from hypothesis import strategies as st

from station.capture.pins import LONGEST_WAIT_S, PinGate
from station.capture.wrong_pins import FILE_NAME, WrongPins

STAFF, RIGHT, WRONG = "Coach Minke", "2468", "1111"
CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
HASH = CHEAP.hash(RIGHT)
START_S = 1_790_000_000.0


class Machine:
    """True time goes on; the wall clock can be set, and each restart begins the monotonic one anew."""

    def __init__(self, file: Path | None = None, broken: bool = False) -> None:
        self.file, self.true_s, self.set_by_s, self.forward_s = file, 0.0, 0.0, 0.0
        self.kept = Memory() if file is None and not broken else None
        self.start()

    def start(self) -> None:
        self.started_s = self.true_s
        self.gate = self.screen()

    def screen(self) -> PinGate:
        began_s = self.started_s
        made = PinGate(lambda: self.true_s - began_s, self.kept or WrongPins(self.file), self.wall)
        made._hasher = CHEAP
        return made

    def wall(self) -> float:
        return START_S + self.true_s + self.set_by_s

    def set_clock(self, by_s: float) -> None:
        self.set_by_s += by_s
        self.forward_s += max(by_s, 0.0)

    def tries(self, pin: str, at: PinGate | None = None) -> str:
        return (at or self.gate).refused(STAFF, pin, HASH)


class Memory(WrongPins):
    """A file that is quick."""


def test_the_wait_goes_on_after_a_restart(tmp_path: Path) -> None:
    machine = Machine(tmp_path / FILE_NAME)
    for _ in range(4):
        assert "not the PIN" in machine.tries(WRONG)
        machine.true_s += 20.0
    machine.true_s -= 18.0  # two seconds into a wait of sixteen
    machine.start()
    assert machine.tries(RIGHT) == "Wait 14 s, then type the PIN again."
    machine.true_s += 14.1
    assert "Wait 32 s before" in machine.tries(WRONG)  # the count went on as well


def test_a_wrong_one_at_one_screen_makes_all_of_the_machine_wait(tmp_path: Path) -> None:
    machine = Machine(tmp_path / FILE_NAME)
    other = machine.screen()
    assert "Wait 2 s before" in machine.tries(WRONG)
    assert machine.tries(RIGHT, at=other).startswith("Wait 2 s")
    machine.true_s += 2.1
    assert machine.tries(RIGHT, at=other) == ""
    assert "Wait 2 s before" in machine.tries(WRONG)  # the right one wiped the count, here too


def test_another_persons_wait_is_not_mine(tmp_path: Path) -> None:
    machine = Machine(tmp_path / FILE_NAME)
    machine.tries(WRONG)
    assert machine.gate.refused("Dr. Weidholz", RIGHT, CHEAP.hash(RIGHT)) == ""


@pytest.mark.skipif(sys.platform == "win32", reason="modes of POSIX")
def test_the_file_is_for_this_account_alone_and_names_nobody(tmp_path: Path) -> None:
    machine = Machine(tmp_path / FILE_NAME)
    machine.tries(WRONG)
    assert stat.S_IMODE((tmp_path / FILE_NAME).stat().st_mode) == 0o600
    kept = (tmp_path / FILE_NAME).read_text()
    assert not any(word in kept for word in ("Minke", RIGHT, WRONG, HASH))
    assert [file.name for file in tmp_path.iterdir()] == [FILE_NAME]  # nothing half-written lies about


@pytest.mark.parametrize(
    "spoilt", ["", "{", "[]", "7", '{"a": 1}', '{"a": [0, 1.0]}', '{"a": [1, NaN]}', '{"a": ["x", 1.0]}']
)
def test_with_a_file_that_makes_no_sense_the_wait_works_in_memory(tmp_path: Path, spoilt: str) -> None:
    (tmp_path / FILE_NAME).write_text(spoilt)
    machine = Machine(tmp_path / FILE_NAME)
    machine.tries(WRONG)
    (tmp_path / FILE_NAME).write_text(spoilt)
    assert machine.tries(RIGHT).startswith("Wait 2 s")
    machine.true_s += 2.1
    assert "Wait 4 s before" in machine.tries(WRONG)
    machine.start()
    assert machine.tries(RIGHT).startswith("Wait 4 s")  # it was written anew


def test_where_no_file_can_be_written_the_wait_works_in_memory(tmp_path: Path) -> None:
    machine = Machine(tmp_path / "no folder" / FILE_NAME)
    machine.tries(WRONG)
    assert machine.tries(RIGHT).startswith("Wait 2 s")
    machine.true_s += 2.1
    assert "Wait 4 s before" in machine.tries(WRONG)
    machine.true_s += 4.1
    assert machine.tries(RIGHT) == ""


def test_a_clock_set_back_after_a_restart_locks_nobody_out_for_longer_than_the_longest_wait(
    tmp_path: Path,
) -> None:
    machine = Machine(tmp_path / FILE_NAME)
    machine.tries(WRONG)
    machine.set_clock(-86_400.0)
    machine.start()
    assert machine.tries(RIGHT).startswith("Wait")
    machine.true_s += LONGEST_WAIT_S
    assert machine.tries(RIGHT) == ""


JUMPS = st.floats(-5000.0, 5000.0)
DONE = st.lists(
    st.one_of(
        st.tuples(st.just("wait"), st.floats(0.0, 90.0)),
        st.tuples(st.just("set clock"), JUMPS),
        st.tuples(st.just("wrong"), st.just(0.0)),
        st.tuples(st.just("restart"), st.just(0.0)),
    ),
    max_size=12,
)


@given(DONE)
def test_no_clock_opens_early_by_more_than_its_jump_nor_locks_out_for_longer_than_the_longest_wait(
    done: list[tuple[str, float]],
) -> None:
    machine = Machine()
    said_s, at_s, forward_s = 0.0, 0.0, 0.0
    for what, much_s in done:
        if what == "wait":
            machine.true_s += much_s
        elif what == "set clock":
            machine.set_clock(much_s)
        elif what == "restart":
            machine.start()
        else:
            words = machine.tries(WRONG)
            if "not the PIN" in words:  # it was looked at
                assert machine.true_s - at_s >= said_s - (machine.forward_s - forward_s) - 0.01
                said_s = float(words.split("Wait ")[1].split(" s")[0])
                at_s, forward_s = machine.true_s, machine.forward_s
    machine.true_s += LONGEST_WAIT_S
    assert machine.tries(RIGHT) == ""
