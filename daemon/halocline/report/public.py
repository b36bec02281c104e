"""From the link's live snapshot, ids and numbers only, to the one people and programs get, with its words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from halocline import __version__
from halocline.plant import words
from halocline.plant.alarms import PRIORITY_ORDER
from halocline.plant.command_definitions import COMMANDS
from halocline.plant.settings import UnitSettings
from halocline.report import texts
from halocline.report.conditions import LINK_IDS, Condition, not_running
from halocline.report.journal import Run

SCHEMA = 1
LOST_AFTER_S = 3.0

Snapshot = dict[str, Any]

_PASSED_ON = (
    "boot",
    "seq",
    "uptime_s",
    "state",
    "since_s",
    "first_out",
    "run",
    "attendance",
    "locked",
    "limits",
    "drive",
)
_SAID_BY_THE_SENTENCE = frozenset({"control_down", "control_silent"})
_PRIORITIES = {priority.value: place for place, priority in enumerate(PRIORITY_ORDER)}


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands around every snapshot: the boat, its units, and what is wrong on the computer's side."""

    boat: str
    units: UnitSettings
    simulated: bool = False
    conditions: Sequence[Condition] = ()


def iso(wall_s: float | None) -> str | None:
    """Unix seconds as UTC ISO 8601 with milliseconds; None stays None."""
    if wall_s is None:
        return None
    try:
        moment = datetime.fromtimestamp(wall_s, UTC)
    except (ValueError, OverflowError, OSError):
        return None
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def snapshot(now: Mapping[str, Any] | None, age_s: float | None, frame: Frame) -> Snapshot:
    """The public snapshot. `now` is the newest from the link and `age_s` how long ago it came; older than
    `LOST_AFTER_S`, or none at all, and every value is None and the last known ones stand under `last`."""
    if now is not None and age_s is not None and age_s <= LOST_AFTER_S:
        return _live(now, age_s, frame)
    last = None if now is None else _live(now, 0.0, frame)
    return _lost(last, age_s, frame)


def reason_texts(reasons: Sequence[Mapping[str, Any]], units: UnitSettings) -> list[str]:
    """Each reason as a sentence with its remedy."""
    return [words.reason(dict(reason), units) for reason in reasons]


def run_message(run: Run, units: UnitSettings) -> dict[str, Any]:
    """A recorded run with its words."""
    return {
        "id": run.id,
        "run": run.run,
        "boot": run.boot,
        "started": iso(run.started_s),
        "ended": iso(run.ended_s),
        "going_on": run.why is None,
        "cut_off": run.cut_off,
        "asked": dict(run.asked),
        "target_l": run.target_l,
        "origin": run.origin,
        "who": run.who,
        "why": words.reason(dict(run.why), units) if run.why else None,
        "why_id": run.why["id"] if run.why else None,
        "first_out": run.first_out,
        **run.figures,
        "energy_basis": run.energy_basis,
        "energy_means": words.energy_basis(run.energy_basis),
    }


def _frame(frame: Frame, link: str, age_s: float | None) -> Snapshot:
    age = None if age_s is None else round(age_s, 2)
    return {
        "schema": SCHEMA,
        "boat": frame.boat,
        "simulated": frame.simulated,
        "link": {"control": link, "age_s": age},
        "problems": [
            line
            for condition in frame.conditions
            if condition.id not in _SAID_BY_THE_SENTENCE
            for line in condition.lines
        ],
        "conditions": [condition.message() for condition in frame.conditions],
        "version": __version__,
        "units": {name: getattr(frame.units, name) for name in ("pressure", "volume", "temperature", "salt")},
    }


def _told(condition: Condition) -> list[str]:
    return [] if condition.id in _SAID_BY_THE_SENTENCE else condition.lines


