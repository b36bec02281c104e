"""The other signals by run: drop of the element, zero at rest, feed, rise of the tank, hand-meter pairs.

Each is one number a run with its own noise, learnt from how it scatters about its neighbours.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from halocline.report.health.film import Normal, Reference
from halocline.report.health.fit import SLOW_H, Scalar
from halocline.report.health.seen import RunningHours, Seen
from halocline.report.health.steady import Period

LEAST_PERIODS = 6
"""With fewer values a signal's noise is not known."""
LEAST_PAIRS = 2
LEAST_RISE_PERCENT, LEAST_METERED_L = 1.0, 10.0
"""A smaller rise of the tank is the sender's noise."""
SLOW_DROP = 0.04
"""A sound element's drop drifts by such a share of the clean one in `SLOW_H` (common practice)."""
PAIR_WITHIN_S = 3600.0
"""A hand-meter reading belongs to the run whose period is this near."""


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


def scalars(used: Used, reference: Reference, feeds: Sequence[float | None]) -> list[Scalar]:
    """All that are measured often enough. `feeds`: of every run by both meters, L/h."""
    found = (_drop(used, reference), _zero(used), _feed(used, reference, feeds), _tank(used), _hand(used))
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
    found = []
    for wall_s, kind, note in used.has.work:
        if kind != "hand_meter":
            continue
        number = re.search(r"\d+(?:[.,]\d+)?", note)
        if number is None or "mg" in note.lower() or "ppm" in note.lower():
            continue
        shown = float(number[0].replace(",", "."))
        i = min(used.places, key=lambda i: abs(used.has.kept[i].period.at_s - wall_s))
        period = used.has.kept[i].period
        cell = period.product_conductivity_us_cm
        if cell and shown > 5.0 and abs(period.at_s - wall_s) < PAIR_WITHIN_S:
            found.append((used.hours.middle_h[i], math.log(cell / shown)))
    if len(found) < LEAST_PAIRS:
        return None
    return _scalar("hand", [h for h, _ in found], [v for _, v in found], [], level_sd=0.3, least=0.02)


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
