"""Offers as page, API and command line show them: numbers and words from one snapshot of the link."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from halocline.plant import words
from halocline.plant.offer import Need, Offer, Prospect, against, offer, prospect_of, usual_needs
from halocline.plant.settings import UnitSettings
from halocline.report.planning.foreseen import marked_texts
from halocline.report.planning.planner import Planner, Told
from halocline.report.planning.question import Blocked
from halocline.report.public import iso


def offer_message(
    on: Prospect,
    need: Need,
    now: Mapping[str, Any],
    units: UnitSettings,
    wall_s: float,
    marked: Sequence[Blocked] = (),
) -> dict[str, Any]:
    """One offer: whether it can be had, what it gives, and why not. `marked`: the waters that are marked now."""
    offered = offer(on, need)
    reasons = [{"id": reason, "values": values} for reason, values in offered.reasons]
    return {
        "need": asdict(need),
        "possible": not (reasons or against(now.get("refused") or {})),
        "reasons": [words.reason(reason, units) for reason in reasons],
        **_numbers(offered),
        "ends": None if offered.seconds is None else iso(wall_s + offered.seconds),
        "says": [*marked_texts(marked), *words.offer_texts(offered, on, units)],
    }


def _numbers(offered: Offer) -> dict[str, Any]:
    return {
        "wanted_l": offered.wanted_l,
        "litres": offered.litres,
        "seconds": offered.seconds,
        "before_s": offered.before_s,
        "energy_wh": offered.energy_wh,
        "flush_l": offered.flush_l,
        "ended_by": offered.ended_by,
        "rest_s": offered.rest_s,
    }


def plan_message(now: Mapping[str, Any] | None, units: UnitSettings, wall_s: float) -> dict[str, Any]:
    """What to offer unasked, none of which would be refused; or why nothing can be offered now."""
    on = prospect_of(now)
    if now is None or on is None:
        return {"offers": [], "reasons": [], "rests_on": None, "says": ""}
    reasons = [words.reason(dict(reason), units) for reason in against(now.get("refused") or {})]
    offers = [] if reasons else [offer_message(on, need, now, units, wall_s) for need in usual_needs(on)]
    return {"offers": offers, "reasons": reasons, "rests_on": asdict(on), "says": words.rests_on_text(on, units)}


def days_ahead_message(
    planner: Planner, now: Mapping[str, Any] | None, units: UnitSettings, wall_s: float
) -> dict[str, Any]:
    """When to make water in the days ahead, as the page gets it."""
    return ahead_of(planner.message(now, units, wall_s))


def ahead_of(told: Told) -> dict[str, Any]:
    """The days ahead for the page, from what the planner tells."""
    answer = told["answer"] or {}
    planned = {key: answer.get(key) for key in ("from", "to", "feasible", "runs")}
    return {**planned, **{key: value for key, value in told.items() if key != "answer"}}
