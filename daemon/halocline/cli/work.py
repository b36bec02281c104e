"""`halocline log`: note work done by hand, and read what was noted, calibrated, or happened at all."""

import argparse
import json
from collections.abc import Sequence
from typing import Any

from halocline.cli import boat_units, line, record_place
from halocline.cli.errors import Unusable
from halocline.cli.orders import give
from halocline.plant import words
from halocline.plant.command_definitions import Log
from halocline.plant.purges import ORDER
from halocline.plant.readings import ALL, UNITS
from halocline.plant.vocabulary import LOG_KINDS
from halocline.plant.words.moments import minute_of, second_of
from halocline.report.database_open import StoreError
from halocline.report.journal import MAX_LISTED, Happened, Journal, Work
from halocline.report.public import iso

ONE_OF_MANY = ("finding", "duty", "part")
"""Arguments that say which of many an entry is about."""


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "log",
        help="note work done by hand, or list it",
        usage="halocline log [add KIND [NOTE …] [--alarm ID] [--step ID] [--confirmed TEST …] "
        "[--us-cm N] [--sample-c N] [--litres N] [--seconds N] [--bar N] [--g-kg N --by WAY] [--finding ID] "
        "[--mg-l N] [--contact-h N] [--duty ID [--measured N] [--expected N]] [--part ID --aboard N [--minimum N]]] "
        "[--events] [--limit N] [--data DIR] [--json]",
        description=f"Kinds that the plant understands: {', '.join(LOG_KINDS)}. "
        "Without arguments: what was noted and calibrated. Control has to run to take a note, because some work "
        "changes what it owes the membrane.",
    )
    parser.add_argument("words", nargs="*", metavar="add KIND NOTE", help="what was done, and in your words")
    parser.add_argument(
        "--confirmed",
        nargs="+",
        metavar="TEST",
        help="with commissioned --step safety: the points of the safety list; with purge_confirmed: the end tests you "
        "have done, in their order: " + ", ".join(f"{test} ({words.end_test_name(test)})" for test in ORDER),
    )
    parser.add_argument("--step", metavar="ID", help="with commissioned: the step of the commissioning that is done")
    for name in ALL:
        argument = Log.definition.arguments[name]
        typed = f"--{name.replace('_', '-')}"
        if name in UNITS:
            parser.add_argument(typed, type=float, metavar=UNITS[name].split(" ")[0] or "N", help=argument.doc)
        else:
            parser.add_argument(typed, choices=argument.choices, help=argument.doc)
    for name in ONE_OF_MANY:
        one = Log.definition.arguments[name]
        parser.add_argument(f"--{name}", choices=one.choices, metavar="ID", help=one.doc)
    parser.add_argument("--alarm", metavar="ID", help="the alarm that is taken out of service or put back")
    line.add_arguments(parser)
    parser.add_argument("--events", action="store_true", help="all that happened, with who ordered it")
    parser.add_argument("--limit", type=int, default=50, metavar="N", help="how many to list (50)")
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.set_defaults(handler=_log)


def _log(arguments: argparse.Namespace) -> int:
    given = arguments.words[1:] if arguments.words[:1] == ["add"] else arguments.words
    if given:
        note, alarm, step = " ".join(given[1:]), arguments.alarm or None, arguments.step or None
        readings = {name: getattr(arguments, name) for name in ALL}
        order = Log(
            kind=given[0],
            note=note,
            alarm=alarm,
            confirmed=arguments.confirmed,
            step=step,
            **{name: getattr(arguments, name) for name in ONE_OF_MANY},
            **readings,
        )
        return give(arguments, order)
    if arguments.words:
        raise Unusable(f"say what was done: halocline log add KIND [NOTE], such as {LOG_KINDS[0]}")
    return _list(arguments)


def _list(arguments: argparse.Namespace) -> int:
    limit = max(1, min(arguments.limit, MAX_LISTED))
    try:
        journal = Journal(record_place.record_to_read(arguments))
        if arguments.events:
            return _tell_events(journal.events(limit), arguments)
        return _tell_work(journal.work(limit), journal.calibrations(limit), limit, as_json=arguments.json)
    except StoreError as error:
        raise Unusable(str(error), exit_status=1) from error


def _tell_events(events: Sequence[Happened], arguments: argparse.Namespace) -> int:
    units = boat_units.units_of(arguments.config)
    told = [(event, text) for event in events if (text := words.event_text(event.body, units)) is not None]
    if arguments.json:
        listed = [{"time": iso(event.wall_s), "text": text, **event.body} for event, text in told]
        print(json.dumps({"events": listed}, ensure_ascii=False, indent=2))
        return 0
    _print(
        [(second_of(event.wall_s), text, _by(event.body.get("who"), event.body.get("origin"))) for event, text in told],
        "Nothing has happened yet.",
    )
    return 0


def _tell_work(work: Sequence[Work], calibrations: Sequence[Work], limit: int, *, as_json: bool) -> int:
    if as_json:
        entries = [
            {
                "time": iso(one.wall_s),
                "kind": one.kind,
                "note": one.note,
                "details": dict(one.details),
                "who": one.who,
                "counters": dict(one.counters),
            }
            for one in work
        ]
        calibrated = [{"time": iso(one.wall_s), "who": one.who, **one.details} for one in calibrations]
        print(json.dumps({"work": entries, "calibrations": calibrated}, ensure_ascii=False, indent=2))
        return 0
    noted = [(one, words.entry_note(one.note, one.details)) for one in work]
    lines = [(one, f"{words.work_name(one.kind)}{f': {note}' if note else ''}") for one, note in noted]
    lines += [(one, words.event_text({**one.details, "kind": "calibration"}) or "") for one in calibrations]
    newest = sorted(lines, key=lambda line: line[0].order, reverse=True)[:limit]
    _print([(minute_of(one.wall_s), text, _by(one.who)) for one, text in newest], "Nothing was noted yet.")
    return 0


def _print(lines: Sequence[tuple[str, str, str]], nothing: str) -> None:
    """When, what, and who."""
    if not lines:
        print(nothing)
        return
    width = max(len(when) for when, _, _ in lines)
    print(f"{'time':{width}}  what, and who")
    for when, text, by in lines:
        print(f"{when:{width}}  {text}{by}")


def _by(who: str | None, origin: str | None = None) -> str:
    named = ", ".join(name for name in (who, None if origin is None else words.origin_name(origin)) if name)
    return f"  ({named})" if named else ""
