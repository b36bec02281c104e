"""An I2C bus with emulated chips on it: addresses, wire time, and the ways a bus fails."""

import errno
from collections.abc import Mapping, Sequence
from typing import NoReturn

from halocline_hw.bus import Step
from halocline_hw.clock import Clock
from halocline_hw.emulated.ads1115 import EmulatedAds1115

CHIP_FAULTS = ("adc_missing", "adc_hang", "adc_reset", "adc_wrong_channel", "i2c_stuck")
# What `SmbusBus` asks of the kernel. Some adapters' drivers wait 1 s whatever they are asked.
STUCK_DELAY_S = 0.05
BITS_PER_BYTE = 9  # eight and the acknowledge bit (I2C specification)


class EmulatedBus:
    """The bus object a driver needs, answered by chips of this process.

    Each transfer takes its time on the wire out of the clock if charge_wire_time; a virtual clock
    moves on by it. Transfers are for one thread at a time; faults may be set from any.
    """

    def __init__(
        self,
        chips: Mapping[int, EmulatedAds1115],
        clock: Clock,
        *,
        bus_hz: int = 400_000,
        charge_wire_time: bool = True,
    ) -> None:
        self._chips = dict(chips)
        self._clock = clock
        self._bit_s = 1.0 / bus_hz if charge_wire_time else 0.0
        self._missing: set[int] = set()
        # Replaced, never changed, for a transfer may be looking: delay in s and clocks until it lets go
        self._stuck: dict[int, tuple[float, int | None]] = {}
        self._answer = dict(self._chips)
        self.transfers = 0

    def set_fault(
        self, kind: str, address: int, *, delay_s: float = STUCK_DELAY_S, clocks_to_free: int | None = None
    ) -> None:
        """Give the chip at `address` one of CHIP_FAULTS; it stays until cleared.

        i2c_stuck: the chip holds the data line, so every transfer to any chip ends with TimeoutError
        after delay_s; with clocks_to_free it lets go after so many clocks of a bus clear.
        Raises ValueError for an unknown fault or address.
        """
        chip = self._chip_for_fault(kind, address)
        if kind == "adc_missing":
            self._missing.add(address)
        elif kind == "adc_hang":
            chip.hangs = True
        elif kind == "adc_reset":
            chip.power_on()
            chip.resets_when_started = True
        elif kind == "adc_wrong_channel":
            chip.drops_mux = True
        else:
            self._stuck = self._stuck | {address: (delay_s, clocks_to_free)}
        self._look_who_answers()

    def clear_fault(self, kind: str, address: int) -> None:
        """End one fault; a chip that was missing comes back with its power-on registers."""
        chip = self._chip_for_fault(kind, address)
        if kind == "adc_missing" and address in self._missing:
            self._missing.discard(address)
            chip.power_on()
        elif kind == "adc_hang":
            chip.hangs = False
        elif kind == "adc_reset":
            chip.resets_when_started = False
        elif kind == "adc_wrong_channel":
            chip.drops_mux = False
        elif kind == "i2c_stuck":
            self._stuck = {at: stuck for at, stuck in self._stuck.items() if at != address}
        self._look_who_answers()

    def _look_who_answers(self) -> None:
        chips = {} if self._stuck else self._chips
        self._answer = {address: chip for address, chip in chips.items() if address not in self._missing}

    def is_missing(self, address: int) -> bool:
        """Whether the chip at `address` is unplugged, which lets its ALERT pin go as well."""
        return address in self._missing

    def _chip_for_fault(self, kind: str, address: int) -> EmulatedAds1115:
        if kind not in CHIP_FAULTS:
            raise ValueError(f"no fault is called {kind}; there are {', '.join(CHIP_FAULTS)}")
        if address not in self._chips:
            raise ValueError(f"no chip is emulated at 0x{address:02x}")
        return self._chips[address]

    # -- the driver's calls ----------------------------------------------------------------------

    def try_lock(self) -> bool:
        return True

    def unlock(self) -> None:
        pass

    def writeto(self, address: int, buffer: bytes | bytearray, *, start: int = 0, end: int | None = None) -> None:
        data = buffer[start:end]
        self._answering(address, 1 + len(data)).write(data)

    def readfrom_into(self, address: int, buffer: bytearray, *, start: int = 0, end: int | None = None) -> None:
        stop = len(buffer) if end is None else end
        word = self._answering(address, 1 + stop - start).read()
        _put(word, buffer, start, stop)

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
    ) -> None:
        data = out_buffer[out_start:out_end]
        stop = len(in_buffer) if in_end is None else in_end
        chip = self._answering(address, 2 + len(data) + stop - in_start)
        if len(data) == 1:
            word = chip.read_register(data[0])
        else:
            chip.write(data)
            word = chip.read()
        _put(word, in_buffer, in_start, stop)

    def transfer(self, address: int, steps: Sequence[Step]) -> list[bytes]:
        answers = []
        for data, count in steps:
            if count:
                answer = bytearray(count)
                self.writeto_then_readfrom(address, data, answer)
                answers.append(bytes(answer))
            else:
                self.writeto(address, data)
        return answers

    def _answering(self, address: int, wire_bytes: int) -> EmulatedAds1115:
        """The chip, after the transfer's time on the wire; OSError if none acknowledges."""
        self.transfers += 1
        chip = self._answer.get(address) or self._no_answer(address)
        if self._bit_s:
            self._clock.sleep((BITS_PER_BYTE * wire_bytes + 2) * self._bit_s)
        return chip

    def _no_answer(self, address: int) -> NoReturn:
        stuck = self._stuck
        if stuck:
            self._clock.sleep(max(delay_s for delay_s, _ in stuck.values()))
            raise TimeoutError(errno.ETIMEDOUT, "the I2C data line is held low")
        self._clock.sleep(BITS_PER_BYTE * self._bit_s)
        raise OSError(errno.EREMOTEIO, f"nothing acknowledges I2C address 0x{address:02x}")

    # -- the two wires, for a bus clear ----------------------------------------------------------

    def data_is_free(self) -> bool:
        """Whether the data line is high when nobody of ours pulls it."""
        return not self._stuck

    def clock_pulse(self) -> None:
        """One pulse on the clock line, as a bus clear gives."""
        self._stuck = {
            address: (delay_s, None if left is None else left - 1)
            for address, (delay_s, left) in self._stuck.items()
            if left is None or left > 1
        }
        self._look_who_answers()


def _put(word: int, buffer: bytearray, start: int, stop: int) -> None:
    """The register's bytes, high one first; further bytes repeat (the pointer does not move)."""
    if stop - start == 2:
        buffer[start:stop] = word.to_bytes(2, "big")
        return
    for place in range(start, stop):
        buffer[place] = word & 0xFF if (place - start) & 1 else word >> 8
