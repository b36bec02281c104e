"""The answer as people and programs get it: runs, least values, what binds, and what would change it."""

import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import ceil
from typing import Any

from halocline.report.planning.choosing import Chosen, binding, choose
from halocline.report.planning.course import Course, course_of
from halocline.report.planning.play import Played, play
from halocline.report.planning.question import SCHEMA, Question, Unaskable
from halocline.report.planning.solver import STEP_MIN
from halocline.report.public import iso

RULES = {"battery_too_weak": "battery", "blocked": "blocked", "tank_full": "tank", "motor_rest": "motor"}
"""Reason → the rule without which the plan could keep everything."""
COLDER_K = 2.0
DIRTY_FEED = 0.9
"""Part of the feed flow that is left behind a cartridge that is due (assumed)."""
MORE_PEOPLE = 2.0
WAITED_MIN = 24 * 60.0
SUNNY = 0.5
"""From this part of a run's energy on, the run is said to use sun to spare, or the engine."""


def answered(question: Question) -> dict[str, Any]:
    """The answer to a question. Raises `Unaskable` where sea and plant make no water."""
    began = time.perf_counter()
    return answer_of(question, choose(question), began)


def answer_of(question: Question, chosen: Chosen, began: float) -> dict[str, Any]:
    """The answer for runs that are chosen. `began`: when that began, by `time.perf_counter`."""
    said = _answer(question, chosen)
    took_ms = round((time.perf_counter() - began) * 1000, 1)
    return {"schema": SCHEMA, "feasible": chosen.feasible, "took_ms": took_ms, **said}


def _answer(q: Question, chosen: Chosen) -> dict[str, Any]:
    played = chosen.played
    runs = [_run(q, chosen, place) for place in range(len(chosen.runs))]
    litres = sum(run["litres_to_tank"] - run["flush_l"] for run in runs)
    energy = sum(run["energy_wh"] for run in runs)
    return {
        "from": _at(q, 0.0),
        "to": iso_minute(q.to_s),
        "runs": runs,
        "totals": {
            "litres": round(litres, 1),
            "energy_wh": round(energy),
            "wh_per_l": round(energy / litres, 1) if litres > 0 else None,
        },
        "least": {
            **_least(q, chosen.course, "tank_l", "tank_at", played.tank_l, 1.0),
            **_least(q, chosen.course, "battery_percent", "battery_at", played.charge_wh, _percent(q)),
        },
        "least_high_use": _least(q, chosen.course, "tank_l", "tank_at", played.tank_high_l, 1.0),
        "least_little_sun": _least(
            q, chosen.course, "battery_percent", "battery_at", played.charge_low_wh, _percent(q)
        ),
        "short": {
            "reserve_l": round(played.short_reserve_l, 1),
            "end_l": round(played.short_end_l, 1),
            "from": _short_from(q, chosen),
        },
        "reasons": list(_reasons(q, chosen)),
        "compared": dict(_compared(q, chosen)),
    }


def _percent(q: Question) -> float:
    return 100 / q.battery.capacity_wh


def _at(q: Question, minutes: float) -> str | None:
    return iso_minute(q.from_s + minutes * 60)


def iso_minute(wall_s: float) -> str | None:
    """A moment as the answer has it."""
    told = iso(wall_s)
    return None if told is None else told.replace(".000Z", "Z")


def _least(
    q: Question, course: Course, key: str, key_at: str, band: Sequence[float], factor: float
) -> dict[str, float | str | None]:
    if not band:
        return {key: None, key_at: None}
    place = min(range(len(band)), key=band.__getitem__)
    return {key: round(band[place] * factor, 1), key_at: _at(q, (place + 1) * course.step_min)}


def _run(q: Question, chosen: Chosen, place: int) -> dict[str, Any]:
    run, litres, overboard = chosen.runs[place], chosen.played.litres[place], chosen.played.overboard_l[place]
    energy = q.plant.pump_power_w * run.minutes / 60 + q.plant.flush_power_w * q.plant.flush_minutes / 60
    return {
        "start": _at(q, run.start_min),
        "minutes": round(run.minutes),
        "litres_to_tank": round(litres, 1),
        "overboard_l": round(overboard, 1),
        "flush_l": q.plant.flush_l,
        "energy_wh": round(energy),
        "flow_l_h": round((litres + overboard) / run.minutes * 60, 1),
        "why": _why(q, chosen, place),
    }


