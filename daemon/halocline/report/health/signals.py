"""The other signals by run: drop of the element, zero at rest, feed, rise of the tank, what people read beside them.

Each is one number a run with its own noise, learnt from how it scatters about its neighbours.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Any

from halocline.physics.conductivity import at_25c
from halocline.report.health.film import Normal, Reference
from halocline.report.health.fit import ENTERED_G_KG, SLOW_H, Scalar
from halocline.report.health.noise import EXPECTED, SeaRead
from halocline.report.health.seen import RunningHours, Seen
from halocline.report.health.steady import Period

LEAST_PERIODS = 6
"""With fewer values a signal's noise is not known."""
LEAST_PAIRS = 2
LEAST_US_CM = 5.0
"""Less is no product of sea water: a meter that was not in it."""
LEAST_RISE_PERCENT, LEAST_METERED_L = 1.0, 10.0
"""A smaller rise of the tank is the sender's noise."""
SLOW_DROP = 0.04
"""A sound element's drop drifts by such a share of the clean one in `SLOW_H` (common practice)."""
PAIR_WITHIN_S = 3600.0
"""A hand-meter reading belongs to the run whose period is this near."""
SEA_WITHIN_S = 3 * 86400.0
"""A salinity belongs to the nearest run of these days: at anchor, in the same sea."""
SEA_READ_G_KG: Mapping[str, float] = {"refractometer": 0.7, "hydrometer": 0.5, "published": 0.5}
"""Standard deviation of what is read, by how it was got (common practice): a scale of 1 g/kg by eye, a float of 0.5 in
water whose temperature is known, a mean of the region that a day's rain or river is not in."""
FAR_SEA_G_KG = 3.5
"""From one sea to the next: a reading further off than this is likelier a slip of the pen, and counts for less."""


@dataclass(frozen=True, slots=True)
class Used:
    """The runs that the fit uses: their places among `has.kept`, what they are on the reference day, `breaks`, and
    the drop of a clean channel on the reference day."""

    has: Seen
    hours: RunningHours
    places: Sequence[int]
    normals: Sequence[Normal]
    breaks: Sequence[float]
    day_drop_bar: float

    def near(self, wall_s: float) -> tuple[float, Period] | None:
        """Running hours and period of the run in which something was read; None where there is none."""
        k = self.nearest(wall_s, PAIR_WITHIN_S)
        return None if k is None else (self.hours.middle_h[self.places[k]], self.has.kept[self.places[k]].period)

    def nearest(self, wall_s: float, within_s: float) -> int | None:
        """Place among `places` of the run nearest to that time; None where there is none so near."""
        off = [abs(self.has.kept[i].period.at_s - wall_s) for i in self.places]
        k = min(range(len(off)), key=off.__getitem__)
        return k if off[k] < within_s else None


def scalars(
    used: Used, reference: Reference, feeds: Sequence[float | None], sea: Sequence[SeaRead] = ()
) -> list[Scalar]:
    """All that are measured often enough. `feeds`: of every run by both meters, L/h; `sea`: by `sea_read`."""
    found = (
        _drop(used, reference),
        _zero(used),
        _feed(used, reference, feeds),
        _tank(used),
        _hand(used),
        _bucket(used),
        _gauge(used),
        _sea(used, sea),
    )
    return [each for each in found if each is not None]


def drop_bar(p: Period) -> float | None:
    """Pressure lost along the element, the zeros of both senders taken off; None where one is not known."""
    if p.vessel_pressure_bar is None or p.brine_pressure_bar is None:
        return None
    if p.rest_vessel_pressure_bar is None or p.rest_brine_pressure_bar is None:
        return None
    return p.vessel_pressure_bar - p.brine_pressure_bar - p.rest_vessel_pressure_bar + p.rest_brine_pressure_bar


