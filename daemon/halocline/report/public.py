"""From the link's live snapshot, ids and numbers only, to the one people and programs get, with its words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal, cast

from halocline import __version__
from halocline.link.snapshot import FlushAloneNow, OwedNow, PurgeNow, ReadingNow, StampedSnapshot
from halocline.plant import words
from halocline.plant.alarms import PRIORITY_ORDER, part_of
from halocline.plant.command_definitions import COMMANDS
from halocline.plant.settings import UnitSettings
from halocline.plant.vocabulary import Quality
from halocline.report import texts
from halocline.report.conditions import LINK_IDS, Condition, not_running
from halocline.report.journal import Run
from halocline.report.public_types import (
    FlushAlone,
    Framed,
    LastKnown,
    Owed,
    PassedOn,
    PublicAlarm,
    PublicAsk,
    PublicSnapshot,
    Purge,
)
from halocline.report.run_sheet import facts, story

SCHEMA: Literal[1] = 1
LOST_AFTER_S = 3.0

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


def snapshot(now: StampedSnapshot | None, age_s: float | None, frame: Frame) -> PublicSnapshot:
    """The public snapshot. `now` is the newest from the link and `age_s` how long ago it came; older than
    `LOST_AFTER_S`, or none at all, and every value is None and the last known ones stand under `last`."""
    if now is not None and age_s is not None and age_s <= LOST_AFTER_S:
        return {**_live(now, age_s, frame), "last": None}
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


def run_sheet_message(run: Run, units: UnitSettings) -> dict[str, Any]:
    """The same with what its sheet says."""
    told = [{"name": name, "text": text} for name, text in facts(run, units)]
    return {**run_message(run, units), "story": story(run, units), "facts": told}


def _frame(frame: Frame, link: Literal["live", "lost"], age_s: float | None) -> Framed:
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
        "units": {
            "pressure": frame.units.pressure,
            "volume": frame.units.volume,
            "temperature": frame.units.temperature,
            "salt": frame.units.salt,
        },
    }


def _passed_on(now: Mapping[str, Any]) -> PassedOn:
    return cast(PassedOn, {name: now.get(name) for name in PassedOn.__annotations__})


def _live(now: StampedSnapshot, age_s: float, frame: Frame) -> LastKnown:
    units, wall_s, refused = frame.units, now["wall_s"], now["refused"]
    return {
        **_frame(frame, "live", age_s),
        "simulated": now["simulated"],
        "time": iso(wall_s),
        **_passed_on(now),
        "owed": _owed(now["owed"], units),
        "flush_alone": _flush_alone(now["flush_alone"], now["wall_s"], units),
        "sentence": words.sentence(now, units),
        "run_takes_wh": _run_takes_wh(now),
        "ask": _ask(now, units),
        "readings": now["readings"],
        "contacts": now["contacts"],
        "derived": now["derived"],
        "outputs": now["outputs"],
        "alarms": _alarms(now, units),
        "out_of_service": [
            {
                "id": aside["alarm"],
                "name": words.alarm_name(aside["alarm"]),
                "who": aside["who"],
                "why": aside["why"],
                "since": iso(aside["wall_s"]),
            }
            for aside in now["out_of_service"]
        ],
        "allowed_commands": now["allowed"],
        "refused": {command: reason_texts(reasons, units) for command, reasons in refused.items()},
        "refused_ids": {command: [reason["id"] for reason in reasons] for command, reasons in refused.items()},
        "given_reasons": [
            {"id": key, "means": words.given_reason_text(key), "why": why} for key, why in now["given_reasons"].items()
        ],
        "questions": [{"id": question, "text": words.question_text(question)} for question in now["questions"]],
        "last": None,
    }


def _run_takes_wh(now: Mapping[str, Any]) -> float | None:
    power_w = (now.get("limits") or {}).get("pump_power_w")
    left_s = (now.get("run") or {}).get("remaining_s")
    return None if left_s is None or power_w is None else round(power_w * left_s / 3600, 1)


def _ask(now: StampedSnapshot, units: UnitSettings) -> PublicAsk | None:
    ask = words.asked(now)
    if ask is None:
        return None
    text = words.ask(ask, now["sentence"]["values"], units)
    return {"id": ask, "text": text, "place": words.ask_place(now, units)}


def _owed(owed: OwedNow | None, units: UnitSettings) -> Owed | None:
    if owed is None:
        return None
    return {"flush": owed["flush"], "chlorine": owed["chlorine"], "purge": _purge(owed["purge"], units)}


def _purge(purge: PurgeNow | None, units: UnitSettings) -> Purge | None:
    if purge is None:
        return None
    return {
        "of": purge["of"],
        "also": purge["also"],
        "rinsed_l": purge["rinsed_l"],
        "rinse_l": purge["rinse_l"],
        "left_s": purge["left_s"],
        "confirm": purge["confirm"],
        "named": ", ".join(words.purge_name(kind) for kind in (purge["of"], *purge["also"])),
        "tests": [{"id": test, "text": words.end_test_text(test)} for test in purge["tests"]],
        "not_now": reason_texts(purge["not_now"], units),
    }


def _flush_alone(alone: FlushAloneNow | None, wall_s: float | None, units: UnitSettings) -> FlushAlone | None:
    if alone is None:
        return None
    consent, next_s = alone["consent"], alone["next_s"]
    return {
        "flush_l": alone["flush_l"],
        "tank_percent": alone["tank_percent"],
        "next_s": next_s,
        "notice_left_s": alone["notice_left_s"],
        "by": None if consent is None else consent["name"],
        "until": None if consent is None else iso(consent["until_wall_s"]),
        "left_l": None if consent is None else consent["left_l"],
        "failures": 0 if consent is None else consent["failures"],
        "next": None if wall_s is None or next_s is None else iso(wall_s + next_s),
        "not_now": reason_texts(alone["not_now"], units),
    }


def _alarms(now: StampedSnapshot, units: UnitSettings) -> list[PublicAlarm]:
    told: list[PublicAlarm] = []
    wall_s, drive = now["wall_s"], now["drive"]
    for alarm in sorted(now["alarms"], key=lambda alarm: _PRIORITIES.get(alarm["priority"], len(_PRIORITIES))):
        means, ignored, remedy = words.alarm_texts(
            alarm["id"], alarm["values"], units, pump=str(drive and drive["pump"]), state=alarm["state"]
        )
        told.append(
            {
                "id": alarm["id"],
                "name": words.alarm_name(alarm["id"]),
                "state": alarm["state"],
                "priority": alarm["priority"],
                "since": None if wall_s is None else iso(wall_s - alarm["since_s"]),
                "since_s": alarm["since_s"],
                "values": alarm["values"],
                "under": alarm["under"],
                "part": part_of(alarm["id"]),
                "means": means,
                "ignored": ignored,
                "do": remedy,
            }
        )
    return told


def _lost(last: LastKnown | None, age_s: float | None, frame: Frame) -> PublicSnapshot:
    known: Mapping[str, Any] = last or {}
    said = next((condition for condition in frame.conditions if condition.id in LINK_IDS), not_running(age_s))
    return {
        **_frame(frame, "lost", age_s),
        "time": None,
        **_passed_on({}),
        "owed": None,
        "flush_alone": None,
        "sentence": f"{said.means} {said.do}",
        "run_takes_wh": None,
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


def _unknown(reading: ReadingNow) -> ReadingNow:
    return {"value": None, "raw": None, "unit": reading["unit"], "quality": Quality.STALE, "age_s": None}