def _why(q: Question, chosen: Chosen, place: int) -> str:
    """What speaks for this run: its energy, else that the tank needs it then, else the end."""
    run, course = chosen.runs[place], chosen.course
    steps = range(int(run.start_min / course.step_min), min(int(run.end_min / course.step_min), course.steps))
    begin_s, end_s = q.from_s + run.start_min * 60, q.from_s + run.end_min * 60
    charged = sum(e.w * max(min(e.to_s, end_s) - max(e.from_s, begin_s), 0.0) / 3600 for e in q.engine)
    energy = q.plant.pump_power_w * run.minutes / 60
    if charged >= SUNNY * energy:
        return "engine_runs"
    others = [*chosen.runs[:place], *chosen.runs[place + 1 :]]
    without = play(q, course, others)
    spared = without.spilled_wh - chosen.played.spilled_wh
    if spared >= SUNNY * energy or sum(course.net_wh[i] for i in steps) - charged >= SUNNY * energy:
        return "sun_to_spare"
    ends = [*chosen.runs, None][place + 1]
    until = course.steps if ends is None else int(ends.start_min / course.step_min)
    if min(without.tank_high_l[:until], default=q.tank.now_l) < q.tank.reserve_l:
        return "reserve"
    return "level_at_end"


def _short_from(q: Question, chosen: Chosen) -> str | None:
    for place, level in enumerate(chosen.played.tank_high_l):
        if level < q.tank.reserve_l - 1e-6:
            return _at(q, place * chosen.course.step_min)
    return _at(q, chosen.course.steps * chosen.course.step_min) if chosen.played.short_end_l else None


def _reasons(q: Question, chosen: Chosen) -> Iterator[dict[str, Any]]:
    hours = ceil(q.hours - 1e-9)
    if len(q.sun_w) < hours:
        yield {"id": "no_forecast", "values": {"from": _at(q, len(q.sun_w) * 60), "hours": hours - len(q.sun_w)}}
    if chosen.feasible:
        return
    short_l = max(chosen.played.short_reserve_l, chosen.played.short_end_l)
    made_l = sum(chosen.played.litres) - len(chosen.runs) * q.plant.flush_l
    values = {"litres": round(max(made_l, 0.0), 1), "short_l": round(short_l, 1)}
    for reason in _binding(q):
        yield {"id": reason, "values": {**values, **_remedy(q, chosen, reason, short_l)}}


def _binding(q: Question) -> list[str]:
    """The reasons each of which alone stands in the way; else the fewest first ones that do together."""
    reasons = {rule: reason for reason, rule in RULES.items()}
    return [reasons[rule] for rule in binding(q, list(reasons))] or ["too_late"]


def _remedy(q: Question, chosen: Chosen, reason: str, short_l: float) -> dict[str, Any]:
    """What would help: so much more charge and so long an engine, or so much less use."""
    if reason != "battery_too_weak":
        return {"blocked": sorted({each.why for each in q.blocked})} if reason == "blocked" else {}
    extra_wh = _extra_wh(q, chosen, short_l)
    engine_w = q.engine_w or max((each.w for each in q.engine), default=0.0)
    said: dict[str, Any] = {"extra_wh": round(extra_wh), "use_less_l": round(short_l, 1)}
    return {**said, "engine_minutes": round(extra_wh / engine_w * 60)} if engine_w else said


def _extra_wh(q: Question, chosen: Chosen, short_l: float) -> float:
    """What the pumps take for the litres short: in a longer run, or where there is none to lengthen in a run of its
    own, with its wait overboard, its flush and its least length."""
    plant, flow = q.plant, max(chosen.course.flow_l_h)
    minutes, flush_wh = short_l / flow * 60, 0.0
    if not any(run.minutes + minutes <= plant.motor_run_minutes for run in chosen.runs):
        minutes = plant.start_up_minutes + max((short_l + plant.flush_l) / flow * 60, plant.min_run_minutes)
        flush_wh = plant.flush_power_w * plant.flush_minutes / 60
    quarters = ceil(minutes / STEP_MIN - 1e-9)
    return quarters * STEP_MIN / 60 * plant.pump_power_w + flush_wh


def _compared(q: Question, chosen: Chosen) -> Iterator[tuple[str, float | None]]:
    """What the same runs would come to otherwise: litres more or less, and litres short."""
    litres = sum(chosen.played.litres)
    dirty = replace(q, plant=replace(q.plant, feed_flow_l_h=max(q.plant.feed_flow_l_h * DIRTY_FEED, 50.0)))
    cold = replace(q, sea=tuple(replace(sea, temperature_c=max(sea.temperature_c - COLDER_K, -2.0)) for sea in q.sea))
    for name, other in (("if_dirtier_filter_l", dirty), ("if_2_k_colder_l", cold)):
        yield name, _otherwise(other, chosen, litres)
    more = play(q, chosen.course, chosen.runs, people=MORE_PEOPLE)
    yield "if_two_more_people_short_l", round(_short(more), 1)
    late = [run for run in chosen.runs if run.start_min >= WAITED_MIN]
    yield "if_waiting_a_day_short_l", round(_short(play(q, chosen.course, late)), 1)


def _otherwise(other: Question, chosen: Chosen, litres: float) -> float | None:
    try:
        course = course_of(other, chosen.course.step_min)
    except Unaskable:
        return None
    return round(sum(play(other, course, chosen.runs).litres) - litres, 1)


def _short(played: Played) -> float:
    return max(played.short_reserve_l, played.short_end_l)