def _live(now: Mapping[str, Any], age_s: float, frame: Frame) -> Snapshot:
    units = frame.units
    wall_s = now.get("wall_s")
    ask = words.asked(now)
    asked_of = (now.get("sentence") or {}).get("values") or {}
    refused = now.get("refused") or {}
    return {
        **_frame(frame, "live", age_s),
        "simulated": bool(now.get("simulated", frame.simulated)),
        "time": iso(wall_s),
        **{name: now.get(name) for name in _PASSED_ON},
        "owed": _owed(now.get("owed"), units),
        "sentence": words.sentence(dict(now), units),
        "ask": None if ask is None else {"id": ask, "text": words.ask(ask, asked_of, units)},
        "readings": now.get("readings") or {},
        "contacts": now.get("contacts") or {},
        "derived": now.get("derived") or {},
        "outputs": now.get("outputs") or {},
        "alarms": _alarms(now, wall_s, units),
        "out_of_service": [
            {
                "id": aside["alarm"],
                "name": words.alarm_name(aside["alarm"]),
                "who": aside["who"],
                "why": aside["why"],
                "since": iso(aside["wall_s"]),
            }
            for aside in now.get("out_of_service") or ()
        ],
        "allowed_commands": list(now.get("allowed") or ()),
        "refused": {command: reason_texts(reasons, units) for command, reasons in refused.items()},
        "refused_ids": {command: [reason["id"] for reason in reasons] for command, reasons in refused.items()},
        "given_reasons": [
            {"id": key, "means": words.given_reason_text(key), "why": why}
            for key, why in (now.get("given_reasons") or {}).items()
        ],
        "questions": [
            {"id": question, "text": words.question_text(question)} for question in now.get("questions") or ()
        ],
        "last": None,
    }


def _owed(owed: Mapping[str, Any] | None, units: UnitSettings) -> Mapping[str, Any] | None:
    purge = (owed or {}).get("purge")
    if owed is None or purge is None:
        return owed
    tests = [{"id": test, "text": words.end_test_text(test)} for test in purge.get("tests") or ()]
    not_now = reason_texts(purge.get("not_now") or (), units)
    named = ", ".join(words.purge_name(kind) for kind in (purge["of"], *(purge.get("also") or ())))
    return {**owed, "purge": {**purge, "named": named, "tests": tests, "not_now": not_now}}


def _alarms(now: Mapping[str, Any], wall_s: float | None, units: UnitSettings) -> list[Mapping[str, Any]]:
    told: list[Mapping[str, Any]] = []
    pump = str((now.get("drive") or {}).get("pump"))
    for alarm in sorted(
        now.get("alarms") or (), key=lambda alarm: _PRIORITIES.get(alarm["priority"], len(_PRIORITIES))
    ):
        means, ignored, remedy = words.alarm_texts(
            alarm["id"], alarm.get("values") or {}, units, pump=pump, state=alarm["state"]
        )
        since_s = alarm.get("since_s")
        since = None if wall_s is None or since_s is None else iso(wall_s - since_s)
        told.append(
            {
                "id": alarm["id"],
                "name": words.alarm_name(alarm["id"]),
                "state": alarm["state"],
                "priority": alarm["priority"],
                "since": since,
                "since_s": since_s,
                "values": alarm.get("values") or {},
                "under": alarm.get("under"),
                "means": means,
                "ignored": ignored,
                "do": remedy,
            }
        )
    return told


def _lost(last: Snapshot | None, age_s: float | None, frame: Frame) -> Snapshot:
    known = last or {}
    said = next((condition for condition in frame.conditions if condition.id in LINK_IDS), not_running(age_s))
    return {
        **_frame(frame, "lost", age_s),
        "time": None,
        **dict.fromkeys(_PASSED_ON),
        "owed": None,
        "sentence": f"{said.means} {said.do}",
        "ask": None,
        "readings": {channel: _unknown(reading) for channel, reading in known.get("readings", {}).items()},
        "contacts": dict.fromkeys(known.get("contacts", ())),
        "derived": dict.fromkeys(known.get("derived", ())),
        "outputs": dict.fromkeys(known.get("outputs", ())),
        "alarms": None,
        "out_of_service": None,
        "allowed_commands": [],
        "refused": {command: [texts.COMMAND_NO_LINK] for command in COMMANDS},
        "refused_ids": {command: ["link_lost"] for command in COMMANDS},
        "given_reasons": [],
        "questions": [],
        "last": last,
    }


def _unknown(reading: Mapping[str, Any]) -> Mapping[str, Any]:
    return {"value": None, "raw": None, "unit": reading.get("unit"), "quality": "stale", "age_s": None}
