"""The `halocline` command. Exit status: 0 done, 1 refused or expectation not met, 2 unusable input.

Each command lives in a module that is imported only when it is asked for, so that the control process never
carries the web server, and `status` answers at once on a small computer.
"""

import argparse
import difflib
import gc
import re
import sys
from collections.abc import Mapping, Sequence
from importlib import import_module
from typing import Any, NoReturn

from halocline import __version__
from halocline.cli.errors import Unusable
from halocline.plant.command_definitions import COMMANDS

MODULES: dict[str, tuple[str, ...]] = {
    "running": ("run",),
    "control_process": ("control", "safe"),
    "report_process": ("report",),
    "sea_process": ("sea",),
    "status": ("status",),
    "wait": ("wait",),
    "plan": ("plan",),
    "orders": tuple(one.typed for one in COMMANDS.values() if not one.own_parser),
    "calibrate": ("calibrate",),
    "faults": ("fault",),
    "work": ("log",),
    "runs": ("runs",),
    "cases": ("cases",),
    "health": ("health",),
    "duties": ("duties", "stores"),
    "export": ("export",),
    "copies": ("backup", "restore", "salvage"),
    "check": ("check",),
    "rehearse": ("rehearse",),
    "projection": ("projection",),
    "secret": ("pin",),
}
"""Module of `halocline.cli` → the commands it adds."""


class _Commands:
    """Takes commands into the list. Each explains itself in its own help at least as well as in the list."""

    def __init__(self, subparsers: Any) -> None:
        self._subparsers = subparsers
        self.added: dict[str, argparse.ArgumentParser] = {}

    def add_parser(self, name: str, **how: Any) -> argparse.ArgumentParser:
        """Add a command, as argparse does."""
        listed = how["help"]
        made: argparse.ArgumentParser = self._subparsers.add_parser(
            name, **{"description": f"{listed[:1].upper()}{listed[1:]}.", **how}
        )
        self.added[name] = made
        return made


def build_parser(modules: Sequence[str]) -> "_Parser":
    """The parser with the commands of these modules."""
    parser = _Parser(
        prog="halocline",
        description="Keeps a small sea-water reverse-osmosis plant safe, and its water trustworthy.",
    )
    parser.add_argument("--version", action="version", version=f"halocline {__version__}")
    commands = _Commands(parser.add_subparsers(dest="name", metavar="COMMAND", required=True))
    gc.disable()  # what is imported stays: looking for garbage in it takes time that control's start has not
    for module in modules:
        import_module(f"halocline.cli.{module}").add_parser(commands)
    gc.enable()
    parser.commands = commands.added
    return parser


class _Parser(argparse.ArgumentParser):
    """Says what is wrong with the arguments in one line. commands: the parser of each command, by its name."""

    commands: Mapping[str, argparse.ArgumentParser]

    def error(self, message: str) -> NoReturn:
        """End with exit status 2."""
        self.exit(2, f"{self.prog}: {message}; see {self.prog} --help\n")


def _unknown(asked: str) -> str:
    commands = [command for commands in MODULES.values() for command in commands]
    near = difflib.get_close_matches(asked, commands, n=1)
    meant = f"did you mean {near[0]}? See" if near else "see"
    return f"there is no command {asked!r}; {meant} halocline --help"


def _not_understood(left: Sequence[str], command: argparse.ArgumentParser) -> str:
    """What is wrong with the arguments that nothing took, with the option that was meant."""
    asked = next((each.partition("=")[0] for each in left if each.startswith("--")), None)
    if asked is None:
        return f"nothing takes {' '.join(left)}; see"
    near = difflib.get_close_matches(asked, OPTION.findall(command.format_help()), n=1)
    return f"there is no option {asked}; {f'did you mean {near[0]}? See' if near else 'see'}"


OPTION = re.compile(r"--[a-z][a-z-]*")


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
    parser = build_parser(_modules_for(given))
    parsed, left = parser.parse_known_args(given)
    if left:
        command = parser.commands[parsed.name]
        print(f"{command.prog}: {_not_understood(left, command)} {command.prog} --help", file=sys.stderr)
        return 2
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