def _drop(used: Used, reference: Reference) -> Scalar | None:
    drops = [
        (i, drop, n.drop_bar, (p.vessel_pressure_bar or 0.0) - reference.pressure_bar)
        for i, n in zip(used.places, used.normals, strict=True)
        if (drop := drop_bar(p := used.has.kept[i].period)) is not None
    ]
    if len(drops) < LEAST_PERIODS:
        return None
    clean = used.day_drop_bar
    # A change of the channel acts on the drop of that day: cold water is thicker.
    share = [drop / clean for _, _, drop, _ in drops]
    hours = [used.hours.middle_h[i] for i, _, _, _ in drops]
    since = [max(h - used.breaks[-1], 0.0) / SLOW_H for h in hours]
    columns = [
        ([x * s for x, s in zip(since, share, strict=True)], SLOW_DROP * clean),
        ([s - 1.0 for s in share], 0.5 * clean),
        ([bar for _, _, _, bar in drops], 0.006),
    ]
    for begin, end in pairwise(used.breaks):
        inside = [1.0 if begin <= h < end else 0.0 for h in hours]
        if any(inside):
            gone = [max(0.0, h - begin) / max(end - begin, 1.0) if h < end else 0.0 for h in hours]
            columns += [(inside, 1.0), (gone, 1.0)]
    values = [v for _, v, _, _ in drops]
    return _scalar("drop", hours, values, columns, level_sd=1.0, least=0.004, scale=share, drifts=True)


def _zero(used: Used) -> Scalar | None:
    rests = [
        (used.hours.middle_h[i], rest)
        for i, k in enumerate(used.has.kept)
        if (rest := k.period.rest_vessel_pressure_bar) is not None
    ]
    if len(rests) < LEAST_PERIODS:
        return None
    return _scalar("zero", [h for h, _ in rests], [v for _, v in rests], [], level_sd=3.0, least=0.02)


def _feed(used: Used, reference: Reference, feeds: Sequence[float | None]) -> Scalar | None:
    found = [(used.hours.middle_h[i], math.log(f)) for i, f in enumerate(feeds) if f and f > 0.0]
    if len(found) < LEAST_PERIODS:
        return None
    usual = math.log(reference.feed_flow_l_h)
    return _scalar("feed", [h for h, _ in found], [v for _, v in found], [], level_sd=1.0, least=0.003, level=usual)


def _tank(used: Used) -> Scalar | None:
    """Log of the tank's rise over what the meter counted: the smaller the run, the more it scatters."""
    tanks = [
        (used.hours.middle_h[i], math.log(p.tank_rise_percent / p.metered_l), p.metered_l)
        for i in used.places
        if (p := used.has.kept[i].period).tank_rise_percent
        and p.metered_l
        and p.tank_rise_percent > LEAST_RISE_PERCENT
        and p.metered_l > LEAST_METERED_L
    ]
    if len(tanks) < LEAST_PERIODS:
        return None
    litres = median([each for _, _, each in tanks])
    weights = [litres / each for _, _, each in tanks]
    return _scalar(
        "tank", [h for h, _, _ in tanks], [v for _, v, _ in tanks], [], level_sd=3.0, least=0.005, weights=weights
    )


def _hand(used: Used) -> Scalar | None:
    """Log of the cell over a hand meter."""
    shown = [(wall_s, hand_us_cm(read)) for wall_s, kind, read in used.has.readings if kind == "hand_meter"]
    told = {wall_s for wall_s, us_cm in shown if us_cm is not None}
    shown += [
        (wall_s, _noted_us_cm(note))
        for wall_s, kind, note in used.has.work
        if kind == "hand_meter" and wall_s not in told
    ]
    found = [
        (h, math.log(cell / us_cm))
        for wall_s, us_cm in sorted(shown, key=lambda each: each[0])
        if us_cm and (near := used.near(wall_s)) and (cell := near[1].product_conductivity_us_cm)
        for h in (near[0],)
    ]
    return _pairs("hand", found, level_sd=0.3, least=0.02)


def hand_us_cm(read: Mapping[str, Any]) -> float | None:
    """What a hand meter showed, at 25 °C. A reading with the sample's temperature is one that the meter left there."""
    us_cm, sample_c = read.get("us_cm"), read.get("sample_c")
    if not isinstance(us_cm, int | float) or us_cm <= LEAST_US_CM:
        return None
    return us_cm if not isinstance(sample_c, int | float) else at_25c(us_cm, sample_c)


def _noted_us_cm(note: str) -> float | None:
    """The same out of an earlier entry's own words."""
    number = re.search(r"\d+(?:[.,]\d+)?", note)
    if number is None or "mg" in note.lower() or "ppm" in note.lower():
        return None
    us_cm = float(number[0].replace(",", "."))
    return us_cm if us_cm > LEAST_US_CM else None


