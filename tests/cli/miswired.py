"""A rightly wired boat at rest behind emulated chips and pins, and the mistakes one can make in wiring it.

`halocline check` opens it with the real board's code. The boat's volts come from the simulated boat, which has its own
formulas; a mistake changes what reaches the chips, or what is written in the configuration.
"""

import re

from halocline.config import demo_text, parse_document, settings_from_document
from halocline.rehearsal.board_wiring import wiring_of
from halocline.simulation import PlantParameters, Sea
from halocline_hw import RaspberryPiBoard, VirtualClock
from halocline_hw.emulated import EmulatedBoard

START_S = 1000.0
SUPPLY_V = 3.3


def written(text, **tables):
    """The configuration with tables replaced, or left out where None; `inputs__tank_fill` is `[inputs.tank_fill]`."""
    for key, body in tables.items():
        name = key.replace("__", ".")
        text = re.sub(rf"(?ms)^\[{re.escape(name)}\]\n.*?(?=^\[|\Z)", "", text)
        if body is not None:
            text += f"\n[{name}]\n{body}\n"
    return text


class Boat:
    """`fitted`: the configuration that would be true. `says`: the one in the file. Both begin as the demo boat's."""

    def __init__(self, **tables):
        self.fitted = written(demo_text(), **tables)
        self.says = self.fitted
        self.clock = VirtualClock(START_S)
        self.inputs = {}  # (address, mux) → a function of the rightly wired boat's volts and time, in its place
        self.contacts = {}  # line → whether its circuit is closed, whatever the boat does
        self.noise_hz = {}  # meter → pulses a second that no water makes
        self.broken = []  # (fault, address) of chips
        self.opened = 0
        self.far = None
        self.ties = {}  # address in the file → address the chip is really tied to

    @staticmethod
    def relay(interlock_open):
        """The interlock's relay: whether its contact is open."""
        return interlock_open

    def write(self, **tables):
        """Write something else into the file than what is fitted."""
        self.says = written(self.says, **tables)

    def exchange(self, one, other):
        """Two wires end on each other's inputs."""
        self.inputs[one] = lambda volts, t_s: volts(*other, t_s)
        self.inputs[other] = lambda volts, t_s: volts(*one, t_s)

    def put(self, place, volts):
        """An input sees these volts."""
        self.inputs[place] = lambda _volts, _t_s: volts

    def breaks(self, fault, address):
        """A chip has a fault."""
        self.broken.append((fault, address))

    def open(self, wiring, _clock):
        """As `open_raspberry_pi`."""
        sea, fitted = self._sea(), wiring_in(self.fitted)
        far = EmulatedBoard(fitted, {at: self._volts(sea, at) for at in fitted.chip_addresses()}, self.clock)
        for line in fitted.contacts:
            closed = self.contacts.get(line, sea.contact_closed(line, START_S))
            far.pins.set_contact(line, closed)
        for line in fitted.pulses:
            far.pins.set_pulse_source(line, pulses_of(self.noise_hz.get(line, 0.0)))
        for fault, address in self.broken:
            far.bus.set_fault(fault, address)
        if fitted.interlock is not None:
            contact = far.pins.factory.pin(fitted.contacts[fitted.interlock.contact].pin)
            contact.level_from = self.relay(far.interlock_open)
        self.far, self.opened = far, self.opened + 1
        return RaspberryPiBoard(wiring, i2c_bus=far.bus, pin_factory=far.pins.factory, clock=self.clock)

    def _sea(self):
        settings = settings_from_document(parse_document(self.fitted.encode(), "fitted"), "fitted")
        return Sea(settings, PlantParameters.for_settings(settings), 1, START_S)

    def _volts(self, sea, address):
        def fitted(at, mux, t_s):
            return sea.volts(at, mux, t_s)

        def volts(mux, t_s):
            at = self.ties.get(address, address)
            seen = self.inputs.get((at, mux))
            return fitted(at, mux, t_s) if seen is None else seen(fitted, t_s)

        return volts


def pulses_of(rate_hz):
    """Even pulses from the start on."""
    return lambda t_s: rate_hz * (t_s - START_S)


def wiring_in(text):
    """The wiring of a configuration."""
    return wiring_of(settings_from_document(parse_document(text.encode(), "file"), "file"))
