"""How the plant ages, in words: what each figure means, what may have happened, what would tell for certain."""

from collections.abc import Mapping, Sequence
from typing import Any

from halocline.plant.settings import UnitSettings
from halocline.plant.words.units import UNKNOWN, quantity

QUANTITY_NAMES: Mapping[str, str] = {
    "flow": "product flow",
    "salt_passage": "salt passage",
    "pressure_drop": "pressure drop of the element",
    "filter_drop": "pressure drop of the filters",
}
STORIES: Mapping[str, str] = {
    "nothing": "Nothing is wrong with the membrane that its record shows.",
    "fouling": "The membrane is fouling: less water passes, and no more salt. Clean it, alkaline first, then acid.",
    "scaling": "Scale is growing: less water passes, and more salt. Clean with acid soon, and recover less.",
    "membrane_damage": "The membrane lets more salt through than it did: look at the O-rings, then think of chlorine.",
    "worn_pump": "The high-pressure pump delivers less than it did: seals, valves, or air in the suction.",
    "conductivity_drift": "The conductivity cell has drifted; the membrane may be sound. Calibrate the cell.",
    "pressure_drift": "The membrane pressure sender has drifted. Compare it with the gauge, at rest and at work.",
    "flow_meter_drift": "The product flow meter reads low; the membrane may be sound. Measure a bucket against it.",
    "prefilter": "The pre-filters are nearly full: change the cartridges.",
    "sea_salinity": "The sea is saltier or fresher than the settings say. Enter the salinity of today's sea.",
}
STORY_NAMES: Mapping[str, str] = {
    "nothing": "nothing wrong",
    "fouling": "fouling",
    "scaling": "scale",
    "membrane_damage": "a damaged membrane",
    "worn_pump": "a worn pump",
    "conductivity_drift": "a drifted conductivity cell",
    "pressure_drift": "a drifted pressure sender",
    "flow_meter_drift": "a drifted flow meter",
    "prefilter": "full pre-filters",
    "sea_salinity": "another sea",
}

HAND_METER = "a hand meter's reading of the product, beside the cell's (log it as hand_meter --us-cm)"
BUCKET = "a bucket filled by the clock, against the product meter (log it as bucket_test)"
GAUGE = "the mechanical gauge against the membrane pressure, at rest and at work (log it as gauge_read)"
REFRACTOMETER = "the salinity of the sea, by refractometer or hydrometer (log it as sea_salinity --g-kg --by)"
TELLS: Mapping[frozenset[str], str] = {
    frozenset({"membrane_damage", "conductivity_drift"}): HAND_METER,
    frozenset({"scaling", "conductivity_drift"}): HAND_METER,
    frozenset({"nothing", "conductivity_drift"}): HAND_METER,
    frozenset({"nothing", "membrane_damage"}): HAND_METER,
    frozenset({"fouling", "flow_meter_drift"}): BUCKET,
    frozenset({"nothing", "flow_meter_drift"}): BUCKET,
    frozenset({"nothing", "fouling"}): BUCKET,
    frozenset({"fouling", "pressure_drift"}): GAUGE,
    frozenset({"flow_meter_drift", "pressure_drift"}): GAUGE,
    frozenset({"nothing", "pressure_drift"}): GAUGE,
    frozenset({"scaling", "sea_salinity"}): REFRACTOMETER,
    frozenset({"fouling", "sea_salinity"}): REFRACTOMETER,
    frozenset({"nothing", "sea_salinity"}): REFRACTOMETER,
    frozenset({"worn_pump", "sea_salinity"}): REFRACTOMETER,
}
"""Two stories that look alike → the measurement that tells them apart."""

SIGNALS: Mapping[str, tuple[str, str]] = {
    "flow": ("product flow on the reference day", "%"),
    "salt": ("product salt on the reference day", "%"),
    "drop": ("pressure drop of the element", "bar"),
    "zero": ("zero of the membrane pressure sender", "bar"),
    "feed": ("feed flow by both meters", "%"),
    "tank": ("rise of the tank against the product meter", "%"),
    "hand": ("conductivity cell against the hand meter", "%"),
    "bucket": ("product meter against the bucket", "%"),
    "gauge": ("membrane pressure against the gauge", "bar"),
    "sea": ("salinity of the sea as read, against the settings", "g/kg"),
}

LIKELY, SURE = 0.5, 0.8


def tells_apart(one: str, other: str) -> str | None:
    """The measurement that would tell two stories apart; None where no single one does."""
    return TELLS.get(frozenset({one, other}))


