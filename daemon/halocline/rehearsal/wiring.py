"""The board's wiring from a boat's settings."""

from halocline.plant.sensors import AnalogueInput, Pulses
from halocline.plant.settings import Settings
from halocline_hw.wiring import ContactPin, OutputPin, PulsePin, Wiring


def wiring_of(settings: Settings) -> Wiring:
    """What hangs on which pin and chip, as the driver package wants to know it."""
    analogue = [sensor for sensor in settings.inputs.values() if isinstance(sensor, AnalogueInput)]
    return Wiring(
        adc_addresses=tuple(sorted({sensor.address for sensor in analogue})),
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
    )
