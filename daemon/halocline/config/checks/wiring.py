"""What is missing, and wires that meet where they must not."""

from collections.abc import Iterable, Iterator

from halocline.config.checks.lookup import supply_inputs
from halocline.config.problems import Finding
from halocline.plant.sensors import (
    Pulses,
    ResistiveSender,
    Thermistor,
)
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import ACTUATORS, CHANNELS, FLOW_CHANNELS, NEEDED_CHANNELS

I2C_PINS = {2: "the I2C bus (data)", 3: "the I2C bus (clock)"}

BUS_CLEAR_KEYS = ("bus_clear_clock_pin", "bus_clear_data_pin")

ONLY_FOR: dict[type, frozenset[str]] = {
    Pulses: FLOW_CHANNELS,
    Thermistor: frozenset(channel.id for channel in CHANNELS.values() if channel.unit == "°C"),
    ResistiveSender: frozenset({"tank_fill"}),
}


def needed_channels_are_present(settings: Settings) -> Iterator[Finding]:
    """The plant cannot run without these readings."""
    for channel in NEEDED_CHANNELS:
        if channel not in settings.inputs:
            remedy = f"fit the sensor and add [inputs.{channel}]"
            yield Finding(f"inputs.{channel}", "nothing", "a table, for the plant cannot run without it", remedy)


def needed_outputs_are_present(settings: Settings) -> Iterator[Finding]:
    """The sequence switches these. A pump that only a person switches has no relay to name."""
    watching = getattr(settings.drive, "pump", "watch_only") == "watch_only"
    for output in (*ACTUATORS, "heartbeat"):
        if output not in settings.outputs and not (watching and output == "high_pressure_pump"):
            remedy = f"wire its relay and add [outputs.{output}]"
            yield Finding(f"outputs.{output}", "nothing", "a table, for the plant cannot run without it", remedy)


def kinds_fit_their_channels(settings: Settings) -> Iterator[Finding]:
    """A pulse meter measures flow, a thermistor temperature, a tank sender a tank."""
    for channel, sensor in settings.inputs.items():
        for kind, channels in ONLY_FOR.items():
            if isinstance(sensor, kind) and channel not in channels:
                names = ", ".join(name for name in CHANNELS if name in channels)
                remedy = "correct the kind, or the channel's name"
                yield Finding(f"inputs.{channel}.kind", f'"{sensor.kind}"', f"that kind for {names} only", remedy)


def no_pin_is_used_twice(settings: Settings) -> Iterator[Finding]:
    """Two wires on one pin read and switch each other's business."""
    taken = dict(I2C_PINS)
    for key in BUS_CLEAR_KEYS:
        pin = getattr(settings.plant, key, None)
        if pin in taken:
            remedy = "move one of the two wires to a free pin"
            yield Finding(f"plant.{key}", str(pin), f"a pin of its own; {pin} belongs to {taken[pin]}", remedy)
        elif pin is not None:
            taken[pin] = f"plant.{key}"
    lines = {"inputs": {**settings.inputs, **settings.contacts}, "outputs": settings.outputs}
    for table, entries in lines.items():
        for name, line in entries.items():
            pin = getattr(line, "pin", None)
            if pin is None:
                continue
            key = f"{table}.{name}"
            if pin in taken:
                remedy = "move one of the two wires to a free pin"
                yield Finding(f"{key}.pin", str(pin), f"a pin of its own; {pin} belongs to {taken[pin]}", remedy)
            taken.setdefault(pin, key)


def bus_clear_has_both_wires(settings: Settings) -> Iterator[Finding]:
    """Clocks without a look at the data line, or a look without clocks, free nothing."""
    pins = {key: getattr(settings.plant, key) for key in BUS_CLEAR_KEYS}
    for key, pin in pins.items():
        if pin is None and any(other is not None for other in pins.values()):
            remedy = "tie a second spare pin, or leave out both keys"
            yield Finding(f"plant.{key}", "nothing", "a pin, as the other of the two is given", remedy)


def no_converter_input_is_used_twice(settings: Settings) -> Iterator[Finding]:
    """Two sensors on one input would show each other's value. One supply may serve several sensors."""
    taken: dict[tuple[int, int], str] = {}
    for key, place in _signal_inputs(settings):
        if place in taken:
            yield _clash(f"{key}.mux", place, taken[place])
        taken.setdefault(place, key)
    for channel, place in supply_inputs(settings).items():
        if place in taken:
            yield _clash(f"inputs.{channel}.supply_mux", place, taken[place])


def _clash(key: str, place: tuple[int, int], owner: str) -> Finding:
    address, mux = place
    allowed = f"an input of its own; input {mux} of chip 0x{address:02x} belongs to {owner}"
    return Finding(key, f"input {mux} of chip 0x{address:02x}", allowed, "move one of the two to a free input")


def _signal_inputs(settings: Settings) -> Iterable[tuple[str, tuple[int, int]]]:
    for channel, sensor in settings.inputs.items():
        address, mux = getattr(sensor, "address", None), getattr(sensor, "mux", None)
        if address is not None and mux is not None:
            yield f"inputs.{channel}", (address, mux)


def relays_stay_open_while_the_computer_boots(settings: Settings) -> Iterator[Finding]:
    """De-energised must be what a pin without a program does."""
    for output, pin in settings.outputs.items():
        if getattr(pin, "active_high", True) is False and getattr(pin, "accept_active_low", True) is False:
            allowed = "true, or accept_active_low = true as well"
            remedy = "use drivers for a high level: these close their relay while the computer boots or is off"
            yield Finding(f"outputs.{output}.active_high", "false", allowed, remedy)
