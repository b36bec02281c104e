"""Keeps a converter chip honest between the driver and the bus.

The driver polls a chip's ready bit for ever and believes whatever it reads. `BoundedBus` sits under it
and lets nothing through that has not been checked: every register written is read back, every start
must be seen to start, every wait ends, and a conversion counts only if the chip still stands on the
channel, gain and rate that were asked for, before and after.
"""

import errno
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from halocline_hw import registers
from halocline_hw.clock import Clock

WAKE_UP_S = 30e-6  # a chip in power-down needs about 25 us before it converts (ADS111x data sheet)
MAX_POLLS = 32  # ends the wait even if the clock stood still
STARTED_BY = 0.85  # of the nominal time: even a 10 % fast chip cannot be ready so soon


Step = tuple[bytes | bytearray, int]
"""What is written, and how many bytes are then read without letting go of the bus; none: only written."""


class Bus(Protocol):
    """The five calls the driver makes, as CircuitPython's I2C has them, and one of our own. Errors: OSError,
    TimeoutError."""

    def try_lock(self) -> bool: ...

    def unlock(self) -> None: ...

    def writeto(self, address: int, buffer: bytes | bytearray, *, start: int = 0, end: int | None = None) -> None: ...

    def readfrom_into(self, address: int, buffer: bytearray, *, start: int = 0, end: int | None = None) -> None: ...

    def writeto_then_readfrom(
        self,
        address: int,
        out_buffer: bytes | bytearray,
        in_buffer: bytearray,
        *,
        out_start: int = 0,
        out_end: int | None = None,
        in_start: int = 0,
        in_end: int | None = None,
    ) -> None: ...

    def transfer(self, address: int, steps: Sequence[Step]) -> list[bytes]:
        """The chip's answers to several writes and reads in one go: one call of the system where it allows that."""
        ...


@dataclass(slots=True)
class ChipCounts:
    """What one chip has cost so far. Everything but `conversions` is a sign of trouble when it grows."""

    conversions: int = 0
    extra_polls: int = 0
    bus_errors: int = 0
    timeouts: int = 0
    resets: int = 0
    wrong_channel: int = 0
    mismatches: int = 0


class _Conversion:
    """One chip's present conversion."""

    __slots__ = ("config", "counts", "deadline_s", "finished", "polls", "running", "settled", "time_s")

    def __init__(self) -> None:
        self.config = registers.POWER_ON_CONFIG
        self.counts = ChipCounts()
        self.running = False
        self.finished: tuple[int, int] | None = None  # value and the config behind it, read with the last poll
        self.settled = False  # true once the chip was seen idle after all we started
        self.polls = 0
        self.time_s = 0.0
        self.deadline_s = 0.0


