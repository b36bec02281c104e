"""`halocline sea`: the simulated boat behind `run --simulated`."""

import argparse
from typing import Any

from halocline.app.control import settings_for
from halocline.app.locks import AlreadyRuns
from halocline.app.os_errors import in_words
from halocline.app.paths import socket_in
from halocline.app.plant_simulator import run_sea
from halocline.cli.errors import Unusable
from halocline.cli.process_options import add_process, data_of, socket_of
from halocline.config import ConfigError


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    sea = subparsers.add_parser("sea", help="the simulated boat behind `run --simulated`")
    add_process(sea)
    sea.set_defaults(handler=_sea)


def _sea(arguments: argparse.Namespace) -> int:
    arguments.simulated = True
    try:
        settings = settings_for(arguments.config, simulated=True, quick=arguments.quick)
        return run_sea(
            settings,
            quick=arguments.quick,
            board_path=socket_in(data_of(arguments), "sea"),
            control_path=socket_of(arguments),
        )
    except ConfigError as error:
        raise Unusable(str(problem) for problem in error.problems) from error
    except AlreadyRuns as error:
        raise Unusable(str(error)) from error
    except OSError as error:
        raise Unusable(in_words(error)) from error
