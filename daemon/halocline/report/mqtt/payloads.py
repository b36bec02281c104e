"""What is published, as plain values; and time as people and programs read it."""

import json
import math
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.report.public import iso

SCHEMA = 1

Payload = Mapping[str, Any]


def encode(payload: Payload) -> bytes:
    """As JSON; a number that is not finite becomes null, for it says nothing."""
    return json.dumps(_finite(payload), ensure_ascii=False, separators=(",", ":"), default=str).encode()


def seconds(text: Any) -> float | None:
    """ISO 8601 with its offset as Unix seconds; None for anything else."""
    if not isinstance(text, str):
        return None
    try:
        moment = datetime.fromisoformat(text)
        return None if moment.tzinfo is None else moment.timestamp()
    except (ValueError, OverflowError):
        return None


def envelope(boat: str, public: Payload | None, time: str | None) -> dict[str, Any]:
    """What every payload carries; `public` is the snapshot it belongs to, if any."""
    known = public or {}
    return {
        "schema": SCHEMA,
        "boat": boat,
        "simulated": known.get("simulated"),
        "boot": known.get("boot"),
        "seq": known.get("seq"),
        "time": time,
    }


def status(head: Payload, *, online: bool, events_dropped: int, commands_dropped: Mapping[str, int]) -> Payload:
    """Whether a process speaks for the plant, and what could not be passed on since the start."""
    return {
        **head,
        "status": "online" if online else "offline",
        "events_dropped": events_dropped,
        "commands_dropped": dict(commands_dropped),
    }


def last_will(boat: str) -> bytes:
    """What the broker says once nobody speaks for the plant any more."""
    return encode(status(envelope(boat, None, None), online=False, events_dropped=0, commands_dropped={}))


def alarm(head: Payload, alarm: Payload) -> Payload:
    """One alarm with its words. How long it stands is left to `since`, so that the payload changes only with it."""
    keys = ("id", "state", "priority", "since", "values", "under", "means", "ignored", "do")
    return {**head, **{key: alarm.get(key) for key in keys}}


def event(head: Payload, boot: str, event: Payload, units: UnitSettings) -> Payload:
    """What happened, with a sentence where ids alone say little; its own boot, number and time."""
    own = {"boot": boot, "time": iso(event.get("wall_s")), "text": _text(event, units)}
    return {**head, **{key: value for key, value in event.items() if key != "wall_s"}, **own}


def answer(
    head: Payload, command: str | None, nonce: str | None, *, accepted: bool, reasons: list[dict[str, str]]
) -> Payload:
    """What became of a command; `reasons` are {id, text}, of an accepted one what there is to say about it."""
    return {**head, "command": command, "nonce": nonce, "accepted": accepted, "reasons": reasons}


def health(said: Payload) -> Payload:
    """How the plant ages: the four figures with their 80 % interval, and the likeliest story. `said` is the answer of
    `halocline health --json`, of which the rest is left there."""
    top = said["patterns"][0] if words.tells_something(said) else None
    found = said["finding"]
    return {
        "at": said["at"],
        "running_hours": said["running_hours"],
        "text": words.health_sentence(said),
        "story": None if top is None else {"name": top["name"], "confidence": top["confidence"]},
        "told": found is not None and found["aside"] is None,
        "aside": None if found is None else found["aside"],
        "ask": said["ask"],
        "quantities": {name: _figure(told) for name, told in said["quantities"].items()},
    }


def _figure(told: Payload) -> Payload:
    banded = ("change", "rate_per_100h", "reached_in_h", "reached_on")
    figure = {key: told[key] for key in ("enough", "why", "unit")} | {"threshold": told.get("threshold")}
    for key in banded:
        figure[key] = {part: told[key][part] for part in ("estimate", "i80")} if key in told else None
    return figure


def duties(said: Payload) -> Payload:
    """What is due by hand, and what soon: reminders, of which the rest is left to `halocline duties --json`."""
    kept = ("duty", "name", "state", "because", "text")
    pressing = [
        # A day, not a moment: what is foreseen moves a little every minute, and would be told anew each time.
        {**{key: each[key] for key in kept}, "due": {"on": each["due"]["at"][:10], "basis": each["due"]["basis"]}}
        for each in said["duties"]
        if each["state"] in ("overdue", "due", "soon")
    ]
    return {"text": said["sentence"], "duties": pressing}


def plan(told: Payload) -> Payload:
    """The next run that is planned, null where none is; `missing` says why there is no plan."""
    answer = told.get("answer") or {}
    first = next(iter(answer.get("runs") or ()), None)
    keys = ("start", "minutes", "litres_to_tank", "energy_wh", "why")
    return {
        "text": told["says"],
        "feasible": answer.get("feasible"),
        "until": answer.get("to"),
        "run": None if first is None else {key: first[key] for key in keys},
        "missing": list(told["missing"]),
    }


def _text(event: Payload, units: UnitSettings) -> str | None:
    kind = event.get("kind")
    if kind == "alarm":
        return words.alarm_texts(str(event.get("id")), event.get("values") or {}, units)[0]
    if kind == "state":
        why = event.get("why")
        reason = f" {words.reason(dict(why), units)}" if isinstance(why, Mapping) else ""
        return f"Now {words.state_name(str(event.get('to')))}.{reason}"
    return None


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return value
