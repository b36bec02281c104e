"""Conversions in volts through the ADS1115 driver, single-shot."""

import errno

from halocline_hw import registers
from halocline_hw.bus import BoundedBus
from halocline_hw.driver import ADS1115, Mode

# The driver speaks of gain, people of the range it gives (ADS111x data sheet).
DRIVER_GAIN = {6.144: 2 / 3, 4.096: 1, 2.048: 2, 1.024: 4, 0.512: 8, 0.256: 16}


class Converters:
    """All ADC chips of one bus. For one thread at a time."""

    def __init__(self, bus: BoundedBus, addresses: tuple[int, ...]) -> None:
        self._bus = bus
        self._addresses = addresses
        # One driver object for each chip, range and rate: changing one's range costs two transfers.
        self._drivers: dict[tuple[int, float, int], ADS1115] = {}

    def convert(self, address: int, mux: int, gain: float, rate: int) -> float:
        """One fresh conversion of single-ended input `mux` in V.

        gain: full-scale range in V. rate: samples per second. Raises OSError (no such chip, setting or
        answer; reset; wrong channel) or TimeoutError (never ready).
        """
        driver = self._drivers.get((address, gain, rate)) or self._driver(address, gain, rate)
        if mux not in _INPUTS:
            raise OSError(errno.EINVAL, f"ADC 0x{address:02x} has inputs 0 to 3, not {mux}")
        code: int = driver.read(registers.SINGLE_ENDED + mux)
        return code * gain / 32768.0

    def _driver(self, address: int, gain: float, rate: int) -> ADS1115:
        if address not in self._addresses:
            raise OSError(errno.ENXIO, f"no ADC is wired at 0x{address:02x}")
        if gain not in DRIVER_GAIN or rate not in registers.RATES_SPS:
            raise OSError(errno.EINVAL, f"an ADS1115 has no range of {gain} V or no rate of {rate}/s")
        driver = ADS1115(
            self._bus,
            gain=DRIVER_GAIN[gain],
            data_rate=rate,
            mode=Mode.SINGLE,
            address=address,
        )
        self._drivers[address, gain, rate] = driver
        return driver


_INPUTS = frozenset(range(4))
