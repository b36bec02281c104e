"""Whether all converter inputs can be read often enough.

One conversion at a time on one bus; membrane pressure is converted between every two other inputs. A
reading must be back before it is too old even when one attempt at it fails.
"""

from collections.abc import Iterator

from halocline.config.checks.lookup import supply_inputs, with_unit
from halocline.config.problems import Finding, number
from halocline.plant.sensors import AnalogueInput
from halocline.plant.settings import Settings
from halocline.plant.thresholds import AGE_LIMITS_S, OTHER_AGE_LIMIT_S, RATE_SPS

SLOWEST_CHIP = 0.9  # of the nominal rate (ADS111x data sheet: ± 10 %)
WIRE_BITS = 330.0  # a start with read-back, about three polls, the result, a last look at the config
PROGRAM_S = 0.0005  # the driver's own time on a small computer, measured generously
ATTEMPTS = 2
FIRST = "vessel_pressure"


def conversion_s(bus_khz: float) -> float:
    """Longest time of one conversion at 860 a second on a bus of this speed, s."""
    return 1.0 / (RATE_SPS * SLOWEST_CHIP) + WIRE_BITS / (bus_khz * 1000.0) + PROGRAM_S


def turn_s(settings: Settings) -> tuple[float, float]:
    """Time from one conversion to the next of membrane pressure, and of every other input, s."""
    others = _converted(settings) - 1
    one_s = conversion_s(settings.plant.adc_bus_khz)
    return min(2, 1 + others) * one_s, max(1, 2 * others) * one_s


def _converted(settings: Settings) -> int:
    analogue = [sensor for sensor in settings.inputs.values() if isinstance(sensor, AnalogueInput)]
    return len(analogue) + len(supply_inputs(settings))


def every_reading_comes_in_time(settings: Settings) -> Iterator[Finding]:
    """The slowest bus that still reads every input twice within its age limit."""
    first_s, other_s = turn_s(settings)
    for channel, sensor in settings.inputs.items():
        period_s = first_s if channel == FIRST else other_s
        limit_s = AGE_LIMITS_S.get(channel, OTHER_AGE_LIMIT_S)
        if isinstance(sensor, AnalogueInput) and ATTEMPTS * period_s > limit_s:
            found = f"{number(settings.plant.adc_bus_khz)} kHz: inputs.{channel} comes every {_ms(period_s)}"
            allowed = f"a scan that brings it every {_ms(limit_s / ATTEMPTS)} with {_converted(settings)} inputs"
            remedy = "set the computer's I2C bus faster, or read fewer inputs"
            yield Finding("plant.adc_bus_khz", found, allowed, remedy)


def _ms(seconds: float) -> str:
    return with_unit(round(seconds * 1000.0), "ms")
