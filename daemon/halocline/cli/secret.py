"""`halocline pin`: set the PIN that the page asks for."""

import argparse
import getpass
import sys
from pathlib import Path
from typing import Any

from halocline.app.paths import SYSTEM_STATE, state_dir
from halocline.cli.errors import Unusable
from halocline.report.secrets import SecretsError, set_pin
from halocline.report.server import SECRETS_NAME

NO_TERMINAL = "no PIN was given: type it at a terminal, or hand it over in a line of its own: … | halocline pin"


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser("pin", help="set the PIN that the page asks for before it gives commands")
    parser.add_argument("--data", type=Path, metavar="DIR", help="data folder of the report process")
    parser.set_defaults(handler=_pin)


def _pin(arguments: argparse.Namespace) -> int:
    folder = arguments.data or (SYSTEM_STATE if SYSTEM_STATE.exists() else state_dir(simulated=False))
    try:
        set_pin(folder / SECRETS_NAME, _ask())
    except SecretsError as error:
        raise Unusable(str(error)) from error
    print("The PIN is set. Pages that are open have to enter it again.")
    return 0


def _ask() -> str:
    if sys.stdin is None or not sys.stdin.isatty():
        pin = sys.stdin.readline().strip() if sys.stdin is not None else ""
        if not pin:
            raise Unusable(NO_TERMINAL)
        return pin
    try:
        first, second = getpass.getpass("New PIN (six digits or more): "), getpass.getpass("Once more: ")
    except EOFError:
        raise Unusable(NO_TERMINAL) from None
    if first != second:
        raise Unusable("the two PINs differ; nothing was changed", exit_status=1)
    return first
