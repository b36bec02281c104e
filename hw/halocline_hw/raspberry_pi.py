"""The board of the boat: converter chips on I2C; relays, contacts and pulse meters on GPIOs.

Made from a bus object and a pin factory, so that the same code runs on a Raspberry Pi, on emulated
chips and mock pins, and over a socket to another process that has them.
"""

import errno
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from functools import partial
from threading import Lock
from typing import NoReturn

from gpiozero import Factory, GPIOZeroError, InputDevice, OutputDevice  # type: ignore[import-untyped]

from halocline_hw import bus_clear, registers
from halocline_hw.ads1115 import Converters
from halocline_hw.bus import BoundedBus, Bus, ChipCounts
from halocline_hw.clock import Clock
from halocline_hw.interlock import Interlock
from halocline_hw.pulses import PulseMeter, pulse_meter
from halocline_hw.wiring import OutputPin, Wiring


class RaspberryPiBoard:
    """One plant's wiring by the names of its lines. See `halocline_hw.wiring` for what goes where.

    Opening it claims every output at its safe level. i2c_bus: any object with the driver's five calls.
    pin_factory: a gpiozero factory, never a default one. on_close is called last, in order.
    together: within it the pin factory may send what is set, and ask for what is read, in one message.
    Every method raises OSError or TimeoutError and nothing else. Conversions are serialised; the pins
    never wait for the I2C bus.
    """

    def __init__(
        self,
        wiring: Wiring,
        *,
        i2c_bus: Bus,
        pin_factory: Factory,
        clock: Clock,
        on_close: Sequence[Callable[[], None]] = (),
        together: Callable[[], AbstractContextManager[None]] = nullcontext,
    ) -> None:
        problems = wiring.problems()
        if problems:
            raise OSError(errno.EINVAL, "; ".join(problems))
        self._wiring = wiring
        self._pin_factory = pin_factory
        self._clock = clock
        self._on_close = tuple(on_close)
        self._together = together
        self._bus_lock = Lock()
        self._bus = BoundedBus(i2c_bus, clock)
        self._converters = Converters(self._bus, wiring.adc_addresses)
        self._outputs: dict[str, OutputDevice] = {}
        self._contacts: dict[str, InputDevice] = {}
        self._pulses: dict[str, PulseMeter] = {}
        try:
            self._claim()
        except OSError:
            with suppress(OSError):
                self.close()
            raise

    def _claim(self) -> None:
        for line, output in self._wiring.outputs.items():
            with _pin_errors(line, output.pin):
                # initial_value=False: the pin has its safe level before it becomes an output
                self._outputs[line] = OutputDevice(
                    output.pin,
                    active_high=output.active_high,
                    initial_value=False,
                    pin_factory=self._pin_factory,
                )
        for line, contact in self._wiring.contacts.items():
            with _pin_errors(line, contact.pin):
                self._contacts[line] = InputDevice(contact.pin, pull_up=True, pin_factory=self._pin_factory)
        for line, pulse in self._wiring.pulses.items():
            with _pin_errors(line, pulse.pin):
                self._pulses[line] = pulse_meter(pulse, self._pin_factory, self._clock)

    def convert(self, address: int, mux: int, gain: float, rate: int) -> float:
        """One fresh conversion in V. gain: full-scale range in V; rate: samples per second."""
        with self._bus_lock:
            return self._converters.convert(address, mux, gain, rate)

    def answers(self, address: int) -> bool:
        """Whether a chip answers at this address, configured or not; nothing is written to it."""
        with self._bus_lock:
            try:
                self._bus.read_register(address, registers.CONFIG)
            except OSError:
                return False
        return True

    @contextmanager
    def together(self) -> Iterator[None]:
        """Within it outputs may wait for its end, where the first that fails ends it; inputs may be of one look."""
        try:
            with self._together():
                yield
        except GPIOZeroError as error:
            raise OSError(errno.EIO, str(error)) from error

    def write(self, line: str, on: bool) -> None:
        """Energise (True) or release (False) an output."""
        device = self._outputs.get(line) or _not_wired("output", line)
        try:
            # The same as setting its value, past the library's look at every attribute that is set.
            device.on() if on else device.off()
        except GPIOZeroError as error:
            raise _pin_error(line, self._wiring.outputs[line].pin, error) from error

    def read(self, line: str) -> bool:
        """True while the contact's circuit is closed; a broken wire reads False."""
        device = self._contacts.get(line) or _not_wired("contact", line)
        try:
            return bool(device.value)
        except GPIOZeroError as error:
            raise _pin_error(line, self._wiring.contacts[line].pin, error) from error

    def edges(self, line: str) -> tuple[int, float]:
        """Pulses since the board was opened, and the monotonic time of the last one in s.

        Until the first pulse the time is that of opening. Pulses faster than the line's max_hz are
        not counted here but in `excess_pulses`.
        """
        meter = self._pulses.get(line) or _not_wired("pulse input", line)
        try:
            return meter.read()
        except GPIOZeroError as error:
            raise _pin_error(line, self._wiring.pulses[line].pin, error) from error

    def excess_pulses(self, line: str) -> int:
        """Pulses left out because they came faster than water can turn the meter."""
        return (self._pulses.get(line) or _not_wired("pulse input", line)).excess

    def counts(self, address: int) -> ChipCounts:
        """What the ADC at `address` has cost so far: retries, resets, wrong channels."""
        return self._bus.counts(address)

    def arm_interlock(self) -> None:
        """Program the window comparator and read it back; one already armed is left alone.

        A latch that has opened stays open: only `release_interlock` closes it.
        """
        with self._bus_lock:
            self._interlock().arm(self._bus)

    def check_interlock(self) -> None:
        """Raises OSError in words if the comparator does not hold what was programmed."""
        with self._bus_lock:
            self._interlock().check(self._bus)

    def release_interlock(self) -> None:
        """Close the latch again. It opens at once if the signal is still outside the window."""
        with self._bus_lock:
            self._interlock().release(self._bus)

    def prove_interlock(self) -> float:
        """Open the interlock on purpose and see its contact open and close with it; how long opening took, s.

        Raises OSError in words if it does not; whatever happens, the window is armed again.
        """
        interlock = self._interlock()
        with self._bus_lock:
            return interlock.prove(self._bus, self._clock, lambda: self.read(interlock.contact))

    def _interlock(self) -> Interlock:
        if self._wiring.interlock is None:
            raise OSError(errno.ENXIO, "no comparator interlock is wired")
        return self._wiring.interlock

    def clear_bus(self) -> bool:
        """Clock a chip free that holds the I2C data line; whether the line is free afterwards."""
        if self._wiring.bus_clear is None:
            raise OSError(errno.ENXIO, "no pins are wired for an I2C bus clear; switch the ADCs off and on")
        with self._bus_lock, _pin_errors("bus clear", self._wiring.bus_clear.scl):
            return bus_clear.clear_bus(self._wiring.bus_clear, self._pin_factory, self._clock)

    def close(self) -> None:
        """Release every output, then let go of the hardware. Raises OSError if an output would not."""
        failed: list[str] = []
        for line, output in self._outputs.items():
            gpio = self._wiring.outputs[line].pin
            _try(output.off, line, gpio, failed)
            _try(output.close, line, gpio, failed)
        for line, contact in self._contacts.items():
            _try(contact.close, line, self._wiring.contacts[line].pin, failed)
        for line, meter in self._pulses.items():
            _try(meter.close, line, self._wiring.pulses[line].pin, failed)
        self._outputs, self._contacts, self._pulses = {}, {}, {}
        for let_go in self._on_close:
            let_go()
        if failed:
            raise OSError(errno.EIO, "; ".join(failed))


