"""From volts at a converter input to a value and what the electrical signal is worth, for each sensor kind.

`converter_for` turns a sensor's description into a function once, so that a sample costs little.
"""

from collections.abc import Callable

from halocline.plant.sensors import CurrentLoop, Input, Ratiometric, ResistiveSender, Thermistor, Voltage
from halocline.plant.vocabulary import Quality
from halocline.signals.formulas import (
    ADS1115_CODES,
    LOOP_LOW_MA,
    LOOP_SPAN_MA,
    NE43_HIGHEST_MA,
    NE43_LOWEST_MA,
    RATIOMETRIC_LOW,
    RATIOMETRIC_SPAN,
    beta_resistance_ohm,
    beta_temperature_c,
    ne43_quality,
    resistance_under_pullup_ohm,
    sender_fraction,
    steinhart_hart_temperature_c,
    volume_fraction,
)

Sample = tuple[float | None, Quality]
"""A value in the channel's unit, present exactly for good, under and over, and the electrical verdict."""

Converter = Callable[[float, float | None], Sample]
"""Takes volts at the chip and, for a sensor with a measured supply, that supply as volts at the chip."""

GOOD, UNDER, OVER = Quality.GOOD, Quality.UNDER, Quality.OVER
OPEN, SHORT, IMPLAUSIBLE, MISSING = Quality.OPEN, Quality.SHORT, Quality.IMPLAUSIBLE, Quality.MISSING

OFFSET_CODES = 5
"""A grounded single-ended input may read this many codes below zero; more is a wiring fault. The data sheet of the
ADS111x family allows an offset of 3 codes; two are its noise (from memory)."""

BEYOND_SPAN = 0.025
"""How far outside its span a plain voltage still counts as measuring, as NE 43 allows a loop. 3.8 mA lie 1.25 % below
and 20.5 mA 3.1 % above (NAMUR NE 43); a figure between, both ways (chosen)."""

BELIEVED_BEYOND_K = 5.0
"""A thermistor this far outside its believed range is at its rail; further, it is no temperature (chosen)."""

SENDER_TOLERANCE_OHM = 10.0
"""Both conventions of tank senders are sold with ± 10 ohm at their ends (common practice)."""

SATURATED_CODES = 1.5
"""The highest code means this or more; half a code of rounding makes it one and a half below full scale (computed)."""
RATIO_OPEN, RATIO_UNDER, RATIO_OVER, RATIO_SHORT = 0.05, 0.09, 0.91, 0.95
"""Parts of the supply: a sensor gives 0.1 to 0.9 of it, so a hundredth beyond is still a value and half of what is left
a broken or shorted wire (common practice)."""
LIVE_ZERO = 0.02
"""Of its span of volts: a sensor whose zero is live never gives less, a broken wire does (chosen)."""
SHORTED_R25, OPEN_R25 = 0.1, 10.0
"""Times the resistance at 25 °C: water never takes a thermistor so far (computed: 0.25 at 60 °C, 3.4 at 0 °C for a beta
of 3950 K)."""
SHORTED_HOT, OPEN_COLD = 0.5, 2.0
"""Times the resistance at either end of the believed range, where that reaches further: a motor may rightly be hotter
than water (chosen)."""
SENDER_SHORT_OHM, SENDER_OPEN_OHM, SENDER_OPEN = 20.0, 250.0, 1.25
"""Shorted below, where neither end lies there: one that rests near 0 ohm when empty cannot be told from a short. Open
above, or above a quarter more than its higher end: both usual kinds end at 180 and 240 ohm, with 10 ohm of tolerance
(common practice)."""
SUPPLY_BAND = (0.85, 1.1)
"""A ratiometric sensor follows its supply only near the nominal one. At 15 % less its own regulator gives out, at 10 %
more it is near its rating (from memory)."""


def lsb_v(gain_v: float) -> float:
    """Volts a code at this full-scale range."""
    return gain_v / ADS1115_CODES


def saturation_v(gain_v: float) -> float:
    """The volts from which on the converter cannot tell what it sees."""
    return gain_v * (1.0 - SATURATED_CODES / ADS1115_CODES)


def converter_for(sensor: Input) -> Converter:
    """The conversion of one sensor. Raises ValueError for a sensor that is not read through a converter."""
    match sensor:
        case CurrentLoop():
            return _current_loop(sensor)
        case Ratiometric():
            return _ratiometric(sensor)
        case Voltage():
            return _voltage(sensor)
        case Thermistor():
            return _thermistor(sensor)
        case ResistiveSender():
            return _resistive_sender(sensor)
        case _:
            raise ValueError(f"an input of kind {sensor.kind!r} has no volts to convert; count its pulses")


def _current_loop(sensor: CurrentLoop) -> Converter:
    ma_per_v = 1000.0 / sensor.shunt_ohm
    low, per_ma = sensor.low, (sensor.high - sensor.low) / LOOP_SPAN_MA
    saturated_v = saturation_v(sensor.gain_v)

    def convert(volts: float, _supply: float | None) -> Sample:
        ma = volts * ma_per_v
        value = low + (ma - LOOP_LOW_MA) * per_ma
        if NE43_LOWEST_MA <= ma <= NE43_HIGHEST_MA and volts < saturated_v:
            return value, GOOD
        quality = ne43_quality(ma)
        if quality is GOOD:
            quality = OVER
        return (value if quality in (UNDER, OVER) else None), quality

    return convert


