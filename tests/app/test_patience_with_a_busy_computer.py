"""Control's time on a simulated boat waits for a boat that is kept waiting, and for nothing else."""

import contextlib
import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.app.patient_clock import HALT_S, PATIENCE_S, PatientBoard, PatientClock

PRESSURE = (0x48, 0)
OTHER = (0x48, 1)
FRESH_S = 0.15  # how old a membrane pressure may be under pressure


class Computer:
    """Its clock, and a board that takes a while for each answer."""

    def __init__(self):
        self.real_s = 1000.0
        self.takes_s = 0.0012
        self.clock = PatientClock(lambda: self.real_s)
        self.board = PatientBoard(self, self.clock, *PRESSURE)
        self.seen = []

    def pass_time(self, seconds):
        self.real_s += seconds

    def convert(self, address, mux, gain, rate):
        self.pass_time(self.takes_s)
        self.seen.append((address, mux, gain, rate))
        if self.takes_s > 5.0:
            raise TimeoutError("no answer")
        return 1.5

    def write(self, line, on):
        self.seen.append((line, on))

    together = staticmethod(contextlib.nullcontext)

    def read(self, line):
        return line == "closed"

    def edges(self, line):
        return 7, self.real_s - 0.25

    def close(self):
        self.seen.append("closed")


@pytest.fixture
def computer():
    return Computer()


def test_an_idle_computer_s_time_is_the_real_one(computer):
    began_s = computer.clock.now()
    for _ in range(200):
        computer.board.convert(*PRESSURE, 4.096, 860)
        computer.board.convert(*OTHER, 4.096, 860)
        computer.pass_time(0.001)
        computer.clock.now()
    assert computer.clock.now() - began_s == pytest.approx(200 * 0.0034)
    assert computer.clock.behind_s == 0.0


def test_at_rest_a_look_every_tick_keeps_time_going(computer):
    began_s = computer.clock.now()
    for tick in range(40):
        if tick % 2 == 0:
            computer.board.convert(*PRESSURE, 4.096, 860)
        computer.pass_time(0.05)
        computer.clock.now()
    assert computer.clock.now() - began_s == pytest.approx(40 * 0.05 + 20 * 0.0012)


@pytest.mark.parametrize("frozen_s", [0.1, 0.3, 0.8])
def test_a_freeze_between_two_looks_costs_a_tick_and_a_bit(computer, frozen_s):
    computer.board.convert(*PRESSURE, 4.096, 860)
    before_s = computer.clock.now()
    computer.pass_time(frozen_s)
    assert computer.clock.now() - before_s == pytest.approx(PATIENCE_S)
    assert computer.clock.behind_s == pytest.approx(frozen_s - PATIENCE_S)


def test_a_freeze_during_a_conversion_is_waited_for_however_often_somebody_looks(computer):
    computer.board.convert(*PRESSURE, 4.096, 860)
    before_s = computer.clock.now()
    computer.clock.asked()
    for _ in range(8):
        computer.pass_time(0.05)
        assert computer.clock.now() - before_s <= PATIENCE_S + 1e-9
    computer.clock.answered(awaited=True)
    computer.pass_time(0.01)
    assert computer.clock.now() - before_s == pytest.approx(PATIENCE_S + 0.01)


@pytest.mark.parametrize("halted_s", [HALT_S + 0.01, 3.0, 60.0])
def test_a_halt_counts_in_full(computer, halted_s):
    computer.board.convert(*PRESSURE, 4.096, 860)
    before_s = computer.clock.now()
    computer.pass_time(halted_s)
    assert computer.clock.now() - before_s == pytest.approx(halted_s)


def test_a_halt_counts_in_full_although_somebody_looked_in_its_beginning(computer):
    computer.board.convert(*PRESSURE, 4.096, 860)
    before_s = computer.clock.now()
    computer.clock.asked()
    computer.pass_time(0.5)
    assert computer.clock.now() - before_s == pytest.approx(PATIENCE_S)
    computer.pass_time(2.5)
    assert computer.clock.now() - before_s == pytest.approx(3.0)


def test_a_chip_that_is_not_asked_stops_no_clock(computer):
    computer.board.convert(*PRESSURE, 4.096, 860)
    before_s = computer.clock.now()
    for _ in range(20):
        computer.pass_time(0.05)
        computer.clock.now()
    assert computer.clock.now() - before_s == pytest.approx(1.0)


def test_a_conversion_that_fails_is_an_answer_too(computer):
    computer.takes_s = 6.0
    with pytest.raises(TimeoutError):
        computer.board.convert(*PRESSURE, 4.096, 860)
    before_s = computer.clock.now()
    computer.pass_time(0.05)
    assert computer.clock.now() - before_s == pytest.approx(0.05)


def test_pulses_are_dated_by_the_same_clock(computer):
    computer.clock.now()
    computer.pass_time(0.5)
    now_s = computer.clock.now()
    count, last_s = computer.board.edges("product_flow")
    assert count == 7
    assert now_s - last_s == pytest.approx(0.25)


def test_everything_else_of_the_board_is_passed_on(computer):
    computer.board.write("beacon", True)
    assert computer.board.read("closed") is True
    assert computer.board.convert(*OTHER, 4.096, 860) == 1.5
    computer.board.close()
    assert computer.seen == [("beacon", True), (*OTHER, 4.096, 860), "closed"]


@given(st.lists(st.tuples(st.sampled_from(["look", "pressure", "other"]), st.floats(0.0, 2.0)), max_size=60))
def test_time_never_goes_back_and_never_runs_ahead(steps):
    computer = Computer()
    last_s = began_s = computer.clock.now()
    for what, seconds in steps:
        if what == "look":
            computer.pass_time(seconds)
        else:
            computer.takes_s = seconds
            computer.board.convert(*(PRESSURE if what == "pressure" else OTHER), 4.096, 860)
        now_s = computer.clock.now()
        assert now_s >= last_s - 1e-9
        assert now_s <= computer.real_s + 1e-9
        last_s = now_s
    assert last_s - began_s <= computer.real_s - 1000.0 + 1e-9


@given(st.lists(st.tuples(st.floats(0.0, 0.8), st.floats(0.0, 0.8), st.floats(0.0, 0.01)), max_size=30))
def test_frozen_anywhere_in_a_turn_the_pressure_stays_fresh(turns):
    """One freeze between two conversions and one within the next, each shorter than a halt."""
    computer = Computer()
    computer.takes_s = 0.0012
    computer.board.convert(*PRESSURE, 4.096, 860)
    for between_s, within_s, pause_s in turns:
        sampled_s = computer.clock.now()
        computer.pass_time(between_s)
        assert computer.clock.now() - sampled_s < FRESH_S
        computer.takes_s = within_s if between_s + within_s < HALT_S else 0.0012
        computer.board.convert(*PRESSURE, 4.096, 860)
        assert computer.clock.now() - sampled_s < FRESH_S
        computer.pass_time(pause_s)


def test_two_threads_may_look_and_answer_at_once():
    clock = PatientClock()
    seen = []

    def look():
        seen.extend(clock.now() for _ in range(2000))

    def answer():
        for _ in range(2000):
            clock.asked()
            clock.answered(awaited=True)

    threads = [threading.Thread(target=target) for target in (look, answer)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(10.0)
    assert seen == sorted(seen)