def drive_all_safe(wiring: Wiring, pin_factory: Factory) -> None:
    """Claim every output at its safe level and leave it there, whatever else fails.

    For a process that must work when the one in charge has died. Raises OSError naming the lines that
    could not be claimed.
    """
    failed: list[str] = []
    for line, output in wiring.outputs.items():
        _try(partial(_claim_safe, pin_factory, output), line, output.pin, failed)
    if failed:
        raise OSError(errno.EIO, "not driven safe: " + "; ".join(failed))


def _claim_safe(pin_factory: Factory, output: OutputPin) -> None:
    pin_factory.pin(output.pin).output_with_state(output.safe_level)


def _try(action: Callable[[], None], line: str, gpio: int, failed: list[str]) -> None:
    """Do it, or note why not: one pin's failure must not keep the next from being made safe."""
    try:
        with _pin_errors(line, gpio):
            action()
    except OSError as error:
        failed.append(f"{line}: {error.strerror or error}")


def _not_wired(kind: str, line: str) -> NoReturn:
    raise OSError(errno.ENXIO, f"no {kind} is wired as {line}, or the board is closed")


def _pin_error(line: str, gpio: int, error: GPIOZeroError) -> OSError:
    return OSError(errno.EIO, f"{line} on GPIO {gpio}: {error}")


@contextmanager
def _pin_errors(line: str, gpio: int) -> Iterator[None]:
    """The pin library's own errors as OSError, with the line's name."""
    try:
        yield
    except GPIOZeroError as error:
        raise _pin_error(line, gpio, error) from error
