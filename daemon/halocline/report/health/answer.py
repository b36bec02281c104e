"""The answer to *how is the plant, and when does that end*: a function of what the record held at one moment."""

from dataclasses import asdict
from typing import Any

from halocline.report.health.day import membrane_of, reference_of
from halocline.report.health.film import FilmModel
from halocline.report.health.finding import RENEWING, finding
from halocline.report.health.fit import Data, Fit
from halocline.report.health.forecast import Forecast
from halocline.report.health.gather import gathered
from halocline.report.health.outlook import BASELINE_H, flow_and_salt, pressure_drop
from halocline.report.health.patterns import ask, patterns
from halocline.report.health.prefilter import prefilter
from halocline.report.health.seen import RunningHours, Seen
from halocline.report.health.signals import LEAST_PERIODS
from halocline.report.health.standard import Measured, standard
from halocline.report.health.stories import NOTHING
from halocline.report.public import iso


def answer(has: Seen) -> dict[str, Any]:
    """The whole answer, as JSON values. Raises OutOfRange or Unsolvable for settings that no membrane fits."""
    reference = reference_of(has)
    model = FilmModel(membrane_of(has.settings), reference)
    hours = RunningHours(has.kept)
    resets = [(hours.at(wall_s), kind) for wall_s, kind, _ in has.work if kind in RENEWING]
    begin_h, because = resets[-1] if resets else (0.0, "first_hours")
    found = gathered(has, hours, model, [0.0, *(h for h, _ in resets if h > 0.0)])
    periods_h = [] if found.data is None else found.data.hours
    since = sum(1 for h in periods_h if h >= begin_h)
    fit = _fitted(found.data) if found.data is not None and since >= LEAST_PERIODS else None
    named = {NOTHING: 1.0} if fit is None else fit.named()
    forecast = Forecast(has, hours, begin_h)
    filters = prefilter(has, hours, forecast, reference.feed_flow_l_h)
    told = patterns(fit, named, filters)
    first = sum(1 for h in periods_h if begin_h <= h <= begin_h + BASELINE_H)
    measured = [
        Measured(has.kept[i].period, found.feeds[i])
        for i, h in zip(found.places, periods_h, strict=True)
        if h >= begin_h
    ]
    quantities = {
        **flow_and_salt(forecast, fit, since),
        "pressure_drop": pressure_drop(forecast, fit, has),
        "filter_drop": filters.told,
    }
    return {
        "schema": 1,
        "at": iso(has.at_s),
        "running_hours": round(hours.now_h, 2),
        "baseline": {
            "from_h": round(begin_h, 2),
            "to_h": round(min(begin_h + BASELINE_H, hours.now_h), 2),
            "because": because,
            "runs": first,
        },
        "reference": asdict(reference),
        "quantities": quantities,
        "standard": standard(measured[:first], measured),
        "patterns": told,
        "ask": ask(told),
        "finding": finding(told, has, known=any(each["enough"] for each in quantities.values())),
        "runs": {
            "used": len(periods_h),
            "set_aside": [{"run": run, "why": why} for run, why in sorted(found.set_aside)],
        },
    }


def _fitted(data: Data) -> Fit | None:
    """None where the numbers allow no fit: readings that are all the same, for one."""
    try:
        return Fit(data)
    except (ValueError, ZeroDivisionError, OverflowError):
        return None
