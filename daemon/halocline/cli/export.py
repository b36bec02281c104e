"""`halocline export`: the record as CSV or JSON Lines, a line at a time."""

import argparse
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from halocline.cli import record_place
from halocline.cli.errors import Unusable
from halocline.cli.moments import moment
from halocline.cli.progress import Progress
from halocline.report.database_open import StoreError
from halocline.report.export import FORMATS, TABLES, Selection, rows
from halocline.report.journal import Journal, Run


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser("export", help="the record as CSV or JSON Lines")
    parser.add_argument(
        "what",
        nargs="?",
        default="samples",
        choices=list(TABLES),
        metavar="WHAT",
        help=f"one of {', '.join(TABLES)} (samples: every second)",
    )
    record_place.add_arguments(parser)
    parser.add_argument("--format", choices=list(FORMATS), default="csv", help="csv or jsonl (csv)")
    parser.add_argument("--from", dest="from_s", type=moment, metavar="TIME", help="2026-07-01, 2026-07-01T08:30, -2h")
    parser.add_argument("--to", dest="to_s", type=moment, metavar="TIME", help="the same; now")
    parser.add_argument("--run", metavar="RUN", help="only what belongs to this run: its number, its id, or last")
    parser.add_argument("--output", "-o", type=Path, metavar="FILE", help="a file instead of standard output")
    parser.set_defaults(handler=_export)


def _export(arguments: argparse.Namespace) -> int:
    record = record_place.record_to_read(arguments)
    if arguments.run is not None and (arguments.from_s is not None or arguments.to_s is not None):
        raise Unusable("give either --run or a span with --from and --to")
    try:
        run = None if arguments.run is None else _run(Journal(record), arguments.run)
        selection = Selection(arguments.what, arguments.from_s, arguments.to_s, run)
        if arguments.output is None:
            _write(FORMATS[arguments.format](rows(record, selection)), sys.stdout.fileno())
            return 0
        with Progress(f"{arguments.what} → {arguments.output.name}") as progress:
            _write(FORMATS[arguments.format](rows(record, selection, progress)), arguments.output)
    except StoreError as error:
        raise Unusable(str(error), exit_status=1) from error
    except BrokenPipeError:
        raise
    except OSError as error:
        raise Unusable(f"{arguments.output or 'standard output'}: {error.strerror}", exit_status=1) from error
    return 0


def _run(journal: Journal, name: str) -> Run:
    run = next(iter(journal.runs(1)), None) if name == "last" else journal.run(name)
    if run is None:
        raise Unusable(f"there is no run {name} in the record; halocline runs lists them", exit_status=1)
    return run


def _write(lines: Iterable[str], target: Path | int) -> None:
    with open(target, "w", encoding="utf-8", newline="", closefd=isinstance(target, Path)) as file:
        file.writelines(lines)
