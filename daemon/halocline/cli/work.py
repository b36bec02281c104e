"""`halocline log`: note work done by hand, and read what was noted."""

import argparse
import json
from typing import Any

from halocline.cli import line, record_place
from halocline.cli.errors import Unusable
from halocline.cli.orders import give
from halocline.plant.vocabulary import LOG_KINDS
from halocline.report.journal import Journal
from halocline.report.opening import StoreError
from halocline.report.public import iso


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "log",
        help="note work done by hand, or list it",
        usage="halocline log [add KIND [NOTE …]] [--alarm ID] [--data DIR] [--json]",
        description=f"Kinds that the plant understands: {', '.join(LOG_KINDS)}. "
        "Without arguments: what was noted. Control has to run to take a note, because some work changes "
        "what it owes the membrane.",
    )
    parser.add_argument("words", nargs="*", metavar="add KIND NOTE", help="what was done, and in your words")
    parser.add_argument("--alarm", metavar="ID", help="the alarm that is taken out of service or put back")
    line.add_arguments(parser)
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.set_defaults(handler=_log)


def _log(arguments: argparse.Namespace) -> int:
    given = arguments.words[1:] if arguments.words[:1] == ["add"] else arguments.words
    if given:
        of = {"alarm": arguments.alarm} if arguments.alarm else {}
        return give(arguments, "log", {"kind": given[0], "note": " ".join(given[1:]), **of})
    if arguments.words:
        raise Unusable(f"say what was done: halocline log add KIND [NOTE], such as {LOG_KINDS[0]}")
    return _list(arguments)


def _list(arguments: argparse.Namespace) -> int:
    try:
        done = Journal(record_place.record_to_read(arguments)).work()
    except StoreError as error:
        raise Unusable(str(error), exit_status=1) from error
    if arguments.json:
        entries = [
            {
                "time": iso(work.wall_s),
                "kind": work.kind,
                "note": work.note,
                "who": work.who,
                "counters": dict(work.counters),
            }
            for work in done
        ]
        print(json.dumps({"work": entries}, ensure_ascii=False, indent=2))
        return 0
    for work in done:
        moment = (iso(work.wall_s) or "unknown time")[:16].replace("T", " ")
        print(f"{moment:16}  {work.kind:18}  {work.note}{f'  ({work.who})' if work.who else ''}")
    if not done:
        print("Nothing was noted yet.")
    return 0
