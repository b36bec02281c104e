"""A plan of the coming days in words: the next run and why, what binds, what would help, what would change it."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from halocline.plant.settings import UnitSettings
from halocline.plant.words.filling import fill
from halocline.plant.words.moments import day_of
from halocline.plant.words.names import plain
from halocline.plant.words.units import quantity

NEXT = "Next run {start:said} for {seconds}: about {litres} into the tank, {energy_wh}. {why:said}"
LATER = "- {start:said} for {seconds}: about {litres}, {energy_wh}. {why:said}"
NO_RUN = "No run is needed until {to:said}."
NO_RUN_HELPS = "No run is allowed until {to:said}."
WHY: Mapping[str, str] = {
    "sun_to_spare": "Then the sun carries most of it.",
    "engine_runs": "Then the engine carries most of it.",
    "reserve": "Later the tank would come down to its reserve.",
    "level_at_end": "It brings the tank to the level wanted at the end.",
}
REASONS: Mapping[str, str] = {
    "battery_too_weak": "The battery allows {litres} net of flushes, {short_l} too little: charge {extra_wh} more[ "
    "(the engine {engine_s})], or use {use_less_l} less.",
    "blocked": "Between the forbidden times {litres} can be made, {short_l} too little: allow a run in one of them, or "
    "use {short_l} less.",
    "tank_full": "The tank has no room for what is needed later, {short_l}: use less then, or want less in it at the "
    "end.",
    "motor_rest": "With the motor's rests {litres} can be made, {short_l} too little: use {short_l} less.",
    "too_late": "No run can help in time, {short_l} will be missing: use less, or take on water.",
    "no_forecast": "From {from:said} on no sun is foreseen, and none is counted on.",
}
LEAST_TANK = "Least in the tank {tank_l}, {tank_at:said}[; with high use {high_l}, {high_at:said}]."
LEAST_BATTERY = "Least in the battery {battery_percent}, {battery_at:said}[; with little sun {low_percent}]."
OTHERWISE: Mapping[str, str] = {
    "if_dirtier_filter_l": "{less_l} less with a filter that is due",
    "if_2_k_colder_l": "{less_l} less in a sea 2 °C colder",
}
SAME_RUNS = "The same runs give {listed:said}."
MORE_PEOPLE = "With two more people {short_l} would be missing."
WAITING = "Without a run in the next 24 h {short_l} would be missing."
LEAST_TOLD_L = 0.5
NEEDS: Mapping[str, str] = {
    "control": "The control process is not heard.",
    "battery_wh": "What the battery holds is not known: enter battery_wh in the table [plan] of the configuration.",
    "tank_fill": "How much water is in the tank is not known: no good level reading.",
    "configuration": "The record has no settings of this plant yet: it gets them when control runs.",
}
CHANGES: Mapping[str, str] = {
    "no_longer_allowed": "Changed, because the former plan would break a limit now.",
    "no_longer_enough": "Changed, because the former plan would no longer be enough.",
    "cheaper": "Changed, because another plan now takes clearly less from the battery.",
}
SOURCES: Mapping[str, Mapping[str, str]] = {
    "tank": {"measured": "Level of the tank: measured."},
    "battery": {
        "measured": "Charge of the battery: measured.",
        "computed": "Charge of the battery: computed from its voltage, rough.",
        "assumed": "Charge of the battery: assumed, for nothing measures it.",
    },
    "sun": {"foreseen": "Sun: from the forecast.", "entered": "Sun: the usual day that was entered."},
    "sea": {
        "measured": "Sea: measured temperature.",
        "foreseen": "Sea: temperature from the forecast.",
        "assumed": "Sea: temperature assumed.",
    },
    "use": {"learned": "Use by the hour: learned from the tank's record.", "entered": "Use: as entered."},
    "plant": {
        "learned": "Flow: what this membrane usually gives.",
        "computed": "Flow: computed from the membrane's model.",
    },
}
FORECAST_PROBLEM = "The forecast is not used: {problem:said}."
FORECAST = "Forecast: {by:said}, {age_s} old[; it tells the sun until {until:said}]."
FORECAST_BY: Mapping[str, str] = {
    "file": "from its file",
    "broker": "from the broker",
    "page": "entered on the page",
}
FORBIDDEN = "{why:said}[ at {place:text}]: no run is planned until {until:said}."
MARKED = "Make no water here: {why:said}[ at {place:text}], marked until {until:said}."
FORBIDDEN_ENDED = "{why:said}: runs are planned again."
FORBIDDEN_FOR: Mapping[str, str] = {
    "silt": "Silty water",
    "harbour": "Harbour",
    "bloom": "Algal bloom",
    "oil": "Oil or fuel",
}
NO_ENGINE = "What the engine charges is not known: enter engine_w in the table [plan] of the configuration."
AGAINST = "Against the plan: {runs:said}, {litres:said}, {energy:said}."
AS_PLANNED = "The same runs as planned."


def next_run_text(answer: Mapping[str, Any], units: UnitSettings | None = None) -> str:
    """The next run in one sentence, or that there is none."""
    if not answer["runs"]:
        return fill(NO_RUN if answer["feasible"] else NO_RUN_HELPS, {"to": told(answer["to"])}, units)
    return fill(NEXT, _run(answer["runs"][0]), units)


def _run(run: Mapping[str, Any]) -> Mapping[str, Any]:
    return {
        "start": told(run["start"]),
        "seconds": run["minutes"] * 60,
        "litres": run["litres_to_tank"],
        "energy_wh": round(run["energy_wh"], -1),
        "why": WHY[run["why"]],
    }


def reason_texts(answer: Mapping[str, Any], units: UnitSettings | None = None) -> list[str]:
    """Which limits bind, and what would help."""
    return [_reason(each["id"], each["values"], units) for each in answer["reasons"]]


def _reason(reason: str, values: Mapping[str, Any], units: UnitSettings | None) -> str:
    minutes = values.get("engine_minutes")
    more = {"from": told(values.get("from")), "engine_s": None if minutes is None else minutes * 60}
    return fill(REASONS[reason], {**values, **more}, units)


def what_if_texts(answer: Mapping[str, Any], units: UnitSettings | None = None) -> list[str]:
    """The least values, and what would be otherwise."""
    least, high, low = answer["least"], answer["least_high_use"], answer["least_little_sun"]
    tank = {**least, "tank_at": told(least["tank_at"]), "high_l": high["tank_l"], "high_at": told(high["tank_at"])}
    battery = {**least, "battery_at": told(least["battery_at"]), "low_percent": low["battery_percent"]}
    return [fill(LEAST_TANK, tank, units), fill(LEAST_BATTERY, battery, units), *_otherwise(answer["compared"], units)]


def _otherwise(compared: Mapping[str, Any], units: UnitSettings | None) -> Iterator[str]:
    fewer = {key: -(compared.get(key) or 0.0) for key in OTHERWISE}
    listed = [fill(OTHERWISE[key], {"less_l": litres}, units) for key, litres in fewer.items() if litres > LEAST_TOLD_L]
    if listed:
        yield fill(SAME_RUNS, {"listed": ", and ".join(listed)}, units)
    for key, text in (("if_two_more_people_short_l", MORE_PEOPLE), ("if_waiting_a_day_short_l", WAITING)):
        if compared[key] > LEAST_TOLD_L:
            yield fill(text, {"short_l": compared[key]}, units)


def plan_lines(answer: Mapping[str, Any], units: UnitSettings | None = None) -> Sequence[str]:
    """The whole plan, line by line, as the command line prints it."""
    runs = [fill(LATER, _run(run), units) for run in answer["runs"][1:]]
    return [next_run_text(answer, units), *runs, *reason_texts(answer, units), *what_if_texts(answer, units)]


def told(moment: str | None) -> str | None:
    """A moment of the answer as people read it."""
    return None if moment is None else day_of(datetime.fromisoformat(moment).timestamp())


def plan_needs(missing: str) -> str:
    """What has to be known before days can be planned."""
    return NEEDS[missing]


def plan_change(changed: str | None) -> str | None:
    """Why another plan took the place of the one shown before."""
    return None if changed is None else CHANGES[changed]


def plan_sources(rests_on: Mapping[str, str]) -> list[str]:
    """Where the figures of a plan come from."""
    return [SOURCES[what][source] for what, source in rests_on.items()]


def forecast_problem(problem: str) -> str:
    """Why the forecast is not used."""
    return fill(FORECAST_PROBLEM, {"problem": problem.rstrip(".")})


def forecast_text(source: str, age_s: float, until_s: float | None) -> str:
    """Where the forecast comes from, how old it is, and how far it reaches."""
    until = None if until_s is None else day_of(until_s)
    return fill(FORECAST, {"by": FORECAST_BY[source], "age_s": age_s, "until": until})


def forbidden_text(why: str, until_s: float, place: str = "") -> str:
    """Why no run is planned, where, and until when."""
    return fill(FORBIDDEN, _marked(FORBIDDEN_FOR.get(why, plain(why)), until_s, place))


def marked_text(why: str, until_s: float, place: str = "") -> str:
    """What a person has marked, for whoever is about to start."""
    named = FORBIDDEN_FOR.get(why, plain(why))
    return fill(MARKED, _marked(named[:1].lower() + named[1:], until_s, place))


def _marked(why: str, until_s: float, place: str) -> dict[str, Any]:
    return {"why": why, "until": day_of(until_s), **({"place": place} if place else {})}


def forbidden_ended_text(why: str) -> str:
    """Nothing forbids this water any more."""
    return fill(FORBIDDEN_ENDED, {"why": FORBIDDEN_FOR.get(why, plain(why))})


def plan_difference(shown: Mapping[str, Any], other: Mapping[str, Any], units: UnitSettings | None = None) -> str:
    """How another plan differs from the one that is shown."""
    if [_when(run) for run in shown["runs"]] == [_when(run) for run in other["runs"]]:
        return AS_PLANNED
    before, after = shown["totals"], other["totals"]
    runs = {0: "no run", 1: "1 run"}.get(len(other["runs"]), f"{len(other['runs'])} runs")
    return fill(
        AGAINST,
        {
            "runs": runs,
            "litres": _more(after["litres"] - before["litres"], "L", "as much water", units),
            "energy": _more(after["energy_wh"] - before["energy_wh"], "Wh", "as much energy", units),
        },
    )


def _when(run: Mapping[str, Any]) -> tuple[Any, Any]:
    return run["start"], run["minutes"]


def _more(change: float, unit: str, same: str, units: UnitSettings | None) -> str:
    if abs(change) < LEAST_TOLD_L:
        return same
    return f"{quantity(abs(change), unit, units)} {'less' if change < 0 else 'more'}"
