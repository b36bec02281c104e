"""The `halocline` command. Exit status: 0 done, 1 refused or expectation not met, 2 unusable input.

Each command lives in a module that is imported only when it is asked for, so that the control process never
carries the web server, and `status` answers at once on a small computer.
"""

import argparse
import difflib
import gc
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import NoReturn

from halocline import __version__
from halocline.cli.errors import Unusable
from halocline.plant.command_definitions import COMMANDS

MODULES: dict[str, tuple[str, ...]] = {
    "running": ("run",),
    "control_process": ("control", "safe"),
    "report_process": ("report",),
    "sea_process": ("sea",),
    "status": ("status",),
    "plan": ("plan",),
    "orders": tuple(one.typed for one in COMMANDS.values() if not one.own_parser),
    "calibrate": ("calibrate",),
    "faults": ("fault",),
    "work": ("log",),
    "runs": ("runs",),
    "health": ("health",),
    "export": ("export",),
    "copies": ("backup", "restore", "salvage"),
    "check": ("check",),
    "rehearse": ("rehearse",),
    "projection": ("projection",),
    "secret": ("pin",),
}
"""Module of `halocline.cli` → the commands it adds."""


def build_parser(modules: Sequence[str]) -> argparse.ArgumentParser:
    """The parser with the commands of these modules."""
    parser = _Parser(
        prog="halocline",
        description="Keeps a small sea-water reverse-osmosis plant safe, and its water trustworthy.",
    )
    parser.add_argument("--version", action="version", version=f"halocline {__version__}")
    subparsers = parser.add_subparsers(dest="name", metavar="COMMAND", required=True)
    gc.disable()  # what is imported stays: looking for garbage in it takes time that control's start has not
    for module in modules:
        import_module(f"halocline.cli.{module}").add_parser(subparsers)
    gc.enable()
    return parser


class _Parser(argparse.ArgumentParser):
    """Says what is wrong with the arguments in one line."""

    def error(self, message: str) -> NoReturn:
        """End with exit status 2."""
        self.exit(2, f"{self.prog}: {message}; see {self.prog} --help\n")


def _unknown(asked: str) -> str:
    commands = [command for commands in MODULES.values() for command in commands]
    near = difflib.get_close_matches(asked, commands, n=1)
    meant = f"did you mean {near[0]}? See" if near else "see"
    return f"there is no command {asked!r}; {meant} halocline --help"


def _modules_for(arguments: Sequence[str]) -> list[str]:
    """The module of the command that is asked for; all of them for help and for what is no command."""
    asked = arguments[0] if arguments else ""
    return [module for module, commands in MODULES.items() if asked in commands] or list(MODULES)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; a person never sees a traceback for what a person can mend."""
    given = sys.argv[1:] if arguments is None else list(arguments)
    if given and not given[0].startswith("-") and not any(given[0] in commands for commands in MODULES.values()):
        print(f"halocline: {_unknown(given[0])}", file=sys.stderr)
        return 2
    if not given:
        build_parser(list(MODULES)).print_help(sys.stderr)
        return 2
    parsed = build_parser(_modules_for(given)).parse_args(given)
    try:
        status: int = parsed.handler(parsed)
    except Unusable as error:
        for line in error.lines:
            print(f"halocline {parsed.name}: {line}", file=sys.stderr)
        return error.exit_status
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        sys.stderr.close()
        return 1
    return status
