"""The published relations between what a sensor shows electrically and what it measures."""

import math
from collections.abc import Sequence

from halocline.plant.vocabulary import Quality

ZERO_CELSIUS_K = 273.15
"""By the definition of the Celsius scale (computed)."""
REFERENCE_K = 298.15
"""25 °C, to which a thermistor's resistance is referred (common practice)."""
LOOP_LOW_MA, LOOP_SPAN_MA = 4.0, 16.0
"""The current of the span's low end, and from there to its high end at 20 mA (IEC 60381-1)."""
RATIOMETRIC_LOW, RATIOMETRIC_SPAN = 0.1, 0.8
"""Parts of its supply at a sensor's low end, and from there to its high end: 0.5 to 4.5 V of 5 V (common practice)."""

NE43_FAILED_LOW_MA = 3.6
"""At or below, the transmitter reports a failure, or its wire is broken (NAMUR NE 43)."""
NE43_LOWEST_MA = 3.8
"""Above, and up to its counterpart, a current is a measurement (NAMUR NE 43)."""
NE43_HIGHEST_MA = 20.5
"""Below, and down to its counterpart, a current is a measurement (NAMUR NE 43)."""
NE43_FAILED_HIGH_MA = 21.0
"""At or above, the transmitter reports a failure, or its loop is shorted (NAMUR NE 43)."""

ADS1115_CODES = 32768
"""Codes from nothing to full scale: 15 bits and a sign (data sheet of the ADS111x family)."""


def ne43_quality(current_ma: float) -> Quality:
    """What a loop current says about its transmitter (NAMUR NE 43).

    3.8–20.5 mA measure, ≤ 3.6 and ≥ 21 mA report a failure; what lies between is a value at its rail.
    """
    if NE43_LOWEST_MA <= current_ma <= NE43_HIGHEST_MA:
        return Quality.GOOD
    if current_ma >= NE43_FAILED_HIGH_MA:
        return Quality.SHORT
    if current_ma > NE43_HIGHEST_MA:
        return Quality.OVER
    return Quality.UNDER if current_ma > NE43_FAILED_LOW_MA else Quality.OPEN


def resistance_under_pullup_ohm(volts: float, supply_v: float, pullup_ohm: float) -> float:
    """A resistor to ground from the volts across it under a pull-up; infinite at or above the supply."""
    return math.inf if volts >= supply_v else pullup_ohm * volts / (supply_v - volts)


def beta_resistance_ohm(temperature_c: float, r25_ohm: float, beta_k: float) -> float:
    """Resistance of a thermistor by the beta equation (about 0.6 K off at 0 °C for a real one)."""
    return r25_ohm * math.exp(beta_k * (1.0 / (temperature_c + ZERO_CELSIUS_K) - 1.0 / REFERENCE_K))


def beta_temperature_c(resistance_ohm: float, r25_ohm: float, beta_k: float) -> float:
    """Temperature of a thermistor by the beta equation; `resistance_ohm` above zero."""
    return 1.0 / (1.0 / REFERENCE_K + math.log(resistance_ohm / r25_ohm) / beta_k) - ZERO_CELSIUS_K


def steinhart_hart_temperature_c(resistance_ohm: float, a: float, b: float, c: float) -> float:
    """Temperature of a thermistor by Steinhart and Hart (1968); `resistance_ohm` above zero."""
    log_ohm = math.log(resistance_ohm)
    return 1.0 / (a + b * log_ohm + c * log_ohm**3) - ZERO_CELSIUS_K


def sender_fraction(resistance_ohm: float, empty_ohm: float, full_ohm: float) -> float:
    """How far up a tank sender's float stands; both conventions, rising and falling resistance."""
    return (resistance_ohm - empty_ohm) / (full_ohm - empty_ohm)


def volume_fraction(sender: float, shape: Sequence[tuple[float, float]]) -> float:
    """How full a tank is by its table of (sender fraction, volume fraction), joined by straight lines.

    Empty and full are added where the table does not name them. An empty table is a box.
    """
    below = (0.0, 0.0)
    for point in (*sorted(shape), (1.0, 1.0)):
        if sender <= point[0]:
            width = point[0] - below[0]
            share = (sender - below[0]) / width if width > 0.0 else 1.0
            return below[1] + share * (point[1] - below[1])
        below = point
    return below[1]


def pulse_flow_l_h(rate_hz: float, pulses_per_l: float) -> float:
    """Flow through a meter with a K-factor: 3600 f / K."""
    return 3600.0 * rate_hz / pulses_per_l
