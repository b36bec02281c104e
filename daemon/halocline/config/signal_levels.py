"""What a sensor shows electrically for a value: for wiring documents and proof tests with a calibrator.

The other direction, from volts to values, is `halocline.signals`' business; neither is made from the other.
"""

import math
from collections.abc import Callable
from typing import Any

from halocline.physics.seawater import ZERO_CELSIUS_K
from halocline.plant.sensors import AnalogueInput, CurrentLoop, Ratiometric, ResistiveSender, Thermistor, Voltage

REFERENCE_K = 25.0 + ZERO_CELSIUS_K


def signal_volts(sensor: AnalogueInput, value: float) -> float:
    """Volts at the converter input when the channel has this value (in its unit)."""
    return _VOLTS[type(sensor)](sensor, value)


def loop_ma(sensor: CurrentLoop, value: float) -> float:
    """Loop current in mA (IEC 60381-1)."""
    return 4.0 + 16.0 * _part(sensor, value)


def thermistor_ohm(sensor: Thermistor, temperature_c: float) -> float:
    """Resistance in ohm by the beta equation, or by Steinhart and Hart's solved for resistance."""
    kelvin = temperature_c + ZERO_CELSIUS_K
    if sensor.steinhart_hart is None:
        return sensor.r25_ohm * math.exp(sensor.beta_k * (1.0 / kelvin - 1.0 / REFERENCE_K))
    a, b, c = sensor.steinhart_hart
    x = (a - 1.0 / kelvin) / (2.0 * c)
    y = math.hypot(math.sqrt((b / (3.0 * c)) ** 3), x)
    return math.exp(math.cbrt(y - x) - math.cbrt(y + x))


def sender_ohm(sensor: ResistiveSender, value: float) -> float:
    """Resistance in ohm of a tank sender standing at this part of its own travel."""
    return sensor.empty_ohm + _part(sensor, value) * (sensor.full_ohm - sensor.empty_ohm)


def signal_text(sensor: AnalogueInput, value: float) -> str:
    """What to expect, or to feed in, as people read it on an instrument, and the volts at the chip."""
    volts = f"{signal_volts(sensor, value):.3f} V"
    match sensor:
        case CurrentLoop():
            return f"{loop_ma(sensor, value):.2f} mA = {volts}"
        case Thermistor():
            return f"{thermistor_ohm(sensor, value):.0f} Ω = {volts}"
        case ResistiveSender():
            return f"{sender_ohm(sensor, value):.0f} Ω = {volts}"
        case _:
            return volts


def _part(sensor: AnalogueInput, value: float) -> float:
    return (value - sensor.low) / (sensor.high - sensor.low)


def _under_pullup_v(sensor: Thermistor | ResistiveSender, ohm: float) -> float:
    return sensor.supply_v * ohm / (sensor.pullup_ohm + ohm)


_VOLTS: dict[type, Callable[[Any, float], float]] = {
    CurrentLoop: lambda sensor, value: loop_ma(sensor, value) / 1000.0 * sensor.shunt_ohm,
    Ratiometric: lambda sensor, value: sensor.supply_v * (0.1 + 0.8 * _part(sensor, value)) / sensor.divider,
    Voltage: lambda sensor, value: (
        (sensor.volts_low + _part(sensor, value) * (sensor.volts_high - sensor.volts_low)) / sensor.divider
    ),
    Thermistor: lambda sensor, value: _under_pullup_v(sensor, thermistor_ohm(sensor, value)),
    ResistiveSender: lambda sensor, value: _under_pullup_v(sensor, sender_ohm(sensor, value)),
}
