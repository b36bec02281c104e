"""The comparator interlock opens the coil chain with no program anywhere in the path: control is dead from here on."""

from dataclasses import replace
from itertools import count

import pytest

from halocline.config import load_demo
from halocline.control.acquisition.hardware_interlock import armed
from halocline.plant.settings import InterlockSettings
from halocline.rehearsal.board_wiring import wiring_of
from halocline.simulation import PlantParameters, Sea
from halocline_hw import VirtualClock
from halocline_hw.emulated import EmulatedBoard

OPENS_BAR = 65.0
DEMO = load_demo()[0]
# The hydraulic switch stands higher, so that what opens here is the interlock.
FITTED = replace(
    DEMO,
    plant=replace(DEMO.plant, pressure_switch_bar=68.0),
    interlock=InterlockSettings(address=0x4A, opens_bar=OPENS_BAR),
)
MS = 0.001


class Boat:
    """A simulated boat behind chips and pins; a program beats its heart and drives its pins until it dies."""

    def __init__(self, settings):
        self.clock = VirtualClock(1000.0)
        self.sea = Sea(settings, PlantParameters.for_settings(settings), 1, 1000.0)
        wiring = wiring_of(settings)
        volts = {address: self._volts(address) for address in wiring.chip_addresses()}
        self.far = EmulatedBoard(wiring, volts, self.clock, on_output=self.sea.set_output)
        self.board = armed(self.far.open(), settings, self.clock)
        self._beats = count()

    def _volts(self, address):
        return lambda mux, t_s: self.sea.volts(address, mux, t_s)

    def live(self, seconds, *, step_s=0.05, alive=True):
        """Let time pass; with `alive` the program beats its heart."""
        end_s = self.clock.now() + seconds
        while self.clock.now() < end_s:
            self.clock.sleep(step_s)
            if alive:
                self.board.write("heartbeat", next(self._beats) % 2 == 0)
            self._follow()
        return self

    def _follow(self):
        self.sea.advance(self.clock.now())
        self.sea.set_interlock(self.far.interlock_open(), self.clock.now())

    @property
    def truth(self):
        return self.sea.truth(self.clock.now())

    def at_working_pressure(self):
        self.live(2.0)
        self.board.write("feed_pump", True)
        self.live(5.0)
        self.board.write("high_pressure_pump", True)
        self.live(3.0)
        self.sea.ask("raise_pressure", self.clock.now())
        self.live(120.0)
        self.sea.ask(None, self.clock.now())
        assert self.truth.vessel_pressure_bar == pytest.approx(55.0, abs=1.0)
        assert self.truth.effective_outputs["high_pressure_pump"]
        return self

    def blocked_with_a_dead_program(self, rate_bar_per_ms):
        """Seconds from the death of the program to the pump's coil without current, and the pressure then."""
        began_s = self.clock.now()
        self.sea.inject("brine_blocked", began_s, rate_bar_per_ms=rate_bar_per_ms)
        while self.truth.effective_outputs["high_pressure_pump"]:
            self.live(MS, step_s=MS, alive=False)
            assert self.clock.now() - began_s < 5.0
        return self.clock.now() - began_s, self.truth.vessel_pressure_bar


@pytest.mark.parametrize("rate_bar_per_ms", [0.1, 0.02])
def test_it_opens_within_milliseconds_of_its_threshold_long_before_the_time_out_relay(rate_bar_per_ms):
    boat = Boat(FITTED).at_working_pressure()
    after_s, bar = boat.blocked_with_a_dead_program(rate_bar_per_ms)
    threshold_after_s = (OPENS_BAR - 55.0) / rate_bar_per_ms * MS
    assert after_s < 0.9  # the time-out relay would need a second
    assert after_s == pytest.approx(threshold_after_s, rel=0.25, abs=0.02)
    assert OPENS_BAR - 1.0 < bar < OPENS_BAR + 10.0 * rate_bar_per_ms + 1.0
    assert boat.far.pins.energised("high_pressure_pump")  # the pin stands where the dead program left it
    assert not boat.truth.relay_closed


def test_it_stays_open_when_the_pressure_is_gone_and_shows_as_the_pressure_switch():
    boat = Boat(FITTED).at_working_pressure()
    boat.blocked_with_a_dead_program(0.02)
    boat.sea.inject("brine_blocked", boat.clock.now(), clear=True)
    boat.live(60.0, alive=False)
    assert boat.truth.vessel_pressure_bar < 60.0
    assert boat.far.interlock_open()
    assert not boat.sea.contact_closed("pressure_switch", boat.clock.now())


def test_a_program_that_comes_back_and_beats_closes_nothing():
    boat = Boat(FITTED).at_working_pressure()
    boat.blocked_with_a_dead_program(0.02)
    boat.sea.inject("brine_blocked", boat.clock.now(), clear=True)
    boat.board.close()
    boat.board = armed(boat.far.open(), FITTED, boat.clock)
    boat.live(30.0)
    assert boat.far.interlock_open()
    assert not boat.truth.relay_closed


def test_without_one_the_hydraulic_switch_and_the_time_out_relay_are_what_is_left():
    boat = Boat(replace(FITTED, interlock=None)).at_working_pressure()
    _, bar = boat.blocked_with_a_dead_program(0.02)
    assert bar > OPENS_BAR + 2.0