def _bucket(used: Used) -> Scalar | None:
    """Log of the product meter over a bucket filled by the clock."""
    found = [
        (near[0], math.log(flow * seconds / 3600.0 / litres))
        for wall_s, kind, read in used.has.readings
        if kind == "bucket_test"
        and (litres := _positive(read, "litres"))
        and (seconds := _positive(read, "seconds"))
        and (near := used.near(wall_s))
        and (flow := near[1].product_flow_l_h)
    ]
    return _pairs("bucket", found, level_sd=0.1, least=0.015)


def _gauge(used: Used) -> Scalar | None:
    """The membrane pressure over the mechanical gauge, bar, at work."""
    found = [
        (near[0], near[1].vessel_pressure_bar - bar)
        for wall_s, kind, read in used.has.readings
        if kind == "gauge_read"
        and (bar := _positive(read, "bar"))
        and (near := used.near(wall_s))
        and near[1].vessel_pressure_bar is not None
    ]
    return _pairs("gauge", found, level_sd=3.0, least=0.3)


def sea_read(used: Used, reference: Reference) -> list[SeaRead]:
    """What people read of the sea's salinity, against the settings of the nearest run."""
    found = []
    for wall_s, kind, read in used.has.readings:
        g_kg, sd_g_kg = _positive(read, "g_kg"), SEA_READ_G_KG.get(str(read.get("by")))
        if kind != "sea_salinity" or g_kg is None or sd_g_kg is None:
            continue
        if (k := used.nearest(wall_s, SEA_WITHIN_S)) is not None:
            entered = used.has.kept[used.places[k]].period.sea_salinity_g_kg or reference.salinity_g_kg
            over = g_kg - entered
            found.append(SeaRead(k, over, sd_g_kg * max(1.0, abs(over) / FAR_SEA_G_KG) ** 2))
    return found


def _sea(used: Used, sea: Sequence[SeaRead]) -> Scalar | None:
    """What was read of the sea over what was entered, g/kg. One reading tells: what it is compared with was entered
    by a person, and within one sea it differs by so much."""
    if not sea:
        return None
    sd = [math.hypot(read.sd_g_kg, EXPECTED.sea_g_kg) for read in sea]
    hours = [used.hours.middle_h[used.places[read.place]] for read in sea]
    return Scalar("sea", hours, [read.over_g_kg for read in sea], sd, [([1.0] * len(sea), ENTERED_G_KG)])


def _positive(read: Mapping[str, Any], name: str) -> float | None:
    value = read.get(name)
    return float(value) if isinstance(value, int | float) and value > 0.0 else None


def _pairs(name: str, found: Sequence[tuple[float, float]], *, level_sd: float, least: float) -> Scalar | None:
    """`least`: what such a comparison scatters by at least (common practice)."""
    if len(found) < LEAST_PAIRS:
        return None
    return _scalar(name, [h for h, _ in found], [v for _, v in found], [], level_sd=level_sd, least=least)


def _scalar(
    name: str,
    hours: Sequence[float],
    values: Sequence[float],
    columns: Sequence[tuple[Sequence[float], float]],
    *,
    level_sd: float,
    least: float,
    scale: Sequence[float] | None = None,
    weights: Sequence[float] | None = None,
    level: float | None = None,
    drifts: bool = False,
) -> Scalar:
    weights = weights or [1.0] * len(values)
    smooth = [median(values[max(0, i - 4) : i + 5]) for i in range(len(values))]
    off = [abs(v - m) / w for v, m, w in zip(values, smooth, weights, strict=True)]
    # The middle of nine takes up a tenth of the noise.
    noise = max(1.1 * median(off) / 0.6745 if len(off) >= 6 else 0.03, least)
    centre = median(values) if level is None else level
    # A far value counts for nearly nothing: water drawn from the tank meanwhile, a slip of the pen.
    sd = [noise * w * max(1.0, x / (3.5 * noise)) ** 2 for x, w in zip(off, weights, strict=True)]
    ones = [1.0] * len(values)
    return Scalar(name, hours, [v - centre for v in values], sd, [*columns, (ones, level_sd)], scale, drifts)
