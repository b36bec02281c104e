"""Sensors that cannot measure as they are described, each looked at by itself."""

import math
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any, NamedTuple

from halocline.config.problems import Finding, number
from halocline.physics.seawater import ZERO_CELSIUS_K
from halocline.plant.sensors import (
    AnalogueInput,
    CurrentLoop,
    Input,
    Pulses,
    Ratiometric,
    ResistiveSender,
    Thermistor,
    Voltage,
)
from halocline.plant.vocabulary import CHANNELS

CHIP_SUPPLY_V = 3.3  # from the computer's own rail; an input must never be driven above it
HIGHEST_LOOP_A = 0.021  # a broken transmitter's high signal (NAMUR NE 43)
THERMISTOR_MISFIT_K = 2.0
LARGEST_ERROR = 0.25


def span_has_two_ends(channel: str, sensor: Input) -> Iterator[Finding]:
    """A span must rise from its low to its high end."""
    if sensor.high <= sensor.low:
        unit = CHANNELS[channel].unit
        key = "high" if isinstance(sensor, Pulses) else "low"
        found = f"{number(getattr(sensor, key))} {unit}"
        allowed = "above 0" if isinstance(sensor, Pulses) else f"below high ({number(sensor.high)} {unit})"
        yield Finding(f"inputs.{channel}.{key}", found, allowed, "write the two ends of the sensor's span")


def span_is_of_this_world(channel: str, sensor: Input) -> Iterator[Finding]:
    """A range that no plant has leaves nothing of the signal for the range it has."""
    extremes = CHANNELS[channel]
    ends = ("high",) if isinstance(sensor, Pulses) else ("low", "high")
    for key in ends:
        value = getattr(sensor, key)
        if not extremes.least <= value <= extremes.most:
            allowed = f"{number(extremes.least)} to {number(extremes.most)} {extremes.unit}"
            remedy = "write the span from the sensor's data sheet, in the channel's unit"
            yield Finding(f"inputs.{channel}.{key}", f"{number(value)} {extremes.unit}", allowed, remedy)


def error_is_a_small_part_of_the_span(channel: str, sensor: Input) -> Iterator[Finding]:
    """A sensor that may be a quarter of its span off measures nothing."""
    most = LARGEST_ERROR * (sensor.high - sensor.low)
    if most > 0.0 and sensor.error > most:
        unit = CHANNELS[channel].unit
        allowed = f"up to {number(most)} {unit}, a quarter of the span"
        remedy = "write the accuracy from the sensor's data sheet, in the channel's unit"
        yield Finding(f"inputs.{channel}.error", f"{number(sensor.error)} {unit}", allowed, remedy)


def sensor_admits_an_error(channel: str, sensor: Input) -> Iterator[Finding]:
    """Limits are judged against the sensor's error, and no sensor has none."""
    if isinstance(sensor, AnalogueInput) and sensor.error == 0.0:
        unit = CHANNELS[channel].unit
        yield Finding(
            f"inputs.{channel}.error",
            f"0 {unit}",
            "above 0",
            "write the accuracy from the sensor's data sheet",
        )


class _Signal(NamedTuple):
    """The highest voltage the chip gets to see, what it is, and how to make it less."""

    highest_v: Callable[[Any], float]
    source: str
    less: str


_SIGNALS: dict[type, _Signal] = {
    CurrentLoop: _Signal(
        lambda sensor: HIGHEST_LOOP_A * sensor.shunt_ohm, "21 mA over shunt_ohm", "fit a smaller shunt"
    ),
    Ratiometric: _Signal(
        lambda sensor: sensor.supply_v / sensor.divider,
        "supply_v over divider",
        "fit a divider and write its ratio",
    ),
    Voltage: _Signal(
        lambda sensor: max(sensor.volts_low, sensor.volts_high) / sensor.divider,
        "the higher of volts_low and volts_high over divider",
        "fit a larger divider and write its ratio",
    ),
    Thermistor: _Signal(
        lambda sensor: sensor.supply_v,
        "supply_v when the sensor's wire is broken",
        "feed the pull-up from 3.3 V",
    ),
    ResistiveSender: _Signal(
        lambda sensor: sensor.supply_v,
        "supply_v when the sender's wire is broken",
        "feed the pull-up from 3.3 V",
    ),
}


