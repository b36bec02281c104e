"""A whole emulated board: chips, bus and pins of one wiring, to be opened by the real board's code."""

from collections.abc import Callable, Mapping

from halocline_hw.clock import Clock
from halocline_hw.emulated.ads1115 import EmulatedAds1115, Volts
from halocline_hw.emulated.bus import EmulatedBus
from halocline_hw.emulated.channel_faults import ChannelFaults
from halocline_hw.emulated.pins import EmulatedPins
from halocline_hw.raspberry_pi import RaspberryPiBoard
from halocline_hw.wiring import Wiring


class EmulatedBoard:
    """The far side of a wiring.

    volts: for each ADC address a function of (input 0..3, monotonic time in s). on_output(line,
    energised, t_s) is called when a relay changes. Open it with `open`, again and again if control is
    to be restarted, or put it behind a `remote.BoardServer`.
    """

    def __init__(
        self,
        wiring: Wiring,
        volts: Mapping[int, Volts],
        clock: Clock,
        *,
        on_output: Callable[[str, bool, float], None] | None = None,
        supply_v: float = 3.3,
        bus_hz: int = 400_000,
        charge_wire_time: bool = True,
        pins_count: bool = True,
        seed: int = 0,
    ) -> None:
        self._wiring = wiring
        self._clock = clock
        self.inputs = {
            address: ChannelFaults(volts[address], seed=seed + address) for address in wiring.chip_addresses()
        }
        self.chips = {
            address: EmulatedAds1115(inputs, clock, supply_v=supply_v) for address, inputs in self.inputs.items()
        }
        self.bus = EmulatedBus(self.chips, clock, bus_hz=bus_hz, charge_wire_time=charge_wire_time)
        self.pins = EmulatedPins(wiring, clock, on_output=on_output, pins_count=pins_count)
        if wiring.bus_clear is not None:
            self.pins.tie_to_bus(self.bus)

    def interlock_open(self) -> bool:
        """Whether the interlock's relay takes the supply away: it needs the ALERT pin low to hold."""
        interlock = self._wiring.interlock
        if interlock is None:
            return False
        return self.bus.is_missing(interlock.address) or self.chips[interlock.address].alert_level

    def open(self) -> RaspberryPiBoard:
        """The board as control sees it, in this process."""
        return RaspberryPiBoard(self._wiring, i2c_bus=self.bus, pin_factory=self.pins.factory, clock=self._clock)
