"""Nine clocks and a stop free a bus that a chip holds, and the scanner gives them by itself."""

from dataclasses import replace
from itertools import pairwise

import pytest

from halocline.config import load_demo
from halocline.control.acquisition.scanner import FastWatch, Scanner
from halocline.rehearsal.board_wiring import wiring_of
from halocline_hw import VirtualClock
from halocline_hw.bus_clear import CLOCKS, HALF_CLOCK_S
from halocline_hw.emulated import EmulatedBoard

DEMO = load_demo()[0]
CLEARING = replace(DEMO, plant=replace(DEMO.plant, bus_clear_clock_pin=9, bus_clear_data_pin=10))
SCL, SDA = 9, 10


class Bench:
    """The demonstration boat's board with the two spare pins tied to the bus, and its scanner."""

    def __init__(self, settings=CLEARING):
        self.clock = VirtualClock(100.0)
        wiring = wiring_of(settings)
        self.far = EmulatedBoard(wiring, dict.fromkeys(wiring.chip_addresses(), lambda _mux, _t_s: 1.5), self.clock)
        self.board = self.far.open()
        self.scanner = Scanner(self.board, settings, self.clock, FastWatch(64.0, lambda _v: None), lambda: None)

    def turns(self, seconds):
        end_s = self.clock.now() + seconds
        while self.clock.now() < end_s:
            self.scanner.turn()
            self.clock.sleep(0.02)
        return self.scanner.lost_chips(self.clock.now())

    def lines(self, *pins):
        """What was done to the two bus lines: (pin, pulled low or let go, when)."""
        return [(event.gpio, event.what, event.t_s) for event in self.far.pins.events if event.gpio in pins]


@pytest.mark.parametrize("clocks", range(1, CLOCKS + 1))
def test_as_many_clocks_as_the_chip_needs_and_then_a_stop(clocks):
    bench = Bench()
    bench.far.bus.set_fault("i2c_stuck", 0x48, clocks_to_free=clocks)
    bench.far.pins.events.clear()
    assert bench.board.clear_bus()
    pulled = [event for event in bench.lines(SCL) if event[1] == "output"]
    assert len(pulled) == clocks
    assert [what for _, what, _ in bench.lines(SDA)][-2:] == ["output", "input"]  # a stop: data rises while clock is up
    assert bench.lines(SCL)[-1][1] == "input"
    assert bench.board.convert(0x48, 0, 4.096, 860) == pytest.approx(1.5, abs=1e-3)


def test_clocks_are_no_faster_than_the_slowest_chip_allows():
    bench = Bench()
    bench.far.bus.set_fault("i2c_stuck", 0x48, clocks_to_free=CLOCKS)
    bench.far.pins.events.clear()
    bench.board.clear_bus()
    times = [t_s for _, what, t_s in bench.lines(SCL) if what == "output"]
    assert min(later - earlier for earlier, later in pairwise(times)) >= 2 * HALF_CLOCK_S - 1e-12
    assert 2 * HALF_CLOCK_S >= 1 / 100_000  # standard mode, I2C specification


def test_a_line_is_never_driven_high():
    bench = Bench()
    bench.far.bus.set_fault("i2c_stuck", 0x48, clocks_to_free=CLOCKS)
    bench.board.clear_bus()
    driven = [event for event in bench.far.pins.events if event.gpio in (SCL, SDA) and event.what != "input"]
    assert driven
    assert not any(event.level for event in driven)


def test_nine_clocks_without_effect_are_the_end_of_it():
    bench = Bench()
    bench.far.bus.set_fault("i2c_stuck", 0x48)
    bench.far.pins.events.clear()
    assert not bench.board.clear_bus()
    assert len([event for event in bench.lines(SCL) if event[1] == "output"]) == CLOCKS


@pytest.mark.parametrize("clocks", [1, 5, 9])
def test_the_scanner_frees_the_bus_and_goes_on_within_one_turn(clocks):
    bench = Bench()
    assert bench.turns(1.0) == ()
    bench.far.bus.set_fault("i2c_stuck", 0x49, clocks_to_free=clocks)
    bench.scanner.samples.clear()
    bench.scanner.turn()
    assert bench.scanner.bus_clears == 1
    assert bench.scanner.samples[0].volts == pytest.approx(1.5, abs=1e-3)
    assert bench.turns(1.0) == ()


def test_a_bus_that_stays_held_is_cleared_in_vain_once_a_second_and_chip_and_comes_back_when_let_go():
    bench = Bench()
    bench.turns(0.5)
    bench.far.bus.set_fault("i2c_stuck", 0x48)
    assert bench.turns(10.0) == (0x48, 0x49)
    assert 10 <= bench.scanner.bus_clears <= 24
    bench.far.bus.clear_fault("i2c_stuck", 0x48)
    assert bench.turns(2.5) == ()


def test_without_the_two_pins_nothing_is_tried():
    bench = Bench(DEMO)
    bench.far.bus.set_fault("i2c_stuck", 0x48, clocks_to_free=1)
    assert bench.turns(3.0) == (0x48, 0x49)
    assert bench.scanner.bus_clears == 0