class BoundedBus:
    """A bus for the driver whose calls always end and whose conversions are always the ones asked for.

    For one thread at a time. Raises OSError or TimeoutError, with the chip and the finding in words.
    """

    def __init__(self, bus: Bus, clock: Clock) -> None:
        self._bus = bus
        self._clock = clock
        self._chips: dict[int, _Conversion] = {}
        self._word = bytearray(2)

    def counts(self, address: int) -> ChipCounts:
        """The chip's counters since the bus was made; they grow in place."""
        return self._chip(address).counts

    def read_register(self, address: int, register: int) -> int:
        """The register's 16 bits as they stand. Raises OSError."""
        return self._read(self._chip(address), address, register)

    def write_register(self, address: int, register: int, word: int) -> None:
        """Write 16 bits and read them back. Raises OSError, in words if the chip holds others."""
        self._write_checked(self._chip(address), address, bytes((register, word >> 8, word & 0xFF)))

    def try_lock(self) -> bool:
        return True  # the driver spins on a refusal; whoever owns the board serialises its callers

    def unlock(self) -> None:
        pass

    def writeto(self, address: int, buffer: bytes | bytearray, *, start: int = 0, end: int | None = None) -> None:
        data = buffer if start == 0 and end in (None, len(buffer)) else buffer[start:end]
        if not data:
            return  # the driver's empty probe: the config read that follows it tells more
        chip = self._chip(address)
        if len(data) == 3 and data[0] == registers.CONFIG and data[1] & 0x80:
            self._start(chip, address, data)
        else:
            self._write_checked(chip, address, data)

    def readfrom_into(
        self,
        address: int,
        buffer: bytearray,  # noqa: ARG002 - the driver's signature
        *,
        start: int = 0,  # noqa: ARG002
        end: int | None = None,  # noqa: ARG002
    ) -> None:
        # Where the chip's pointer stands cannot be known after a reset, so its answer proves nothing.
        raise OSError(errno.EOPNOTSUPP, f"ADC 0x{address:02x} is read by register only")

    def writeto_then_readfrom(
        self,
        address: int,
        out_buffer: bytes | bytearray,
        in_buffer: bytearray,
        *,
        out_start: int = 0,
        out_end: int | None = None,  # noqa: ARG002 - the driver's signature
        in_start: int = 0,
        in_end: int | None = None,  # noqa: ARG002
    ) -> None:
        chip = self._chip(address)
        register = out_buffer[out_start]
        if register == registers.CONFIG and chip.running:
            word = self._poll(chip, address)
        elif register == registers.CONVERSION:
            word = self._result(chip, address)
        else:
            word = self._read(chip, address, register)
        in_buffer[in_start] = word >> 8
        in_buffer[in_start + 1] = word & 0xFF

    def _chip(self, address: int) -> _Conversion:
        chip = self._chips.get(address)
        if chip is None:
            chip = self._chips[address] = _Conversion()
        return chip

    def _write(self, chip: _Conversion, address: int, data: bytes | bytearray) -> None:
        try:
            self._bus.writeto(address, data)
        except OSError:
            chip.counts.bus_errors += 1
            raise

    def _read(self, chip: _Conversion, address: int, register: int) -> int:
        word = self._word
        try:
            self._bus.writeto_then_readfrom(address, _POINTERS[register], word)
        except OSError:
            chip.counts.bus_errors += 1
            raise
        return word[0] << 8 | word[1]

    def _read_all(self, chip: _Conversion, address: int, steps: Sequence[Step]) -> list[int]:
        try:
            answers = self._bus.transfer(address, steps)
        except OSError:
            chip.counts.bus_errors += 1
            raise
        return [answer[0] << 8 | answer[1] for answer in answers]

    def _write_checked(self, chip: _Conversion, address: int, data: bytes | bytearray) -> None:
        if data[0] == registers.CONFIG:
            self._settle(chip, address)
        self._write(chip, address, data)
        if len(data) != 3:
            return
        written = data[1] << 8 | data[2]
        if data[0] == registers.CONFIG:
            chip.config = written
            self._verify(chip, address, self._read(chip, address, registers.CONFIG))
            return
        found = self._read(chip, address, data[0])
        if found != written:
            chip.counts.mismatches += 1
            raise OSError(
                errno.EIO,
                f"ADC 0x{address:02x}: register {data[0]} reads 0x{found:04x}, 0x{written:04x} was written",
            )

    def _start(self, chip: _Conversion, address: int, data: bytes | bytearray) -> None:
        """Start a conversion, see that it started, and wait for about as long as it takes."""
        self._settle(chip, address)
        chip.config = data[1] << 8 | data[2]
        chip.time_s = 1.0 / registers.rate_sps(chip.config)
        chip.polls = 0
        before_s = self._clock.now()
        chip.settled = False
        chip.finished = None
        (word,) = self._read_all(chip, address, ((data, 0), _READ_CONFIG))
        started_s = self._clock.now()  # later than the start itself, by the time of one read on the wire
        self._verify(chip, address, word)
        chip.deadline_s = started_s + _longest_wait_s(chip.time_s)
        now_s = self._clock.now()
        if word & registers.OS and now_s - before_s < STARTED_BY * chip.time_s:
            chip.counts.mismatches += 1
            raise OSError(errno.EIO, f"ADC 0x{address:02x} did not start a conversion")
        chip.running = True
        self._clock.sleep(started_s + chip.time_s + WAKE_UP_S - now_s)

    def _settle(self, chip: _Conversion, address: int) -> None:
        """Wait for a conversion that another program or an earlier failure left going.

        A chip ignores a start while it converts but takes the new settings into its config, so the old
        channel's value would later pass for the new one's.
        """
        if chip.settled:
            return
        word = self._read(chip, address, registers.CONFIG)
        chip.time_s = 1.0 / registers.rate_sps(word)
        chip.deadline_s = self._clock.now() + _longest_wait_s(chip.time_s)
        chip.polls = 0
        if not word & registers.MODE_SINGLE:  # free-running: it stops after the present conversion
            word = (word | registers.MODE_SINGLE) & ~registers.OS
            self._write(chip, address, bytes((registers.CONFIG, word >> 8, word & 0xFF)))
        while not word & registers.OS:
            self._wait_or_give_up(chip, address)
            word = self._read(chip, address, registers.CONFIG)
        chip.settled = True

    def _poll(self, chip: _Conversion, address: int) -> int:
        """Ask whether it has finished, and in the same transfer for the value and the config behind it."""
        word, value, after = self._read_all(chip, address, _POLL)
        self._verify(chip, address, word)
        if word & registers.OS:
            chip.running = False
            chip.settled = True
            chip.finished = value, after
        else:
            self._wait_or_give_up(chip, address)
        return word

    def _result(self, chip: _Conversion, address: int) -> int:
        """The value that came with the poll, once; a chip that was never asked to convert is read as it stands."""
        if chip.finished is None:
            value, after = self._read_all(chip, address, _POLL[1:])
        else:
            value, after = chip.finished
        chip.finished = None
        self._verify(chip, address, after)
        chip.counts.conversions += 1
        return value

    def _wait_or_give_up(self, chip: _Conversion, address: int) -> None:
        chip.polls += 1
        chip.counts.extra_polls += 1
        # Two polls at least: a process that was put to sleep between them must not blame the chip.
        if (chip.polls >= 2 and self._clock.now() > chip.deadline_s) or chip.polls >= MAX_POLLS:
            chip.running = False
            chip.counts.timeouts += 1
            raise TimeoutError(
                errno.ETIMEDOUT,
                f"ADC 0x{address:02x} did not finish a conversion within"
                f" {1000.0 * _longest_wait_s(chip.time_s):.1f} ms",
            )
        self._clock.sleep(chip.time_s / 8.0)

    def _verify(self, chip: _Conversion, address: int, word: int) -> None:
        if not (word ^ chip.config) & ~registers.OS:
            return
        chip.running = False
        found = f"ADC 0x{address:02x}"
        if (word ^ registers.POWER_ON_CONFIG) & ~registers.OS == 0:
            chip.counts.resets += 1
            raise OSError(errno.EIO, f"{found} was reset: its config register is back at 0x{word | registers.OS:04x}")
        if (word ^ chip.config) & registers.MUX_MASK:
            chip.counts.wrong_channel += 1
            raise OSError(
                errno.EIO,
                f"{found} stands on {registers.input_words(word)} where {registers.input_words(chip.config)} was asked",
            )
        chip.counts.mismatches += 1
        raise OSError(errno.EIO, f"{found}: config reads 0x{word:04x} where 0x{chip.config:04x} was written")


def _longest_wait_s(conversion_s: float) -> float:
    """Twice the conversion time of the slowest chip the data sheet allows."""
    return 2.0 * conversion_s / (1.0 - registers.RATE_TOLERANCE)


_POINTERS = tuple(bytes([register]) for register in range(4))
_READ_CONFIG: Step = (_POINTERS[registers.CONFIG], 2)
_POLL: tuple[Step, ...] = (_READ_CONFIG, (_POINTERS[registers.CONVERSION], 2), _READ_CONFIG)