def evidence_text(signal: str, change: float, doubt: float) -> str:
    """What a signal did while the story ran, and whether that is more than its noise. Shares for those told in per
    cent, bar for the others."""
    name, unit = SIGNALS[signal]
    scale, digits = (100.0, 1) if unit == "%" else (1.0, 2)
    if abs(change) < 1.5 * doubt:
        return f"{name} did not move (within {scale * doubt:.{digits}f} {unit})"
    verb = "rose" if change > 0 else "fell"
    return f"{name} {verb} by {abs(scale * change):.{digits}f} {unit} (± {scale * doubt:.{digits}f})"


def tells_something(said: Mapping[str, Any]) -> bool:
    """Whether the record is enough for the likeliest story. Where nothing is known yet, nothing is called well."""
    patterns = said["patterns"]
    known = any(told["enough"] for told in said["quantities"].values())
    return bool(patterns) and (known or patterns[0]["name"] != "nothing")


def health_sentence(said: Mapping[str, Any]) -> str:
    """The story in one sentence, as sure as it is."""
    patterns: Sequence[Mapping[str, Any]] = said["patterns"]
    if not tells_something(said):
        return "The record does not tell yet how the plant is."
    top = patterns[0]
    if top["confidence"] >= SURE:
        return STORIES[top["name"]]
    others = [STORY_NAMES[each["name"]] for each in patterns if each["confidence"] >= 0.1]
    return f"Not certain yet: it may be {' or '.join(others)}." if others else "What has changed fits no one story."


def finding_text(said: Mapping[str, Any]) -> str:
    """What is told unasked."""
    return STORIES[said["finding"]["name"]]


def health_figures(said: Mapping[str, Any], units: UnitSettings) -> list[tuple[str, str, str]]:
    """Each figure: its name, what it is now, and how fast it goes and when it ends."""
    return [_figure(name, told, units) for name, told in said["quantities"].items()]


def health_evidence(said: Mapping[str, Any]) -> list[str]:
    """What speaks for the likeliest story."""
    return [each["text"] for pattern in said["patterns"][:1] for each in pattern["evidence"]]


def health_lines(said: Mapping[str, Any], units: UnitSettings) -> list[str]:
    """The answer as a page of text."""
    used, aside = said["runs"]["used"], len(said["runs"]["set_aside"])
    lines = [
        health_sentence(said),
        f"After {said['running_hours']:.0f} running hours; {used} steady runs used, {aside} set aside.",
        "",
    ]
    for name, now, end in health_figures(said, units):
        lines += [f"{name}: {now}"] + ([f"  {end}"] if end else [])
    if evidence := health_evidence(said):
        lines += ["", "Why:", *(f"  - {each}" for each in evidence)]
    if (found := said["finding"]) and (aside := found["aside"]):
        lines += ["", f"Put aside by {aside['who'] or 'a person'} until it changes: {aside['reason']}"]
    if said["ask"]:
        lines += ["", f"What would tell: {said['ask']}."]
    return lines


def _figure(name: str, told: Mapping[str, Any], units: UnitSettings) -> tuple[str, str, str]:
    title = QUANTITY_NAMES[name].capitalize()
    if not told["enough"]:
        return title, f"not known yet, {told['why']}", ""
    change, rate = told["change"], told["rate_per_100h"]
    now = f"{_amount(name, change['estimate'], units)} (80 % sure of {_between(name, change['i80'], units)})"
    pace = f"{_amount(name, rate['estimate'], units)} in 100 h ({_between(name, rate['i80'], units)})"
    better = told.get("narrowed_by")
    return title, now, f"{pace}; {_end(name, told, units)}" + (f"; twice as sure with {better}" if better else "")


def _amount(name: str, value: float, units: UnitSettings) -> str:
    if name in ("flow", "salt_passage"):
        return f"{100 * value:+.1f} %"
    return quantity(value, "bar", units)


def _between(name: str, pair: Sequence[float], units: UnitSettings) -> str:
    return f"{_amount(name, pair[0], units)} to {_amount(name, pair[1], units)}"


def _end(name: str, told: Mapping[str, Any], units: UnitSettings) -> str:
    threshold = _amount(name, told["threshold"], units)
    hours, dates = told["reached_in_h"], told["reached_on"]
    if hours["estimate"] == 0.0:
        return f"{threshold} is reached"
    if hours["estimate"] is None:
        soonest = hours["i90"][0]
        return f"{threshold} is not in sight" + ("" if soonest is None else f", at the soonest in {soonest:.0f} h")
    late = UNKNOWN if hours["i80"][1] is None else f"{hours['i80'][1]:.0f}"
    when = f", {dates['estimate']}" if dates["estimate"] else ""
    return f"{threshold} in {hours['estimate']:.0f} h ({hours['i80'][0]:.0f} to {late}){when}"
