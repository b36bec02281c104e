"""`halocline wait`: until the plant has come to a state, or would take a command."""

import argparse
import time
from collections.abc import Mapping
from typing import Any

from halocline.cli import line
from halocline.cli.orders import number
from halocline.plant import words
from halocline.plant.command_definitions import COMMANDS
from halocline.plant.settings import UnitSettings
from halocline.plant.vocabulary import AT_REST, State


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    states = ", ".join(state.value for state in State)
    parser = subparsers.add_parser(
        "wait",
        help="wait until the plant is in a state, or would take a command",
        description="Waits, and says each step on the way. Exit status: 0 there, 1 it cannot come there by itself any "
        f"more, or the time is over. States: {states}.",
    )
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("state", nargs="?", choices=[state.value for state in State], metavar="STATE", help="its id")
    what.add_argument("--allowed", choices=list(COMMANDS), metavar="COMMAND", help="until this would be accepted")
    parser.add_argument("--minutes", type=number, help="for how long at most (without end)")
    line.add_arguments(parser)
    parser.set_defaults(handler=_wait)


def _wait(arguments: argparse.Namespace) -> int:
    end_s = None if arguments.minutes is None else time.monotonic() + arguments.minutes * 60
    told: Any = None
    with line.connect(arguments) as client:
        units = line.units_of(client, arguments)
        while end_s is None or time.monotonic() < end_s:
            now = line.now_of(client)
            there = _is_there(now, arguments)
            step = (now["state"], _reasons(now, arguments.allowed))
            if step != told:
                print("\n".join(_said(now, arguments.allowed, units)), flush=True)
            told = step
            if there is not None:
                return 0 if there else 1
    print(f"Not within {words.quantity(arguments.minutes, 'min')}.")
    return 1


def _is_there(now: Mapping[str, Any], arguments: argparse.Namespace) -> bool | None:
    """Whether it has come; None while it still may. What rests goes on by nothing but a command."""
    if arguments.allowed is not None:
        return True if arguments.allowed in now["allowed"] else None
    if now["state"] == arguments.state:
        return True
    return False if now["state"] in AT_REST else None


def _reasons(now: Mapping[str, Any], command: str | None) -> tuple[str, ...]:
    """The ids of what speaks against the command now."""
    return tuple(reason["id"] for reason in now["refused"].get(command, ()))


def _said(now: Mapping[str, Any], command: str | None, units: UnitSettings) -> list[str]:
    against = [] if command is None else now["refused"].get(command, [])
    return [words.sentence(now, units), *(f"  - {words.reason(reason, units)}" for reason in against)]
