"""What alarms say: what it means, what happens if ignored, what to do."""

from collections.abc import Mapping, Sequence
from typing import Any

from halocline.plant.alarms import DEFINITIONS, Effect
from halocline.plant.settings import UnitSettings
from halocline.plant.words.alarm_names import alarm_text
from halocline.plant.words.cut_off import cut_off_said
from halocline.plant.words.filling import LONGEST, fill, sentence_case
from halocline.plant.words.units import number_of
from halocline.plant.words.why_texts import WHY_TEXTS

SENSOR_FAULT = "sensor_fault_"
THEN_RESET = "Then acknowledge and reset."
SEEN_THEN_RESET = "Then reset."
SEEN = frozenset({"acknowledged", "latched"})
"""States of an alarm that was acknowledged: nobody is asked for that again."""
SWITCH_OFF = "Switch the high-pressure pump off at its own switch first."
"""Where no relay of ours could do it."""

LATCHED_WITHOUT_ROW = frozenset({"latch_unreadable", "control_failed"})
"""Trips that no condition judges."""


def is_trip(alarm_id: str) -> bool:
    """Whether the alarm switches off all that is switched and waits for a reset."""
    return alarm_id in LATCHED_WITHOUT_ROW or (alarm_id in DEFINITIONS and DEFINITIONS[alarm_id].latched)


def is_stop(alarm_id: str) -> bool:
    """Whether the alarm ends a run in good order."""
    return alarm_id in DEFINITIONS and DEFINITIONS[alarm_id].effect is Effect.STOP


def brief(alarm_id: str, values: Mapping[str, Any], units: UnitSettings | None = None) -> str:
    """What was noticed, with its numbers, as a clause."""
    return fill(alarm_text(alarm_id, values).brief, _completed(alarm_id, values, units), units)


def _completed(alarm_id: str, values: Mapping[str, Any], units: UnitSettings | None) -> Mapping[str, Any]:
    """The values with what they imply: the channel in a sensor fault's id, the words of a reason behind the alarm."""
    completed = dict(values)
    if alarm_id.startswith(SENSOR_FAULT):
        completed.setdefault("channel", alarm_id.removeprefix(SENSOR_FAULT))
    if "during" in values:
        completed |= cut_off_said(values)
    why = WHY_TEXTS.get(str(values.get("why")))
    if why is not None:
        completed["why_said"] = fill(why, values, units)
    return completed


def alarm_texts(
    alarm_id: str,
    values: Mapping[str, Any],
    units: UnitSettings | None = None,
    *,
    pump: str = "relay",
    state: str = "unacknowledged",
) -> tuple[str, str, str]:
    """What the alarm means with its numbers, what happens if it is ignored, and what to do.

    `values` as control gives them; with `since_s`, the seconds since it was raised, the first text says so too.
    `pump` is who switches the high-pressure pump, as in the settings; `state` is the alarm's.
    """
    text = alarm_text(alarm_id, values)
    noticed = sentence_case(brief(alarm_id, values, units))
    means = joined(
        noticed,
        fill(text.means, _completed(alarm_id, values, units), units),
        fill("Noticed {since_s} ago.", values, units) if (number_of(values.get("since_s")) or 0.0) >= 1.0 else "",
    )
    steps = text.do
    if pump == "watch_only" and (is_trip(alarm_id) or is_stop(alarm_id)) and not text.breaker:
        steps = joined(SWITCH_OFF, steps)
    last_step = SEEN_THEN_RESET if state in SEEN else THEN_RESET
    return means, text.ignored, joined(steps, last_step if is_trip(alarm_id) else "")


def joined(*parts: str, room: int = LONGEST) -> str:
    """The parts one after another, as many as there is room for: what can be read at once."""
    return " ".join(fitting(parts, room))


def fitting(parts: Sequence[str], room: int = LONGEST) -> list[str]:
    """Those of the parts, one after another, for which there is room."""
    fits: list[str] = []
    for part in parts:
        if part and len(" ".join([*fits, part])) <= room:
            fits.append(part)
    return fits
