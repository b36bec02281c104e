"""What happened, one line each: the events of the record as people read them in a log."""

from collections.abc import Callable, Mapping
from typing import Any

from halocline.plant.readings import UNITS
from halocline.plant.settings import UnitSettings
from halocline.plant.words import names
from halocline.plant.words.alarm_names import alarm_name
from halocline.plant.words.commissioning_texts import step_name
from halocline.plant.words.cut_off import cut_off_said
from halocline.plant.words.duty_texts import duty_name, part_name
from halocline.plant.words.fault_texts import fault_text
from halocline.plant.words.filling import fill, shortened
from halocline.plant.words.health_texts import STORY_NAMES
from halocline.plant.words.reasons import clause, parts_of, reason
from halocline.plant.words.units import quantity

Event = Mapping[str, Any]

TOLD_BY_THEIR_OWN_EVENT = frozenset({"log", "calibrate"})
"""Commands that leave an event of their own when they are accepted; the command itself would only say it again."""

RUN_STARTED = "A run began[, {litres} wanted][, {minutes} wanted]."
RUN_ENDED = "The run ended[ after {seconds}]: {why:said}."
FLUSHED = "Flushed[ with {litres}]."
FLUSH_BROKEN_OFF = "The flush was broken off[ after {litres}]."
FLUSH_CALLED_OFF = "The flush by itself was called off: {why:said}."
AUTOMATIC_FLUSH: Mapping[str, str] = {
    "announced": "A flush by itself was announced: {why:said}.",
    "consent_ended": "The consent to flushes by themselves is over: {why:said}.",
}
CALIBRATED = "Calibrated: {channel}[ ({initials:text})]."
AS_CONFIGURED = "Reads by the configuration again: {channel}[ ({initials:text})]."
STARTED_AGAIN = "Control was started again[ within {away_s}][; {computer_said:said}]."
CUT_OFF = "Control had been cut off {during_said:said}. It was started again[ within {away_s}][; {computer_said:said}]."
CONTROL_FAILED = "The control program failed: {error:long}. Everything was switched off."


def event_text(event: Event, units: UnitSettings | None = None) -> str | None:
    """One line for an event of the record; None where another event says the same."""
    told = _KINDS.get(str(event.get("kind")), _unknown)
    text = told(event, units)
    return None if text is None else shortened(text)


def _state(event: Event, units: UnitSettings | None) -> str:
    identifier, values = parts_of(event.get("why"))
    return f"{_begun(names.state_name(str(event.get('to'))))}: {clause(identifier, values, units)}."


def _command(event: Event, units: UnitSettings | None) -> str | None:
    command, reasons = str(event.get("command")), event.get("reasons")
    ordered = f"{_begun(names.command_name(command))}{_of_what(_of(event, 'arguments'))}"
    if event.get("accepted"):
        return None if command in TOLD_BY_THEIR_OWN_EVENT else f"{ordered}: accepted."
    if not isinstance(reasons, list | tuple) or not reasons:
        return f"{ordered} was refused: no reason was given."
    return f"{ordered} was refused: {reason(reasons[0], units)}"


def _of_what(arguments: Mapping[str, Any]) -> str:
    named = next((told(str(arguments[key])) for key, told in _NAMED_IN_A_COMMAND.items() if arguments.get(key)), "")
    ended = ", ended" if named and arguments.get("clear") is True else ""
    return f" ({named}{ended})" if named else ""


def _alarm(event: Event, _units: UnitSettings | None) -> str:
    under = event.get("under")
    with_another = f" ({alarm_name(str(under))})" if under else ""
    return f"Alarm “{alarm_name(str(event.get('id')))}”: {names.alarm_state_name(str(event.get('to')))}{with_another}."


def _run_started(event: Event, units: UnitSettings | None) -> str:
    run = _of(event, "run")
    return fill(RUN_STARTED, {**_of(run, "why"), "litres": run.get("target_l")}, units)


def _run_ended(event: Event, units: UnitSettings | None) -> str:
    run = _of(event, "run")
    return fill(RUN_ENDED, {**run, "why": clause(*parts_of(run.get("why")), units)}, units)


def _flush_ended(event: Event, units: UnitSettings | None) -> str:
    return fill(FLUSHED if event.get("complete") else FLUSH_BROKEN_OFF, event, units)


def _automatic_flush(event: Event, units: UnitSettings | None) -> str:
    said = {"why": clause(*parts_of(event.get("why")), units)}
    return fill(AUTOMATIC_FLUSH.get(str(event.get("what")), FLUSH_CALLED_OFF), said, units)


def _log(event: Event, _units: UnitSettings | None) -> str:
    what = names.work_name(str(event.get("what")))
    wrote = names.typed(event["note"], LONGEST_NOTE) if event.get("note") else ""
    told = ": ".join(part for part in (what, entry_note(wrote, event)) if part)
    return told if wrote else f"{told}."


def entry_note(note: str, details: Mapping[str, Any]) -> str:
    """What an entry of the log is about, what was read, and what the person wrote, in one line."""
    about = [told(str(details[key])) for key, told in _ABOUT.items() if details.get(key)]
    return ": ".join(part for part in (*about, _readings(details.get("readings")), note) if part)


_ABOUT: Mapping[str, Callable[[str], str]] = {
    "step": step_name,
    "finding": lambda finding: STORY_NAMES.get(finding, finding),
    "duty": duty_name,
    "part": part_name,
}
"""What an entry may be about, and how that is called."""


SALINITY_WAYS: Mapping[str, str] = {
    "refractometer": "by refractometer",
    "hydrometer": "by hydrometer",
    "published": "published for the region",
}


def _readings(readings: object) -> str:
    if not isinstance(readings, Mapping):
        return ""
    numbers = ", ".join(
        quantity(readings[name], unit) if unit else f"{name} {quantity(readings[name], '')}"
        for name, unit in UNITS.items()
        if name in readings
    )
    way = SALINITY_WAYS.get(str(readings.get("by")))
    return numbers if way is None else f"{numbers}, {way}"


def _calibration(event: Event, units: UnitSettings | None) -> str:
    return fill(AS_CONFIGURED if event.get("configured") else CALIBRATED, event, units)


def _restarted(event: Event, units: UnitSettings | None) -> str:
    said = {**event, **cut_off_said(event)}
    return fill(STARTED_AGAIN if event.get("ended") == "told" else CUT_OFF, said, units)


def _control_failed(event: Event, units: UnitSettings | None) -> str:
    return fill(CONTROL_FAILED, event, units)


def _unknown(event: Event, _units: UnitSettings | None) -> str:
    return f"{_begun(names.plain(event.get('kind')))}."


def _of(event: Event, key: str) -> Mapping[str, Any]:
    inner = event.get(key)
    return inner if isinstance(inner, Mapping) else {}


def _begun(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


LONGEST_NOTE = 180

_NAMED_IN_A_COMMAND: Mapping[str, Callable[[str], str]] = {
    "alarm": alarm_name,
    "fault": lambda fault: fault_text(fault).name,
    "output": names.output_name,
}
"""Arguments that say which of many a command is about; the first that is given is told."""

_KINDS: Mapping[str, Callable[[Event, UnitSettings | None], str | None]] = {
    "state": _state,
    "command": _command,
    "alarm": _alarm,
    "run_started": _run_started,
    "run_ended": _run_ended,
    "flush_ended": _flush_ended,
    "automatic_flush": _automatic_flush,
    "log": _log,
    "calibration": _calibration,
    "control_failed": _control_failed,
    "restarted": _restarted,
}
EVENT_KINDS = frozenset(_KINDS)
