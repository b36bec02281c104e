"""`halocline duties` and `halocline stores`: what is due by hand, what is aboard, what the next harbour has to give."""

import argparse
import json
import time
from collections.abc import Callable, Mapping
from typing import Any

from halocline.cli import record_place
from halocline.cli.errors import Unusable
from halocline.plant import words
from halocline.report.database_open import StoreError
from halocline.report.duties.latest import WorkAhead
from halocline.report.health.latest import Latest

Said = Mapping[str, Any]


def add_parser(subparsers: Any) -> None:
    """Add both commands."""
    for name, says, ask, lines in (
        (
            "duties",
            "what is due by hand: due, soon, done, by whom, with what reading",
            WorkAhead.duties,
            words.duties_lines,
        ),
        ("stores", "spares aboard, and the shopping list for the next harbour", WorkAhead.stores, words.stores_lines),
    ):
        parser = subparsers.add_parser(name, help=says)
        record_place.add_arguments(parser)
        parser.add_argument("--json", action="store_true", help="as JSON")
        parser.set_defaults(handler=_asking(ask, lines))


def _asking(ask: Callable[..., Said], lines: Callable[[Said], list[str]]) -> Callable[[argparse.Namespace], int]:
    def tell(arguments: argparse.Namespace) -> int:
        try:
            said = ask(WorkAhead(Latest()), record_place.record_to_read(arguments), time.time())
        except StoreError as error:
            raise Unusable(str(error), exit_status=1) from error
        for line in [json.dumps(said, ensure_ascii=False, indent=2)] if arguments.json else lines(said):
            print(line)
        return 0

    return tell
