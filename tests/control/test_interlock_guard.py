"""Who programs the comparator interlock, reads it back, tells when it was lost, and closes its latch."""

from dataclasses import replace

import pytest
from hand_driven_plant import QUICK, Plant

from halocline.control.acquisition.hardware_interlock import CHECK_EVERY_S, InterlockGuard, armed
from halocline.plant.settings import InterlockSettings

FITTED = replace(QUICK, interlock=InterlockSettings(address=0x4A, opens_bar=66.0))


class Chip:
    """A board whose only business is the interlock."""

    def __init__(self):
        self.holds = False
        self.answers = True
        self.done = []
        self.now_s = 100.0
        self.closes_after_s = 0.0

    def arm_interlock(self):
        self._ask("arm")
        self.holds = True

    def check_interlock(self):
        self._ask("check")
        if not self.holds:
            raise OSError(5, "holds other words")

    def release_interlock(self):
        self._ask("release")

    def read(self, line):
        assert line == "pressure_switch"
        return self.holds and self.now_s >= 100.0 + self.closes_after_s

    def _ask(self, what):
        self.done.append(what)
        if not self.answers:
            raise OSError(121, "nothing acknowledges")

    def now(self):
        return self.now_s

    def sleep(self, seconds):
        self.now_s += seconds


def test_it_counts_as_lost_until_it_was_read_back():
    chip = Chip()
    guard = InterlockGuard(chip)
    assert guard.lost
    guard.turn(100.0)
    assert guard.lost
    assert chip.holds
    guard.turn(100.0 + CHECK_EVERY_S)
    assert not guard.lost


def test_it_is_read_back_every_two_seconds_and_no_more_often():
    chip = Chip()
    guard = InterlockGuard(chip)
    chip.holds = True
    for tick in range(201):
        guard.turn(100.0 + tick * 0.05)
    assert chip.done == ["check"] * 6


def test_a_chip_that_was_reset_is_programmed_again_and_nobody_misses_it():
    chip = Chip()
    guard = InterlockGuard(chip)
    chip.holds = True
    guard.turn(100.0)
    chip.holds = False
    guard.turn(102.0)
    assert (guard.lost, chip.holds, guard.rearmed) == (True, True, 1)
    guard.turn(104.0)
    assert not guard.lost


def test_a_chip_that_does_not_answer_stays_lost_and_raises_nothing():
    chip = Chip()
    guard = InterlockGuard(chip)
    chip.answers = False
    guard.ask_release()
    for tick in range(10):
        guard.turn(100.0 + tick)
    assert guard.lost
    assert guard.rearmed == 0


def test_the_latch_is_closed_only_when_asked_and_not_in_every_turn():
    chip = Chip()
    guard = InterlockGuard(chip)
    chip.holds = True
    guard.turn(100.0)
    for tick in range(20):
        guard.ask_release()
        guard.turn(100.0 + tick * 0.05)
    assert chip.done.count("release") == 2


def test_before_anything_is_judged_the_relay_has_taken():
    chip = Chip()
    chip.closes_after_s = 0.06
    assert armed(chip, FITTED, chip) is chip
    assert chip.done == ["arm"]
    assert chip.now_s == pytest.approx(100.06, abs=0.011)


def test_a_chip_that_cannot_be_programmed_holds_up_no_start_of_control():
    chip = Chip()
    chip.answers = False
    assert armed(chip, FITTED, chip) is chip
    chip.answers, chip.closes_after_s = True, 60.0
    armed(chip, FITTED, chip)
    assert chip.now_s < 101.0


def test_a_boat_without_one_is_not_asked():
    chip = Chip()
    assert armed(chip, QUICK, chip) is chip
    assert chip.done == []


# ---- what control makes of it ----------------------------------------------------------------------


def test_a_lost_interlock_refuses_a_start_and_is_an_alarm():
    plant = Plant(FITTED)
    plant.tick()
    assert plant.refused("start") == []
    plant.extra["interlock_lost"] = True
    plant.tick()
    assert plant.alarm("interlock_not_armed") == "unacknowledged"
    assert plant.give("start") == ["interlock_not_armed"]
    assert plant.state == "standby"


def test_what_is_not_fitted_cannot_be_lost():
    plant = Plant()
    plant.extra["interlock_lost"] = True
    plant.tick()
    assert plant.alarm("interlock_not_armed") is None
    assert plant.refused("start") == []


def test_the_latch_may_close_once_a_person_has_acknowledged_and_the_pressure_is_gone():
    plant = Plant(FITTED).brought_to("producing")
    plant.press("pressure_switch")
    plant.tick()
    assert plant.state == "tripped"
    assert plant.event("state")["why"]["id"] == "pressure_switch"
    assert plant.pressure_bar > 5
    assert not plant.core.interlock_may_close
    plant.wait(30)
    assert plant.pressure_bar < 0.1
    assert not plant.core.interlock_may_close
    assert plant.give("reset") != []
    assert not plant.core.interlock_may_close
    assert plant.give("acknowledge") == []
    assert plant.core.interlock_may_close


def test_under_pressure_or_with_an_unknown_one_nothing_is_closed():
    plant = Plant(FITTED).brought_to("producing")
    plant.press("pressure_switch")
    plant.tick()
    plant.give("acknowledge")
    plant.read("vessel_pressure", 20.0)
    plant.tick()
    assert not plant.core.interlock_may_close
    plant.lose("vessel_pressure")
    plant.tick()
    assert not plant.core.interlock_may_close


def test_a_trip_for_another_cause_releases_the_latch_that_opened_after_it():
    plant = Plant(FITTED).brought_to("producing")
    plant.press("stop_button")
    plant.tick()
    plant.press("stop_button", active=False)
    plant.wait(30)
    plant.press("pressure_switch")
    plant.tick()
    assert not plant.core.interlock_may_close
    assert plant.give("acknowledge") == []
    assert plant.core.interlock_may_close
    plant.press("pressure_switch", active=False)
    plant.tick()
    assert not plant.core.interlock_may_close
    assert plant.give("reset") == []
