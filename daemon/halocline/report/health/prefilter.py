"""What is told of the pre-filter: its drop now, when its cartridge is due, and how likely that is soon."""

import math
from dataclasses import dataclass
from statistics import fmean, median
from typing import Any

from halocline.report.health import draws
from halocline.report.health.cartridge import cartridge
from halocline.report.health.forecast import NO_STEADY_RUN, THRESHOLDS, Forecast, not_enough
from halocline.report.health.gather import feeds_of
from halocline.report.health.outlook import pair
from halocline.report.health.seen import RunningHours, Seen

FILTER_POWER = 1.3
"""The drop of a cartridge goes with this power of the flow (common practice)."""
FEED_SEEN, FEED_SET = 0.02, 0.03
"""How well the feed is known: by two meters, or by the settings."""
DUE_DROP_BAR, DUE_H = 0.22, 25.0


@dataclass(frozen=True, slots=True)
class Prefilter:
    """`told`: the quantity; `due`: how likely a change is due; `text`: what was seen, None where nothing is."""

    told: dict[str, Any]
    due: float
    text: str | None


def prefilter(has: Seen, hours: RunningHours, forecast: Forecast, usual_l_h: float) -> Prefilter:
    """Of the record. `usual_l_h`: the feed that the drop is brought to."""
    feeds, measured = feeds_of(has, usual_l_h)
    drops = [
        (
            hours.middle_h[i],
            (p.filter_inlet_pressure_bar - p.feed_pressure_bar) * (usual_l_h / feeds[i]) ** FILTER_POWER,
        )
        for i, k in enumerate(has.kept)
        if (p := k.period).filter_inlet_pressure_bar is not None and p.feed_pressure_bar is not None
    ]
    logged = [hours.at(wall_s) for wall_s, kind, _ in has.work if kind == "filter_changed"]
    last_run_h = hours.end_h[-1] - hours.from_h[-1] if hours.end_h else 0.0
    found = cartridge([h for h, _ in drops], [d for _, d in drops], logged, hours.now_h, last_run_h)
    if found is None:
        if has.is_fitted("filter_inlet_pressure"):
            return Prefilter(not_enough("filter_drop", NO_STEADY_RUN), 0.0, None)
        return Prefilter(
            not_enough("filter_drop", "the pressure before the filters is not measured", measured=False), 0.0, None
        )
    end = THRESHOLDS["filter_drop"] ** -0.5
    change, rate, reached = [], [], []
    for z in draws.spread(draws.COUNT, 3):
        level, pace = pair((found.level, found.pace), found.covariance, z[0], z[1])
        level, pace = max(level, 0.7), max(pace, 0.05 * found.pace, 1e-4)
        level *= math.exp(-0.5 * FILTER_POWER * (FEED_SEEN if measured else FEED_SET) * z[2])
        change.append(level**-2)
        rate.append(2.0 * level**-3 * pace * 100.0)
        reached.append(max(level - end, 0.0) / pace)
    due = fmean(1.0 if d > DUE_DROP_BAR or h < DUE_H else 0.0 for d, h in zip(change, reached, strict=True))
    text = f"pressure drop of the filters is {median(change):.2f} bar after {found.periods} runs"
    return Prefilter(forecast.said("filter_drop", change, rate, reached, "as_read"), due, text)
