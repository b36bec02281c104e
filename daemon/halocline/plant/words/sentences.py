"""The one sentence: what the plant does, why, and what it waits for; and what it asks of people."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from halocline.plant.settings import UnitSettings
from halocline.plant.thresholds import GONE_BAR
from halocline.plant.words import names
from halocline.plant.words.alarm_names import ALARM_TEXTS, alarm_text
from halocline.plant.words.alarm_text import AlarmText
from halocline.plant.words.alarms import fitting, is_trip
from halocline.plant.words.cut_off import computer_in_short, cut_off_said
from halocline.plant.words.filling import LONGEST, fill, sentence_case, shortened
from halocline.plant.words.owed_texts import leading, trailing
from halocline.plant.words.reasons import clause, parts_of, reason
from halocline.plant.words.units import number_of

Values = Mapping[str, Any]

A_MINUTE_IN_DAYS = 1 / 1440
"""What was laid up for less was laid up just now."""

OVERBOARD = "Product goes overboard: "


class AskPlace(StrEnum):
    """Where in the sentence its request stands. END: nothing follows it, so it can be shown by itself."""

    APART = "apart"
    START = "start"
    WITHIN = "within"
    END = "end"


SENTENCE_TEXTS: Mapping[str, str] = {
    "standby_ready": "At rest, ready to start.[ {why_said:said}]",
    "standby_owed": "At rest.[ {owed_said:said}][ {why_said:said}]",
    "standby_locked": "Locked by {name}: {reason}. Nothing will start until the lock is taken away.",
    "standby_open_regulator": "At rest. Control was cut off {during_said:said}. Open the regulator fully, "
    "re-arm relays that dropped out, then acknowledge.",
    "standby_flush_coming": "At rest. A flush begins by itself in {seconds}: press the button at the plant, or Stop, "
    "and it does not.",
    "standby_refused": "At rest. Cannot start: {reason_said:said}[ {more_said:said}]",
    "priming_waiting": "Filling the suction: pump inlet pressure is {pressure_bar}, waiting for {limit_bar}.",
    "priming": "Driving the air out: pump inlet pressure is {pressure_bar}, steady for {held_s} of {seconds}.",
    "priming_after_opening": "Driving the air out, longer because the circuit was opened: pump inlet pressure is "
    "{pressure_bar}, steady for {held_s} of {seconds}.",
    "switch_pump_on": "The sea water supply is good. Switch the high-pressure pump on now.",
    "rinsing": "Rinsing {of} out without pressure: {litres} of {target_l}. Leave the regulator open.",
    "rinsing_open_regulator": "Open the regulator fully: {of} is rinsed out without pressure, {litres} of {target_l} "
    "so far. Pressure is {pressure_bar}.",
    "raise_pressure": "Close the regulator slowly, {rate_bar_s}, to {target_bar}. Now {pressure_bar}.[ {faster}]",
    "raise_slower": "Slower: pressure rises too fast. Close the regulator by {rate_bar_s} at most, to {target_bar}. "
    "Now {pressure_bar}.[ {faster}]",
    "pressure_settling": "Pressure is {pressure_bar}. Hands off the regulator, waiting until it is steady. Product "
    "goes overboard.",
    "pressure_building": "Pressure builds up: {pressure_bar}[ of {target_bar}]. Product goes overboard.",
    "diverting_holding": OVERBOARD + "salt is {tds_mg_l}, within the limit. The tank opens in {left_s} if it stays so.",
    "diverting_sensor_not_good": OVERBOARD + "the sensor for {channel} is not good. Check its plug and cable.",
    "diverting_no_product_flow": OVERBOARD + "flow is {flow_l_h}, a dry probe cannot be believed below {limit_l_h}. "
    "Check the product line.",
    "diverting_tds_high": OVERBOARD
    + "salt is {tds_mg_l}, the tank opens at {limit_mg_l} or less. Waiting for it to fall.",
    "diverting_tds_foreseen": OVERBOARD
    + "salt is {tds_mg_l} and rises, {foreseen_mg_l} is foreseen. The tank opens at {limit_mg_l} or less.",
    "diverting_tds_noisy": OVERBOARD
    + "the salt reading jumps about by {noise_mg_l}, too much to judge. Look for air at the probe, check its cable.",
    "diverting_tds_above_accept": OVERBOARD + "salt is {tds_mg_l}. The tank opens at {limit_mg_l} or less, held for "
    "{seconds}.",
    "diverting_tds_rising": OVERBOARD
    + "salt is {tds_mg_l} and still rising. The tank opens when it has been steady for "
    "{seconds}.",
    "diverting_tds_too_good": OVERBOARD + "{tds_mg_l} of salt is too good to be believed[, expected {expected_mg_l}]. "
    "Check the probe with a hand meter.",
    "diverting_pressure_moving": OVERBOARD + "the pressure is still moving. Hands off the regulator.",
    "diverting_no_working_pressure": OVERBOARD + "the pressure is too low to make water. Waiting for working pressure.",
    "diverting_first_water": OVERBOARD + "the first litres are not judged[; {litres} more must pass].",
    "diverting_purge_running": OVERBOARD + "{of} is being washed out, {seconds} to go. Do not drink this water.",
    "diverting_purge_to_confirm": OVERBOARD + "{of} should be washed out. Test what flows: {tests}. Then confirm.",
    "diverting_no_water_yet": OVERBOARD + "no water is made yet. Waiting for pressure and flow.",
    "producing": "Making water into the tank: {litres}[ of {target_l}][, about {remaining_s} left].[ {salt_said:said}]",
    "stopping": "Stopping: {why_said:said}. Product goes overboard, the pressure is going[, now {membrane_bar}].",
    "stopping_open_regulator": "Stopping: {why_said:said}. Open the regulator fully, then the pump stops[; now "
    "{membrane_bar}].",
    "flushing_waiting": "Flush waits until the pressure is gone[, now {pressure_bar}].",
    "flushing": "Flushing with fresh water: [{about:said}]{litres} of {target_l}[{unmeasured:said}].",
    "flushing_alone": "Flushing with fresh water by itself: [{about:said}]{litres} of {target_l}[{unmeasured:said}].",
    "laid_up": "Laid up[ with {of}][ for {days}]. It will not run until it is recommissioned.",
    "hand_run": "The pump is run by its own switch: {pressure_bar}. Product goes overboard. Stop does not reach it: "
    "switch it off there.",
    "bench": "Trying an output[: {output}]. Stand clear of pumps and valves.",
}
"""Templates as in `filling`."""

STATE_SENTENCES: Mapping[str, str] = {
    "standby": "At rest.",
    "priming": "Filling the suction and driving the air out.",
    "pressurising": "Pressure builds up. Product goes overboard.",
    "diverting": "Product goes overboard until its salt is proven to be within the limit.",
    "producing": "Making water into the tank.",
    "stopping": "Stopping. Product goes overboard, the pressure is going.",
    "flushing": "Flushing with fresh water.",
    "tripped": "Safety stop. Look at the alarms.",
    "laid_up": "Laid up. It will not run until it is recommissioned.",
    "hand_run": "The pump is run by its own switch. Product goes overboard.",
    "bench": "An output is being tried.",
}
"""What can be said when only the state is understood."""

NOTHING_KNOWN = "What the plant is doing is not known. Look at the plant and its gauge."

ASK_TEXTS: Mapping[str, str] = {
    "open_regulator": "Open the regulator fully.",
    "raise_pressure": "Close the regulator slowly[, {rate_bar_s}][, to {target_bar}].[ {faster}]",
    "switch_pump_on": "Switch the high-pressure pump on now.",
    "switch_pump_off": "Switch the high-pressure pump off now, at its own switch.",
    "rearm_relay": "Re-arm the relays at the plant by hand if they have dropped out; until then nothing runs.",
    "still_there": "Still there? Press the button at the plant or answer on the page[ within {answer_left_s}].",
}

ADDED_ASKS: Mapping[str, str] = {
    "standby_ready": "rearm_relay",
    "standby_owed": "rearm_relay",
    "stopping": "switch_pump_off",
    "flushing": "open_regulator",
    "flushing_waiting": "open_regulator",
}
"""Sentences that do not speak of what may be asked meanwhile."""


ASKING: Mapping[str, tuple[str, AskPlace]] = {
    "standby_open_regulator": ("open_regulator", AskPlace.WITHIN),
    "switch_pump_on": ("switch_pump_on", AskPlace.END),
    "rinsing_open_regulator": ("open_regulator", AskPlace.START),
    "raise_pressure": ("raise_pressure", AskPlace.START),
    "stopping_open_regulator": ("open_regulator", AskPlace.WITHIN),
}
"""Sentences whose own words are, or have in them, what is asked."""


NOT_ASKED_MEANWHILE: Mapping[str, str] = {"pressure_settling": "raise_pressure"}
"""Sentences that say the opposite of what is asked in their state in general."""


def asked(now: Mapping[str, Any]) -> str | None:
    """What people are asked at this moment, by id; None where the sentence says to leave just that alone."""
    asks = now.get("ask")
    against = NOT_ASKED_MEANWHILE.get(parts_of(now.get("sentence"))[0])
    return None if asks is None or asks == against else str(asks)


def ask(ask_id: str | None, values: Values | None = None, units: UnitSettings | None = None) -> str | None:
    """What only a person can do now, as a request; None when nothing is asked."""
    if not ask_id:
        return None
    return fill(ASK_TEXTS.get(ask_id, f"Please: {names.literal(names.plain(ask_id))}."), values or {}, units)


def sentence(now: Mapping[str, Any], units: UnitSettings | None = None) -> str:
    """The sentence of a live snapshot ``{"state", "sentence": {"id", "values"}, …}``. Never raises.

    Whatever is owed has its room in it: the rest is shortened to fit.
    """
    return " ".join(_composed(now, units))


def ask_place(now: Mapping[str, Any], units: UnitSettings | None = None) -> AskPlace:
    """Where in the sentence of this snapshot the request stands that `ask` gives."""
    asks = now.get("ask")
    identifier, values = parts_of(now.get("sentence"))
    pieces, request = _composed(now, units), ask(asks, values, units)
    own, place = ASKING.get(identifier, ("", AskPlace.APART))
    if request in pieces:
        at = pieces.index(str(request))
        return AskPlace.END if at == len(pieces) - 1 else AskPlace.START if at == 0 else AskPlace.WITHIN
    if own != asks:
        return AskPlace.APART
    return place if place is not AskPlace.END or len(pieces) == 1 else AskPlace.WITHIN


def _composed(now: Mapping[str, Any], units: UnitSettings | None) -> list[str]:
    """The pieces of the sentence that fit, in their order."""
    identifier, values = parts_of(now.get("sentence"))
    owed = "" if identifier == "standby_owed" else trailing(now, identifier)
    room = LONGEST - len(owed) - 1 if owed else LONGEST
    parts = _parts(identifier, now, values, units)
    return [*fitting([shortened(parts[0], room), *parts[1:]], room), *([owed] if owed else [])]


def _parts(identifier: str, now: Mapping[str, Any], values: Values, units: UnitSettings | None) -> list[str]:
    """What the sentence says, the most important first."""
    if identifier == "tripped":
        return _tripped(now, values, units)
    if identifier not in SENTENCE_TEXTS:
        return [STATE_SENTENCES.get(str(now.get("state")), NOTHING_KNOWN)]
    said = fill(SENTENCE_TEXTS[identifier], {**values, **_said(identifier, now, values, units)}, units)
    if now.get("ask") == "still_there":
        return [ask("still_there", values, units) or "", said]
    if identifier == "standby_open_regulator":
        return [said, computer_in_short(values)]
    asked = ADDED_ASKS.get(identifier)
    return [said, (ask(asked, values, units) or "") if asked and asked == now.get("ask") else ""]


def _said(identifier: str, now: Mapping[str, Any], values: Values, units: UnitSettings | None) -> dict[str, Any]:
    """What a sentence says besides its numbers, in words already."""
    if identifier == "standby_open_regulator":
        return dict(cut_off_said(values))
    if identifier.startswith("standby"):
        return {
            "owed_said": leading(now),
            "why_said": _last_end(now, values, units),
            "reason_said": reason({"id": values.get("reason"), "values": values}, units),
            "more_said": _more(values.get("more")),
        }
    if identifier.startswith("stopping"):
        return {"why_said": clause(str(values.get("why") or ""), values, units)}
    if identifier in ("flushing", "flushing_alone"):
        measured = values.get("measured") is True
        return {"about": "" if measured else "about ", "unmeasured": "" if measured else ", not measured"}
    if identifier == "laid_up" and (number_of(values.get("days")) or 0.0) < A_MINUTE_IN_DAYS:
        return {"days": None}
    if identifier == "producing":
        return {"salt_said": _salt(now, values, units)}
    if identifier == "diverting_first_water" and (number_of(values.get("litres")) or 0.0) < 0.05:
        return {"litres": None}
    return {}


def _last_end(now: Mapping[str, Any], values: Values, units: UnitSettings | None) -> str | None:
    """Why the plant came to rest: the first cause of the last stop if there was one, else the last step."""
    first_out, why = now.get("first_out"), values.get("why")
    if isinstance(first_out, str) and first_out in ALARM_TEXTS:
        known = [of_alarm for identifier, of_alarm in _alarms(now) if identifier == first_out]
        if known or why == first_out:
            return f"The last run was stopped: {clause(first_out, known[0] if known else values, units)}."
        return f"The last run was stopped: {names.lower_start(ALARM_TEXTS[first_out].name)}."
    if not isinstance(why, str) or not why:
        return None
    told = clause(why, values, units)
    # After a reset nothing is wrong any more: a cause alone would read like one that stands.
    return f"The last run was stopped: {told}." if why in ALARM_TEXTS else sentence_case(told)


def _alarms(now: Mapping[str, Any]) -> list[tuple[str, Values]]:
    alarms = now.get("alarms")
    return [parts_of(alarm) for alarm in alarms] if isinstance(alarms, list | tuple) else []


def _salt(now: Mapping[str, Any], values: Values, units: UnitSettings | None) -> str:
    """The salt against the limit that opens the tank; between that and the one that closes it, both numbers."""
    limits = now.get("limits")
    limit = number_of(limits.get("accept_tds_mg_l")) if isinstance(limits, Mapping) else None
    tds_mg_l = number_of(values.get("tds_mg_l"))
    if limit is None or tds_mg_l is None:
        return fill("[Salt is {tds_mg_l}.]", values, units)
    if tds_mg_l <= limit:
        return fill("Salt is {tds_mg_l}, within the limit.", values, units)
    return fill("Salt is {tds_mg_l}, a little over {limit_mg_l}.", {**values, "limit_mg_l": limit}, units)


def _more(more: Any) -> str | None:
    number = number_of(more)
    if number is None or number < 1:
        return None
    return "One more thing to put right." if number < 2 else f"{min(int(number), 99)} more things to put right."


def _tripped(now: Mapping[str, Any], values: Values, units: UnitSettings | None) -> list[str]:
    cause, values = _cause(now, values)
    standing = _still_there(now, cause)
    # What still stands is looked after first, whatever came first.
    first = cause if cause in standing else next(iter(standing), cause)
    said = shortened(f"Safety stop: {clause(cause, values, units)}.")
    text = alarm_text(first, values if first == cause else None)
    look = text.look if first in ALARM_TEXTS else "Look at the alarms."
    switch_off = ask("switch_pump_off") if now.get("ask") == "switch_pump_off" else None
    left, still = _pressure_left(values, text, units), _told_still_there(cause, standing)
    if still and cause not in standing:
        return [said, switch_off or "", still, look, left]
    return [said, switch_off or "", look, left, still or _next_step(now)]


def _cause(now: Mapping[str, Any], values: Values) -> tuple[str, Values]:
    """The first cause; after a restart that no longer knows it, the most pressing trip that stands."""
    cause = str(values.get("cause") or "")
    if cause in ALARM_TEXTS:
        return cause, values
    for identifier, of_alarm in _alarms(now):
        if is_trip(identifier):
            return identifier, {**of_alarm, "membrane_bar": values.get("membrane_bar")}
    return cause, values


def _pressure_left(values: Values, first: AlarmText, units: UnitSettings | None) -> str:
    pressure_bar = number_of(values.get("membrane_bar"))
    if pressure_bar is None and "membrane_bar" in values:
        return "The pressure at the membrane is not known: read the gauge."
    if pressure_bar is None or pressure_bar <= GONE_BAR:
        return ""
    advice = "" if first.opens_regulator else ": open the regulator"
    return fill(f"Still {{membrane_bar}} at the membrane{advice}.", values, units)


def _still_there(now: Mapping[str, Any], cause: str) -> tuple[str, ...]:
    """The causes that speak against a reset, by id; the first cause where they are not named."""
    refused = now.get("refused")
    against = refused.get("reset") if isinstance(refused, Mapping) else None
    for item in against if isinstance(against, list | tuple) else ():
        identifier, values = parts_of(item)
        if identifier == "cause_still_there":
            return tuple(str(values.get("causes") or cause).split(", "))
    return ()


def _told_still_there(cause: str, standing: tuple[str, ...]) -> str:
    if not standing:
        return ""
    if standing == (cause,):
        return "The cause is still there."
    return fill("Still there: {causes}.", {"causes": ", ".join(standing)})


def _next_step(now: Mapping[str, Any]) -> str:
    allowed = now.get("allowed")
    may_reset = isinstance(allowed, list | tuple) and "reset" in allowed
    return "Then reset." if may_reset else "Then acknowledge and reset."