def signal_is_neither_clipped_nor_too_high(channel: str, sensor: Input) -> Iterator[Finding]:
    """The whole signal, broken wires included, must fit the chip's range and stay below its supply."""
    signal = _SIGNALS.get(type(sensor))
    if signal is None or isinstance(sensor, Pulses):
        return
    highest_v = signal.highest_v(sensor)
    found = f"{number(highest_v)} V at the chip ({signal.source})"
    if highest_v > CHIP_SUPPLY_V + 1e-9:
        allowed, remedy = (
            f"up to {number(CHIP_SUPPLY_V)} V, the chip's supply",
            f"{signal.less}: more destroys the chip",
        )
    elif highest_v > sensor.gain_v:
        allowed, remedy = (
            f"up to gain_v ({number(sensor.gain_v)} V)",
            "choose a larger gain_v: the signal is clipped",
        )
    else:
        return
    yield Finding(f"inputs.{channel}", found, allowed, remedy)


def signal_changes_over_the_span(channel: str, sensor: Input) -> Iterator[Finding]:
    """Both ends of the span must give different signals, and none below zero."""
    if isinstance(sensor, Voltage):
        if sensor.volts_high == sensor.volts_low:
            allowed = f"another voltage than volts_low ({number(sensor.volts_low)} V)"
            yield _same(channel, "volts_high", f"{number(sensor.volts_high)} V", allowed)
        for key in ("volts_low", "volts_high"):
            volts = getattr(sensor, key)
            if volts < 0.0:
                remedy = "shift the signal above zero first: the chip measures against ground"
                yield Finding(f"inputs.{channel}.{key}", f"{number(volts)} V", "0 V or more", remedy)
    if isinstance(sensor, ResistiveSender) and sensor.empty_ohm == sensor.full_ohm:
        allowed = f"another resistance than empty_ohm ({number(sensor.empty_ohm)} ohm)"
        yield _same(channel, "full_ohm", f"{number(sensor.full_ohm)} ohm", allowed)


def _same(channel: str, key: str, found: str, allowed: str) -> Finding:
    return Finding(f"inputs.{channel}.{key}", found, allowed, "write what the sensor gives at each end of its span")


def supply_input_is_complete(channel: str, sensor: Input) -> Iterator[Finding]:
    """A chip that measures a supply needs to know on which input."""
    if isinstance(sensor, Ratiometric) and sensor.supply_mux is None and sensor.supply_address is not None:
        remedy = "add supply_mux, or remove supply_address if the supply is not measured"
        yield Finding(f"inputs.{channel}.supply_mux", "nothing", "0 to 3, as supply_address is given", remedy)


def thermistor_coefficients_agree(channel: str, sensor: Input) -> Iterator[Finding]:
    """The coefficients must give 25 °C at the resistance the thermistor has at 25 °C."""
    if not isinstance(sensor, Thermistor) or sensor.steinhart_hart is None:
        return
    a, b, c = sensor.steinhart_hart
    log_r = math.log(sensor.r25_ohm)
    reciprocal = a + b * log_r + c * log_r * log_r * log_r
    temperature_c = 1.0 / reciprocal - ZERO_CELSIUS_K if reciprocal > 0.0 else -math.inf
    if not abs(temperature_c - 25.0) <= THERMISTOR_MISFIT_K:
        found = f"coefficients that give {temperature_c:.1f} °C at r25_ohm"
        allowed = f"{number(25 - THERMISTOR_MISFIT_K)} to {number(25 + THERMISTOR_MISFIT_K)} °C there"
        remedy = "check their order (a, b, c) and r25_ohm"
        yield Finding(f"inputs.{channel}.steinhart_hart", found, allowed, remedy)


def tank_shape_rises(channel: str, sensor: Input) -> Iterator[Finding]:
    """A tank's volume grows with its level, from nothing to all."""
    if not isinstance(sensor, ResistiveSender) or not sensor.shape:
        return
    rising = all(a[0] < b[0] and a[1] <= b[1] for a, b in pairwise(sensor.shape))
    if not rising or sensor.shape[0] != (0.0, 0.0) or sensor.shape[-1] != (1.0, 1.0):
        allowed = "pairs that rise from [0, 0] to [1, 1]"
        remedy = "write (sender fraction, volume fraction) from empty to full"
        yield Finding(f"inputs.{channel}.shape", f"{len(sensor.shape)} pairs that do not", allowed, remedy)


def pulses_can_be_counted(channel: str, sensor: Input) -> Iterator[Finding]:
    """Pulses of the largest flow must not be taken for noise."""
    if isinstance(sensor, Pulses):
        fastest_hz = sensor.high * sensor.pulses_per_l / 3600.0
        if fastest_hz > sensor.max_hz * 1.000001:
            allowed = f"up to max_hz ({number(sensor.max_hz)} Hz)"
            found = f"{fastest_hz:.1f} pulses a second at high ({number(sensor.high)} L/h)"
            remedy = "lower high, raise max_hz, or choose a meter with fewer pulses a litre"
            yield Finding(f"inputs.{channel}", found, allowed, remedy)
