"""From a true value to volts at the converter's input, written from each sensor's wiring alone.

Deliberately shares nothing with the code that turns volts back into values: an error there must show.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Literal

from halocline.plant.sensors import (
    AnalogueInput,
    CurrentLoop,
    Input,
    Ratiometric,
    ResistiveSender,
    Thermistor,
    Voltage,
)

COLDEST_C, HOTTEST_C = -100.0, 200.0
"""A faulty sensor may show any number; beyond these a thermistor is as good as open or shorted."""

Encode = Callable[[float], float]
Break = Literal["open", "short"]

ADC_STEPS = 32768.0
"""Steps of a 16-bit converter over its positive range (ADS111x data sheet)."""

LOOP_LOW_MA, LOOP_HIGH_MA = 3.8, 20.5
"""A transmitter saturates here (NAMUR NE 43)."""

LOOP_SHORT_MA = 21.8
"""What the loop's supply pushes through a shorted transmitter; fault signal of NAMUR NE 43."""


def lsb_v(gain_v: float) -> float:
    """Volts of one step of the converter."""
    return gain_v / ADC_STEPS


def encoder(sensor: Input, supply_factor: float) -> Encode:
    """The circuit of one sensor: value in the channel's unit → volts at the chip.

    `supply_factor` is the true supply of a ratiometric sensor over the nominal one. Raises ValueError for a
    sensor that gives no volts.
    """
    match sensor:
        case CurrentLoop():
            return _loop(sensor)
        case Ratiometric():
            return _ratiometric(sensor, supply_factor)
        case Voltage():
            return _voltage(sensor)
        case Thermistor():
            return _thermistor(sensor)
        case ResistiveSender():
            return _sender(sensor)
        case _:
            raise ValueError(f"a sensor of kind {sensor.kind!r} gives no volts")


def broken_v(sensor: AnalogueInput, how: Break, supply_factor: float) -> float:
    """Volts at the chip with the sensor's wire broken (open) or its wires touching (short)."""
    is_open = how == "open"
    match sensor:
        case CurrentLoop():
            return 0.0 if is_open else LOOP_SHORT_MA * sensor.shunt_ohm / 1000.0
        case Ratiometric():
            return 0.0 if is_open else sensor.supply_v * supply_factor / sensor.divider
        case Thermistor() | ResistiveSender():
            return sensor.supply_v if is_open else 0.0
        case Voltage():
            highest_v = max(sensor.volts_low, sensor.volts_high)
            # The signal wire on its supply: a little above all it can say.
            return 0.0 if is_open else (1.15 * highest_v + 0.2) / sensor.divider
        case _:
            raise ValueError("a sensor of no known kind")


def _share(sensor: AnalogueInput) -> Callable[[float], float]:
    low, per_unit = sensor.low, 1.0 / (sensor.high - sensor.low)
    return lambda value: (value - low) * per_unit


def _loop(sensor: CurrentLoop) -> Encode:
    low, ma_per_unit = sensor.low, 16.0 / (sensor.high - sensor.low)
    volts_per_ma = sensor.shunt_ohm / 1000.0

    def encode(value: float) -> float:
        ma = 4.0 + (value - low) * ma_per_unit
        return min(LOOP_HIGH_MA, max(LOOP_LOW_MA, ma)) * volts_per_ma

    return encode


def _ratiometric(sensor: Ratiometric, supply_factor: float) -> Encode:
    share = _share(sensor)
    supply_v = sensor.supply_v * supply_factor / sensor.divider
    return lambda value: supply_v * (0.1 + 0.8 * min(1.03, max(-0.03, share(value))))


def _voltage(sensor: Voltage) -> Encode:
    share = _share(sensor)
    start_v, span_v = sensor.volts_low, sensor.volts_high - sensor.volts_low
    return lambda value: (start_v + span_v * min(1.05, max(-0.05, share(value)))) / sensor.divider


def _under_pullup(supply_v: float, pullup_ohm: float, ohm: float) -> float:
    return supply_v * ohm / (ohm + pullup_ohm)


def _thermistor(sensor: Thermistor) -> Encode:
    def encode(value: float) -> float:
        ohm = thermistor_ohm(sensor, min(HOTTEST_C, max(COLDEST_C, value)))
        return _under_pullup(sensor.supply_v, sensor.pullup_ohm, ohm)

    return encode


def thermistor_ohm(sensor: Thermistor, temperature_c: float) -> float:
    """Resistance at a temperature: the beta law, or the Steinhart-Hart equation solved for R (Cardano)."""
    reciprocal = 1.0 / (temperature_c + 273.15)
    if sensor.steinhart_hart is None:
        return sensor.r25_ohm * math.exp(sensor.beta_k * (reciprocal - 1.0 / 298.15))
    a, b, c = sensor.steinhart_hart
    half = (a - reciprocal) / (2.0 * c)
    root = math.sqrt((b / (3.0 * c)) ** 3 + half * half)
    return math.exp(math.cbrt(root - half) - math.cbrt(root + half))


def _sender(sensor: ResistiveSender) -> Encode:
    share = _share(sensor)

    def encode(value: float) -> float:
        travel = _travel(min(1.0, max(0.0, share(value))), sensor.shape)
        ohm = sensor.empty_ohm + travel * (sensor.full_ohm - sensor.empty_ohm)
        return _under_pullup(sensor.supply_v, sensor.pullup_ohm, ohm)

    return encode


def _travel(volume: float, shape: tuple[tuple[float, float], ...]) -> float:
    """The sender's own fraction for a fraction of the tank's volume."""
    points = sorted({(0.0, 0.0), (1.0, 1.0), *shape}, key=lambda point: point[1])
    for (travel_low, volume_low), (travel_high, volume_high) in pairwise(points):
        if volume <= volume_high:
            width = volume_high - volume_low
            part = (volume - volume_low) / width if width > 0.0 else 1.0
            return travel_low + part * (travel_high - travel_low)
    return 1.0