def _ratiometric(sensor: Ratiometric) -> Converter:
    low, span = sensor.low, sensor.high - sensor.low
    nominal_v = sensor.supply_v / sensor.divider
    measured = sensor.supply_mux is not None
    lowest_v, highest_v = (edge * nominal_v for edge in SUPPLY_BAND)
    saturated_v = saturation_v(sensor.gain_v)

    def convert(volts: float, supply: float | None) -> Sample:
        if not measured:
            supply = nominal_v
        elif supply is None:
            return None, MISSING
        elif not lowest_v <= supply <= highest_v:
            return None, IMPLAUSIBLE
        part = volts / supply
        if part < RATIO_OPEN:
            return None, OPEN
        if part > RATIO_SHORT:
            return None, SHORT
        value = low + (part - RATIOMETRIC_LOW) / RATIOMETRIC_SPAN * span
        if part > RATIO_OVER or volts >= saturated_v:
            return value, OVER
        return value, (UNDER if part < RATIO_UNDER else GOOD)

    return convert


def _voltage(sensor: Voltage) -> Converter:
    low, value_span = sensor.low, sensor.high - sensor.low
    at_low, divider = sensor.volts_low, sensor.divider
    volts_span = sensor.volts_high - at_low
    lowest_v = min(at_low, sensor.volts_high)
    live_v = lowest_v / 2 if lowest_v > 0.0 else LIVE_ZERO * abs(volts_span) if sensor.live_zero else None
    short_v = max(at_low, sensor.volts_high) + lowest_v / 2 if lowest_v > 0.0 else None
    ground_v = -OFFSET_CODES * lsb_v(sensor.gain_v)
    saturated_v = saturation_v(sensor.gain_v)

    def convert(volts: float, _supply: float | None) -> Sample:
        seen = volts * divider
        if live_v is not None and seen < live_v:
            return None, OPEN
        if short_v is not None and seen > short_v:
            return None, SHORT
        if volts < ground_v:
            return None, IMPLAUSIBLE
        part = (seen - at_low) / volts_span
        value = low + part * value_span
        if volts >= saturated_v:
            return value, (OVER if volts_span > 0.0 else UNDER)
        if part < -BEYOND_SPAN:
            return value, UNDER
        return value, (OVER if part > 1.0 + BEYOND_SPAN else GOOD)

    return convert


def _thermistor(sensor: Thermistor) -> Converter:
    r25, beta, supply_v, pullup = sensor.r25_ohm, sensor.beta_k, sensor.supply_v, sensor.pullup_ohm
    coefficients = sensor.steinhart_hart
    low, high = sensor.low, sensor.high
    short_ohm = min(SHORTED_R25 * r25, SHORTED_HOT * beta_resistance_ohm(high, r25, beta))
    open_ohm = max(OPEN_R25 * r25, OPEN_COLD * beta_resistance_ohm(low, r25, beta))
    saturated_v = saturation_v(sensor.gain_v)

    def convert(volts: float, _supply: float | None) -> Sample:
        ohm = resistance_under_pullup_ohm(volts, supply_v, pullup)
        if ohm < short_ohm:
            return None, SHORT
        if ohm > open_ohm or volts >= saturated_v:
            return None, OPEN
        if coefficients is None:
            value = beta_temperature_c(ohm, r25, beta)
        else:
            value = steinhart_hart_temperature_c(ohm, *coefficients)
        if low <= value <= high:
            return value, GOOD
        if not low - BELIEVED_BEYOND_K <= value <= high + BELIEVED_BEYOND_K:
            return None, IMPLAUSIBLE
        return value, (UNDER if value < low else OVER)

    return convert


def _resistive_sender(sensor: ResistiveSender) -> Converter:
    supply_v, pullup = sensor.supply_v, sensor.pullup_ohm
    empty, full, shape = sensor.empty_ohm, sensor.full_ohm, sensor.shape
    low, span = sensor.low, sensor.high - sensor.low
    # A sender that rests near 0 ohm when empty cannot be told from a short.
    short_ohm = min(SENDER_SHORT_OHM, min(empty, full) - SENDER_TOLERANCE_OHM)
    open_ohm = max(SENDER_OPEN_OHM, SENDER_OPEN * max(empty, full))
    tolerance = SENDER_TOLERANCE_OHM / abs(full - empty)
    ground_v = -OFFSET_CODES * lsb_v(sensor.gain_v)
    saturated_v = saturation_v(sensor.gain_v)

    def convert(volts: float, _supply: float | None) -> Sample:
        ohm = resistance_under_pullup_ohm(volts, supply_v, pullup)
        if ohm < short_ohm or volts < ground_v:
            return None, SHORT
        if ohm > open_ohm or volts >= saturated_v:
            return None, OPEN
        part = sender_fraction(ohm, empty, full)
        value = low + volume_fraction(min(1.0, max(0.0, part)), shape) * span
        if part < -tolerance:
            return value, UNDER
        return value, (OVER if part > 1.0 + tolerance else GOOD)

    return convert
