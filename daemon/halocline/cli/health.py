"""`halocline health`: how membrane, filters, pump and sensors are, and when that ends."""

import argparse
import json
from pathlib import Path
from typing import Any

from halocline.cli import boat_units, record_place
from halocline.cli.errors import Unusable
from halocline.cli.moments import moment
from halocline.physics.errors import OutOfRange, Unsolvable
from halocline.plant import words
from halocline.report.database_open import StoreError, reading
from halocline.report.health.answer import answer
from halocline.report.health.seen import seen


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser("health", help="how membrane, filters, pump and sensors age, and when that ends")
    record_place.add_arguments(parser)
    parser.add_argument("--at", type=moment, metavar="TIME", help="as if it were then: nothing later is looked at")
    parser.add_argument("--config", type=Path, metavar="F", help="configuration file, for the boat's units")
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.set_defaults(handler=_health)


def _health(arguments: argparse.Namespace) -> int:
    try:
        with reading(record_place.record_to_read(arguments)) as connection:
            has = seen(connection, arguments.at)
    except StoreError as error:
        raise Unusable(str(error), exit_status=1) from error
    try:
        said = answer(has)
    except (OutOfRange, Unsolvable) as error:
        raise Unusable(f"the settings on record allow no comparison: {error}", exit_status=1) from error
    if arguments.json:
        print(json.dumps(said, ensure_ascii=False, indent=2))
        return 0
    for line in words.health_lines(said, boat_units.units_of(arguments.config)):
        print(line)
    return 0
