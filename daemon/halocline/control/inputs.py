"""What one tick of control is given to decide on."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from halocline.link.snapshot import ReasonNow
from halocline.plant.vocabulary import VALUED_QUALITIES, Origin, Quality, Reading


@dataclass(frozen=True, slots=True)
class Command:
    """Something a person or another program asked for.

    token: whom to answer. persisted: what it changes is already on file (commands that must survive a restart);
    unfiled: it could not be put there; filed: what that is, where it was worked out when the command came.
    wall_s: when it came, in unix time; None while the clock is not set.
    """

    name: str
    arguments: Mapping[str, Any] = field(default_factory=dict)
    origin: Origin = Origin.CLI
    who: str = ""
    token: str = ""
    persisted: bool = False
    unfiled: bool = False
    wall_s: float | None = None
    filed: Any = None


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is refused or happened: an id for `plant.words` and the numbers that belong to it."""

    id: str
    values: Mapping[str, Any] = field(default_factory=dict)

    def as_message(self) -> ReasonNow:
        """As the link carries it."""
        return {"id": self.id, "values": dict(self.values)}


NO_RETRIES: Mapping[int, int] = {}


class Inputs(NamedTuple):
    """Everything measured, judged at `now_s` (monotonic seconds).

    active: contact id → open (active); only fitted contacts appear.
    overpressure_bar: set where two consecutive unfiltered samples stood above the high-high limit.
    conductivity_peak_us_cm: the product's highest unfiltered sample since the last tick, for the record alone.
    lost_chips: addresses of converters that do not deliver.
    interlock_lost: a comparator interlock is fitted that does not hold its window.
    retries: conversions that had to be repeated since control was started, by the converter's address.
    wall_s: unix time, to a tenth of a second, for words and the end of a consent; None where it is not known.
    missed_ticks: ticks that should have come since the last one and did not.
    """

    now_s: float
    readings: Mapping[str, Reading]
    active: Mapping[str, bool]
    product_total_l: float = 0.0
    flush_total_l: float | None = None
    overpressure_bar: float | None = None
    conductivity_peak_us_cm: float | None = None
    lost_chips: tuple[int, ...] = ()
    interlock_lost: bool = False
    retries: Mapping[int, int] = NO_RETRIES
    missed_ticks: int = 0
    clock_set: bool = True
    wall_s: float | None = None
    supply_voltage_low: bool = False
    latch_writable: bool = True


def sane(inputs: Inputs, last_product_total_l: float = 0.0) -> Inputs:
    """The same without numbers that no instrument can mean: such a reading is implausible, such a total
    stands where it last stood."""
    broken = {
        channel: Reading(None, None, reading.unit, _honest(reading), reading.age_s)
        for channel, reading in inputs.readings.items()
        if not _is_sound(reading)
    }
    if broken:
        inputs = inputs._replace(readings={**inputs.readings, **broken})
    if not math.isfinite(inputs.product_total_l):
        inputs = inputs._replace(product_total_l=last_product_total_l)
    if inputs.flush_total_l is not None and not math.isfinite(inputs.flush_total_l):
        inputs = inputs._replace(flush_total_l=None)
    if inputs.conductivity_peak_us_cm is not None and not math.isfinite(inputs.conductivity_peak_us_cm):
        inputs = inputs._replace(conductivity_peak_us_cm=None)
    return inputs


def _is_sound(reading: Reading) -> bool:
    if reading.raw is not None and not math.isfinite(reading.raw):
        return False
    if reading.quality in VALUED_QUALITIES:
        return reading.value is not None and math.isfinite(reading.value)
    return reading.value is None


def _honest(reading: Reading) -> Quality:
    return Quality.IMPLAUSIBLE if reading.quality in VALUED_QUALITIES else reading.quality
