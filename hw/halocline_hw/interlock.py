"""Overpressure stopped by a converter chip alone: its window comparator and latched ALERT pin.

One more ADC on the membrane-pressure signal converts without end. Outside the window (too high, or so
low that the wire must be broken) it lets its open-drain ALERT pin go, the pull-up takes the relay's
supply away, and no program is in that path. The pin is programmed active-high on purpose: a chip that
is unprogrammed, reset, dead or unplugged also lets go, so it can only fail to the open side.

The latch is closed by reading the conversion register (ADS111x data sheet), so nothing here reads it
except to close the latch.
"""

import errno
from collections.abc import Callable
from dataclasses import dataclass

from halocline_hw import registers
from halocline_hw.bus import BoundedBus
from halocline_hw.clock import Clock

SETTLE_CONVERSIONS = 4  # beyond those the comparator's queue asks for: start-up and the relay's travel
RELAY_S = 0.02  # common small relays let go within 10 ms; from memory
PROOF_WITHIN_S = 0.5  # a relay this slow protects nothing
LOOK_EVERY_S = 0.002


@dataclass(frozen=True, slots=True)
class Interlock:
    """The window in V on single-ended input `mux` of the chip at `address`.

    contact: the line that opens with its relay. full_scale_v: range in V.
    in_a_row: conversions outside the window before it opens (1, 2 or 4).
    Raises ValueError for a window the chip cannot watch.
    """

    address: int
    mux: int
    low_v: float
    high_v: float
    contact: str = "pressure_switch"
    full_scale_v: float = 4.096
    rate_sps: int = 860
    in_a_row: int = 2

    def __post_init__(self) -> None:
        if self.mux not in range(4) or self.in_a_row not in registers.QUEUE_LENGTHS:
            raise ValueError("an ADS1115 has inputs 0 to 3 and a queue of 1, 2 or 4 conversions")
        if self.full_scale_v not in registers.FULL_SCALE_V or self.rate_sps not in registers.RATES_SPS:
            raise ValueError(f"an ADS1115 has no range of {self.full_scale_v} V or no rate of {self.rate_sps}/s")
        if not 0.0 <= self.low_v < self.high_v < self.full_scale_v:
            raise ValueError(f"the window {self.low_v} to {self.high_v} V is not inside 0 to {self.full_scale_v} V")

    def arm(self, bus: BoundedBus) -> None:
        """Program the window, unless the chip holds it already. Raises OSError."""
        if self._found(bus) != self._wanted(self.high_v):
            self._program(bus, self.high_v)

    def check(self, bus: BoundedBus) -> None:
        """Raises OSError in words if the chip does not hold the window."""
        found, wanted = self._found(bus), self._wanted(self.high_v)
        if found == wanted:
            return
        if found[0] == registers.POWER_ON_CONFIG & ~registers.OS:
            raise OSError(errno.EIO, f"interlock ADC 0x{self.address:02x} was reset: it watches nothing")
        words = ", ".join(f"0x{word:04x}" for word in found)
        expected = ", ".join(f"0x{word:04x}" for word in wanted)
        raise OSError(
            errno.EIO,
            f"interlock ADC 0x{self.address:02x} holds {words} where {expected} was programmed (config, low, high)",
        )

    def release(self, bus: BoundedBus) -> None:
        """Close the latch. Raises OSError, also if the window is not armed."""
        self.check(bus)
        bus.read_register(self.address, registers.CONVERSION)

    def prove(self, bus: BoundedBus, clock: Clock, circuit_closed: Callable[[], bool]) -> float:
        """Lower the window below the signal and see the circuit open, stay open, and close when released.

        Returns how long it took to open, s. Raises OSError in words for whatever was not as it must be;
        the window is armed again in any case.
        """
        name = f"interlock ADC 0x{self.address:02x}"
        self.check(bus)
        if not circuit_closed():
            raise OSError(errno.EIO, f"{name} is open already: release it before the proof test")
        try:
            began_s = clock.now()
            self._program(bus, self.low_v)  # an empty window: every signal is outside
            opened = _within(PROOF_WITHIN_S, clock, lambda: not circuit_closed())
            opened_s = clock.now() - began_s
        finally:
            self._program(bus, self.high_v)
        if not opened:
            raise OSError(errno.EIO, f"{name} did not open its circuit: check the ALERT wire and the relay")
        if _within(self._settled_s(), clock, circuit_closed):
            raise OSError(errno.EIO, f"{name} closed again by itself: its latch does not hold")
        bus.read_register(self.address, registers.CONVERSION)
        if not _within(PROOF_WITHIN_S, clock, circuit_closed):
            raise OSError(errno.EIO, f"{name} did not close its circuit again: is the signal in the window?")
        self.check(bus)
        return opened_s

    def _settled_s(self) -> float:
        conversion_s = 1.0 / (self.rate_sps * (1.0 - registers.RATE_TOLERANCE))
        return (self.in_a_row + SETTLE_CONVERSIONS) * conversion_s + RELAY_S

    def _program(self, bus: BoundedBus, high_v: float) -> None:
        config, low, high = self._wanted(high_v)
        bus.write_register(self.address, registers.LO_THRESH, low)
        bus.write_register(self.address, registers.HI_THRESH, high)
        bus.write_register(self.address, registers.CONFIG, config)

    def _found(self, bus: BoundedBus) -> tuple[int, int, int]:
        config = bus.read_register(self.address, registers.CONFIG) & ~registers.OS
        low = bus.read_register(self.address, registers.LO_THRESH)
        return config, low, bus.read_register(self.address, registers.HI_THRESH)

    def _wanted(self, high_v: float) -> tuple[int, int, int]:
        config = (
            (registers.SINGLE_ENDED + self.mux) << registers.MUX_SHIFT
            | registers.FULL_SCALE_V.index(self.full_scale_v) << registers.GAIN_SHIFT
            | registers.RATES_SPS.index(self.rate_sps) << registers.RATE_SHIFT
            | registers.WINDOW
            | registers.ACTIVE_HIGH
            | registers.LATCHING
            | registers.QUEUE_LENGTHS.index(self.in_a_row)
        )
        return config, self._code(self.low_v), self._code(high_v)

    def _code(self, volts: float) -> int:
        return round(volts * 32768.0 / self.full_scale_v)


def _within(seconds: float, clock: Clock, seen: Callable[[], bool]) -> bool:
    """Whether it is seen before so many seconds are over."""
    end_s = clock.now() + seconds
    while not seen():
        if clock.now() > end_s:
            return False
        clock.sleep(LOOK_EVERY_S)
    return True
