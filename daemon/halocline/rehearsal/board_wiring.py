"""The board's wiring from a boat's settings."""

from halocline.config.signal_levels import signal_volts
from halocline.control.acquisition.scanner import sources
from halocline.plant.sensors import AnalogueInput, CurrentLoop, Pulses, Ratiometric, Voltage
from halocline.plant.settings import Settings
from halocline.signals.formulas import NE43_FAILED_LOW_MA
from halocline_hw import Interlock
from halocline_hw.wiring import BusClearPins, ContactPin, OutputPin, PulsePin, Wiring

RATIOMETRIC_BROKEN = 0.05
"""Of its supply: below this a ratiometric signal is a broken wire (common practice)."""

LIVE_ZERO_BROKEN = 0.5
"""Of its lowest signal: below this a voltage with a live zero is a broken wire."""


def wiring_of(settings: Settings) -> Wiring:
    """What hangs on which pin and chip, as the driver package wants to know it."""
    return Wiring(
        adc_addresses=tuple(sorted({source.address for source in sources(settings)})),
        outputs={
            name: OutputPin(output.pin, output.active_high, output.accept_active_low)
            for name, output in settings.outputs.items()
        },
        contacts={name: ContactPin(contact.pin) for name, contact in settings.contacts.items()},
        pulses={
            channel: PulsePin(sensor.pin, sensor.max_hz)
            for channel, sensor in settings.inputs.items()
            if isinstance(sensor, Pulses)
        },
        bus_clear=_bus_clear(settings),
        interlock=_interlock(settings),
    )


def _bus_clear(settings: Settings) -> BusClearPins | None:
    scl, sda = settings.plant.bus_clear_clock_pin, settings.plant.bus_clear_data_pin
    return None if scl is None or sda is None else BusClearPins(scl=scl, sda=sda)


def _interlock(settings: Settings) -> Interlock | None:
    """The window: from what can only be a broken wire to the pressure at which it has to open."""
    fitted, sensor = settings.interlock, settings.inputs.get("vessel_pressure")
    if fitted is None or not isinstance(sensor, AnalogueInput):
        return None
    return Interlock(
        address=fitted.address,
        mux=fitted.mux,
        low_v=broken_below_v(sensor),
        high_v=signal_volts(sensor, fitted.opens_bar),
        full_scale_v=fitted.gain_v,
        in_a_row=fitted.in_a_row,
    )


def broken_below_v(sensor: AnalogueInput) -> float:
    """Volts at the chip below which only a broken wire or a dead sensor can be; 0 where nothing can tell."""
    if isinstance(sensor, CurrentLoop):
        return NE43_FAILED_LOW_MA / 1000.0 * sensor.shunt_ohm
    if isinstance(sensor, Ratiometric):
        return RATIOMETRIC_BROKEN * sensor.supply_v / sensor.divider
    if isinstance(sensor, Voltage):
        return LIVE_ZERO_BROKEN * min(sensor.volts_low, sensor.volts_high) / sensor.divider
    return 0.0
