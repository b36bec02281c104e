"""Reasons in words: why a command is refused, why a run ended, why the plant went on to another state, what is wrong
with its wiring."""

from collections.abc import Mapping
from typing import Any

from halocline.plant.settings import UnitSettings
from halocline.plant.words import names
from halocline.plant.words.alarm_names import ALARM_TEXTS, alarm_text
from halocline.plant.words.alarms import brief, joined
from halocline.plant.words.calibration_texts import CALIBRATION_TEXTS
from halocline.plant.words.filling import fill, sentence_case, shortened
from halocline.plant.words.refusal_texts import REFUSAL_TEXTS
from halocline.plant.words.why_texts import WHY_TEXTS
from halocline.plant.words.wiring_texts import WIRING_TEXTS

Reason = Mapping[str, Any]


def parts_of(message: Any) -> tuple[str, Mapping[str, Any]]:
    """Id and values of a reason or sentence as the link carries it; empty ones for anything else."""
    if not isinstance(message, Mapping):
        return "", {}
    values = message.get("values")
    return str(message.get("id") or ""), values if isinstance(values, Mapping) else {}


def reason(reason: Reason, units: UnitSettings | None = None) -> str:
    """One line for a reason ``{"id", "values"}``: what is wrong and what helps, or why something happened."""
    identifier, values = parts_of(reason)
    if identifier in REFUSAL_TEXTS:
        return fill(REFUSAL_TEXTS[identifier].whole, values, units)
    for texts in (WIRING_TEXTS, CALIBRATION_TEXTS):
        if identifier in texts:
            return sentence_case(fill(texts[identifier], values, units))
    said = shortened(sentence_case(clause(identifier, values, units)))
    return joined(said, alarm_text(identifier, values).look) if identifier in ALARM_TEXTS else said


def reason_alone(reason: Reason, units: UnitSettings | None = None) -> str:
    """What happened, in one sentence without what helps: for what is past."""
    return shortened(sentence_case(clause(*parts_of(reason), units)))


def clause(identifier: str, values: Mapping[str, Any], units: UnitSettings | None = None) -> str:
    """The same as a clause to build a sentence with, fit to follow "because"."""
    if identifier in ALARM_TEXTS:
        return brief(identifier, values, units)
    if identifier in WHY_TEXTS:
        return fill(WHY_TEXTS[identifier], values, units)
    if identifier in REFUSAL_TEXTS:
        wrong = fill(REFUSAL_TEXTS[identifier].wrong, values, units).rstrip(".")
        return f"{wrong[:1].lower()}{wrong[1:]}"
    return f"the plant says “{names.plain(identifier)}”" if identifier else "the reason is unknown"
