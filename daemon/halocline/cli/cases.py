"""`halocline cases`: each trip, stop by a cause and diversion, and what was noted after it."""

import argparse
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from halocline.cli import boat_units, record_place
from halocline.cli.errors import Unusable
from halocline.plant import words
from halocline.plant.alarms import DEFINITIONS
from halocline.plant.settings import UnitSettings
from halocline.plant.words.moments import minute_of
from halocline.report.cases import Case, Noted, cases
from halocline.report.database_open import StoreError
from halocline.report.journal import MAX_LISTED
from halocline.report.public import iso


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    told = "what tripped, stopped or diverted, what it brought with it, and what was noted after it"
    parser = subparsers.add_parser("cases", help=told)
    parser.add_argument("alarm", nargs="?", metavar="ALARM", help="only those that began with this alarm: its id")
    record_place.add_arguments(parser)
    parser.add_argument("--config", type=Path, metavar="F", help="configuration file, for the boat's units")
    parser.add_argument("--limit", type=int, default=20, metavar="N", help="how many to list (20)")
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.set_defaults(handler=_cases)


def _cases(arguments: argparse.Namespace) -> int:
    alarm = arguments.alarm
    if alarm is not None and not (alarm in DEFINITIONS and DEFINITIONS[alarm].makes_a_case):
        known = ", ".join(row.id for row in DEFINITIONS.values() if row.makes_a_case)
        raise Unusable(f"no case begins with {alarm!r}; name one of {known}")
    units = boat_units.units_of(arguments.config)
    try:
        found = cases(record_place.record_to_read(arguments), max(1, min(arguments.limit, MAX_LISTED)), arguments.alarm)
    except StoreError as error:
        raise Unusable(str(error), exit_status=1) from error
    if arguments.json:
        print(json.dumps({"cases": [_message(case, units) for case in found]}, ensure_ascii=False, indent=2))
        return 0
    for line in [line for case in found for line in _lines(case, units)] or ["No case so far."]:
        print(line)
    return 0


def _meaning(case: Case, units: UnitSettings) -> str:
    return words.alarm_texts(case.alarm, case.values, units)[0]


def _message(case: Case, units: UnitSettings) -> dict[str, Any]:
    return {
        "time": iso(case.wall_s),
        "boot": case.boot,
        "seq": case.seq,
        "alarm": case.alarm,
        "text": _meaning(case, units),
        "values": dict(case.values),
        "followers": case.followers,
        "noted": [{"time": iso(one.wall_s), "kind": one.kind, "note": one.note, "who": one.who} for one in case.noted],
    }


def _lines(case: Case, units: UnitSettings) -> Iterator[str]:
    yield f"{minute_of(case.wall_s)}  {words.alarm_name(case.alarm)}: {_meaning(case, units)}"
    if case.followers:
        yield f"    brought with it: {', '.join(words.alarm_name(alarm) for alarm in case.followers)}"
    for one in case.noted:
        yield f"    noted {minute_of(one.wall_s)}: {_noted(one)}"


def _noted(one: Noted) -> str:
    said = f"{words.work_name(one.kind)}{f': {one.note}' if one.note else ''}"
    return f"{said} ({one.who})" if one.who else said
