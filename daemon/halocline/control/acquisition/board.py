"""What control needs of the electronics, and nothing more.

Only builtins cross this seam, so the driver package needs nothing of ours and a board can be
anything that behaves like this: real copper, emulated chips, or a proxy to another process.
"""

from contextlib import AbstractContextManager
from typing import Protocol


class Board(Protocol):
    """One plant's wiring. Lines are named by channel, contact or output id; only the board knows the pins.

    Every method may raise OSError (the electronics answered wrongly or not at all) or TimeoutError
    (they did not answer in time); nothing else.
    """

    def convert(self, address: int, mux: int, gain: float, rate: int) -> float:
        """One fresh conversion in volts.

        address: I2C address of the ADC chip. mux: its single-ended input 0..3.
        gain: full-scale range in volts (6.144, 4.096, 2.048, 1.024, 0.512 or 0.256). rate: samples per second.
        """

    def together(self) -> AbstractContextManager[None]:
        """Within it outputs may wait for its end, where the first that fails ends it; inputs may be of one look."""

    def write(self, line: str, on: bool) -> None:
        """Energise (True) or release (False) an output."""

    def read(self, line: str) -> bool:
        """True while the contact's circuit is closed; a broken wire reads False."""

    def edges(self, line: str) -> tuple[int, float]:
        """Pulses counted since the board was opened, and the monotonic time of the last one in s."""

    def answers(self, address: int) -> bool:
        """Whether a converter chip answers at this I2C address, configured or not."""

    def clear_bus(self) -> bool:
        """Clock a chip free that holds the bus's data line; whether the line is free. Only where pins are wired."""

    def arm_interlock(self) -> None:
        """Program the comparator interlock and read it back; a latch that has opened stays open. Only where fitted."""

    def check_interlock(self) -> None:
        """Raise OSError unless the comparator interlock holds what was programmed."""

    def release_interlock(self) -> None:
        """Close the interlock's latch; it opens at once if the signal is still outside its window."""

    def prove_interlock(self) -> float:
        """Open the interlock on purpose, see its contact follow, arm it again; how long opening took, s."""

    def close(self) -> None:
        """Release every output and let go of the hardware."""
