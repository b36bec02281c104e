"""Whether all converter inputs can be read often enough.

One conversion at a time on one bus; membrane pressure is converted between every two other inputs, and what may not
grow old after every few of the rest. A reading must be back before it is too old even when one attempt at it fails.
"""

import math
from collections.abc import Iterator

from halocline.config.checks.lookup import supply_inputs, with_unit
from halocline.config.problems import Finding, number
from halocline.plant.sensors import AnalogueInput
from halocline.plant.settings import Settings
from halocline.plant.thresholds import AGE_LIMITS_S, OTHER_AGE_LIMIT_S, RATE_SPS, TURN_PAUSE_S, URGENT_AFTER

SLOWEST_CHIP = 0.9  # of the nominal rate (ADS111x data sheet: ± 10 %)
WIRE_BITS = 330.0  # a start with read-back, about three polls, the result, a last look at the config
PROGRAM_S = 0.0005  # the driver's own time on a small computer, measured generously
ATTEMPTS = 2
FIRST = "vessel_pressure"


def conversion_s(bus_khz: float) -> float:
    """Longest time of one conversion at 860 a second on a bus of this speed, s."""
    return 1.0 / (RATE_SPS * SLOWEST_CHIP) + WIRE_BITS / (bus_khz * 1000.0) + PROGRAM_S


def period_s(settings: Settings, channel: str) -> float:
    """Time from one conversion of an input to the next, s."""
    others = _converted(settings) - 1
    turn_s = min(2, 1 + others) * conversion_s(settings.plant.adc_bus_khz) + TURN_PAUSE_S
    if channel == FIRST:
        return turn_s
    urgent = sum(isinstance(settings.inputs.get(each), AnalogueInput) for each in AGE_LIMITS_S if each != FIRST)
    rest = others - urgent
    if channel in AGE_LIMITS_S:
        return turn_s * (urgent + min(rest, URGENT_AFTER))
    return turn_s * (rest + urgent * math.ceil(rest / URGENT_AFTER))


def _converted(settings: Settings) -> int:
    analogue = [sensor for sensor in settings.inputs.values() if isinstance(sensor, AnalogueInput)]
    return len(analogue) + len(supply_inputs(settings))


def every_reading_comes_in_time(settings: Settings) -> Iterator[Finding]:
    """The slowest bus that still reads every input twice within its age limit."""
    for channel, sensor in settings.inputs.items():
        comes_s = period_s(settings, channel)
        limit_s = AGE_LIMITS_S.get(channel, OTHER_AGE_LIMIT_S)
        if isinstance(sensor, AnalogueInput) and ATTEMPTS * comes_s > limit_s:
            found = f"{number(settings.plant.adc_bus_khz)} kHz: inputs.{channel} comes every {_ms(comes_s)}"
            allowed = f"a scan that brings it every {_ms(limit_s / ATTEMPTS)} with {_converted(settings)} inputs"
            remedy = "set the computer's I2C bus faster, or read fewer inputs"
            yield Finding("plant.adc_bus_khz", found, allowed, remedy)


def _ms(seconds: float) -> str:
    return with_unit(round(seconds * 1000.0), "ms")
