"""`halocline run`: everything at once."""

import argparse
from typing import Any

from halocline.app.kept import kept_line
from halocline.app.locks import AlreadyRuns
from halocline.app.os_errors import in_words
from halocline.app.paths import SYSTEM_CONFIG
from halocline.app.supervisor import Plan, Supervisor, free_port
from halocline.cli.errors import Unusable
from halocline.cli.process_options import add_common, data_of, port, say
from halocline.config import problems_in

DEFAULT_PORT = 8080


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    run = subparsers.add_parser("run", help="run everything and print the page's address")
    add_common(run)
    run.add_argument("--simulated", action="store_true", help="on a simulated boat: no hardware needed")
    run.add_argument("--quick", action="store_true", help="simulated, with a tenth of the time and water")
    run.add_argument("--port", type=port, default=None, help=f"port of the page (default {DEFAULT_PORT})")
    run.set_defaults(handler=_run)


def _run(arguments: argparse.Namespace) -> int:
    if arguments.quick and not arguments.simulated:
        raise Unusable("--quick is for a simulated boat: add --simulated")
    _refuse_broken(arguments)
    try:
        wanted = arguments.port or DEFAULT_PORT
        page_port = free_port(wanted, search=arguments.simulated)
        said = [] if page_port == wanted else [f"Another program has port {wanted}: the page takes {page_port}."]
        data_dir = data_of(arguments)
        said += [kept_line(data_dir)] if arguments.simulated else []
        plan = Plan(arguments.config, data_dir, page_port, arguments.simulated, arguments.quick, greeting=said)
        return Supervisor(plan, say).run()
    except AlreadyRuns as error:
        raise Unusable(str(error)) from error
    except OSError as error:
        raise Unusable(in_words(error)) from error


def _refuse_broken(arguments: argparse.Namespace) -> None:
    if arguments.config is None and arguments.simulated:
        return
    problems = problems_in(arguments.config or SYSTEM_CONFIG, simulated=arguments.simulated)
    if problems:
        raise Unusable(str(problem) for problem in problems)
