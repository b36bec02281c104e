"""`halocline control` and `halocline safe`: the process that keeps the plant safe, and its last resort."""

import argparse
from typing import Any

from halocline.app import last_words
from halocline.app.boards import CannotStart
from halocline.app.control import drive_safe, run_control, settings_for
from halocline.app.paths import socket_in
from halocline.cli.errors import Unusable
from halocline.cli.process_options import add_common, add_process, data_of, socket_of
from halocline.config import ConfigError


def add_parser(subparsers: Any) -> None:
    """Add the commands."""
    control = subparsers.add_parser("control", help="the process that keeps the plant safe")
    add_process(control)
    control.add_argument("--group", help="group that may use the socket")
    control.set_defaults(handler=_control)
    safe = subparsers.add_parser(
        "safe",
        help="drive every output to its safe side and exit",
        description="Drives every output to its safe side and exits: pumps off, product overboard, flush valve shut. "
        "For a computer on which control does not run: a control that runs holds the outputs itself, and is ended by "
        "halocline stop or its service.",
    )
    add_common(safe)
    safe.add_argument("--simulated", action="store_true", help="on the simulated boat that runs here")
    safe.set_defaults(handler=_safe)


def _control(arguments: argparse.Namespace) -> int:
    try:
        settings = settings_for(arguments.config, simulated=arguments.simulated, quick=arguments.quick)
        return run_control(
            settings,
            data_dir=data_of(arguments),
            socket_path=socket_of(arguments),
            sea_path=socket_in(data_of(arguments), "sea") if arguments.simulated else None,
            group=arguments.group,
        )
    except ConfigError as error:
        said = [str(problem) for problem in error.problems]
        last_words.leave(socket_of(arguments), said)
        raise Unusable(said) from error
    except CannotStart as error:
        raise Unusable(str(error)) from error


def _safe(arguments: argparse.Namespace) -> int:
    simulated_sea = socket_in(data_of(arguments), "sea") if arguments.simulated else None
    try:
        drive_safe(arguments.config, simulated_sea=simulated_sea)
    except ConfigError as error:
        raise Unusable(str(problem) for problem in error.problems) from error
    except CannotStart as error:
        raise Unusable(str(error)) from error
    print("every output is on its safe side")
    return 0
