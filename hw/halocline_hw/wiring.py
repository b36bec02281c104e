"""What hangs on which pin and which converter chip: plain values, no hardware needed."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import chain

from halocline_hw.interlock import Interlock

ADC_ADDRESSES = (0x48, 0x49, 0x4A, 0x4B)  # ADDR pin at ground, supply, SDA, SCL (ADS111x data sheet)
PULLED_UP_AT_POWER_ON = range(9)  # GPIO 0-8 wake with a pull-up, 9-27 with a pull-down (SoC data sheet)
I2C_PINS = (2, 3)
I2C_BUS = 1
HEADER_PINS = range(28)


@dataclass(frozen=True, slots=True)
class OutputPin:
    """A relay driver on a GPIO (BCM number)."""

    pin: int
    active_high: bool = True
    accept_active_low: bool = False

    @property
    def safe_level(self) -> bool:
        """The level that leaves the relay released."""
        return not self.active_high


@dataclass(frozen=True, slots=True)
class ContactPin:
    """A contact from a GPIO (BCM number) to ground; the pin is pulled up inside."""

    pin: int


@dataclass(frozen=True, slots=True)
class PulsePin:
    """A pulse meter from a GPIO (BCM number) to ground; max_hz is the fastest rate that can be water."""

    pin: int
    max_hz: float = 200.0


@dataclass(frozen=True, slots=True)
class BusClearPins:
    """Two spare GPIOs tied to the bus lines through 330 ohm each, to clock a stuck chip free.

    Spare ones, because a pin that is taken from the I2C peripheral is not given back by itself.
    """

    scl: int
    sda: int


@dataclass(frozen=True, slots=True)
class Wiring:
    """The whole board: outputs, contacts and pulses by the name of their line."""

    adc_addresses: tuple[int, ...] = ()
    i2c_bus: int = I2C_BUS
    outputs: Mapping[str, OutputPin] = field(default_factory=dict)
    contacts: Mapping[str, ContactPin] = field(default_factory=dict)
    pulses: Mapping[str, PulsePin] = field(default_factory=dict)
    bus_clear: BusClearPins | None = None
    interlock: Interlock | None = None

    def problems(self) -> tuple[str, ...]:
        """Every reason why this wiring cannot be used, one sentence each; empty when it can."""
        return tuple(
            chain(
                self._address_problems(),
                self._pin_problems(),
                self._shared_pins(),
                self._output_problems(),
                self._interlock_problems(),
            )
        )

    def chip_addresses(self) -> tuple[int, ...]:
        """Every ADC chip, the interlock's included."""
        return self.adc_addresses + (() if self.interlock is None else (self.interlock.address,))

    def pins(self) -> Iterator[tuple[str, int]]:
        """Every (line, GPIO) of the board."""
        for line, output in self.outputs.items():
            yield line, output.pin
        for line, contact in self.contacts.items():
            yield line, contact.pin
        for line, pulse in self.pulses.items():
            yield line, pulse.pin
        if self.bus_clear is not None:
            yield "bus clear (SCL)", self.bus_clear.scl
            yield "bus clear (SDA)", self.bus_clear.sda

    def _address_problems(self) -> Iterator[str]:
        addresses = self.chip_addresses()
        for address in addresses:
            if address not in ADC_ADDRESSES:
                yield f"ADC address 0x{address:02x} does not exist: an ADS1115 answers at 0x48 to 0x4b"
        if len(set(addresses)) != len(addresses):
            yield "two ADC chips have one address: tie their ADDR pins to different lines"

    def _pin_problems(self) -> Iterator[str]:
        for line, pin in self.pins():
            if pin not in HEADER_PINS:
                yield f"{line}: GPIO {pin} does not exist, the header has GPIO 0 to 27"
            elif pin in I2C_PINS:
                yield f"{line}: GPIO {pin} belongs to the I2C bus, use another"

    def _shared_pins(self) -> Iterator[str]:
        owner: dict[int, str] = {}
        for line, pin in self.pins():
            if pin in owner:
                yield f"{line}: GPIO {pin} is already taken by {owner[pin]}"
            owner.setdefault(pin, line)

    def _output_problems(self) -> Iterator[str]:
        for line, output in self.outputs.items():
            if output.active_high and output.pin in PULLED_UP_AT_POWER_ON:
                yield (
                    f"{line}: GPIO {output.pin} is pulled up while the computer starts, which could close the"
                    " relay; use GPIO 9 to 27"
                )
            if not output.active_high and not output.accept_active_low:
                yield (
                    f"{line}: an active-low relay closes whenever its pin is low, also while the computer"
                    " starts or has lost its supply; use an active-high driver with a pull-down, or set"
                    " accept_active_low"
                )

    def _interlock_problems(self) -> Iterator[str]:
        if self.interlock is not None and self.interlock.contact not in self.contacts:
            yield f"interlock: no contact is wired as {self.interlock.contact}, so nobody would see it open"
