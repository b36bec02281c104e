"""The `halocline` command. Exit status: 0 done, 1 refused or expectation not met, 2 unusable input.

Each command lives in a module that is imported only when it is asked for, so that the control process never
carries the web server, and `status` answers at once on a small computer.
"""

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module

from halocline import __version__
from halocline.cli.errors import Unusable

MODULES: dict[str, tuple[str, ...]] = {
    "running": ("run",),
    "control_process": ("control", "safe"),
    "report_process": ("report",),
    "sea_process": ("sea",),
    "status": ("status",),
    "orders": (
        "start",
        "stop",
        "flush",
        "acknowledge",
        "reset",
        "silence",
        "shelve",
        "lay-up",
        "recommission",
        "bench",
        "service-lock",
        "service-unlock",
        "log",
        "fault",
    ),
    "wiring_check": ("check",),
    "rehearse": ("rehearse",),
    "projection": ("projection",),
    "secret": ("pin",),
}
"""Module of `halocline.cli` → the commands it adds."""


def build_parser(modules: Sequence[str]) -> argparse.ArgumentParser:
    """The parser with the commands of these modules."""
    parser = argparse.ArgumentParser(
        prog="halocline",
        description="Keeps a small sea-water reverse-osmosis plant safe, and its water trustworthy.",
    )
    parser.add_argument("--version", action="version", version=f"halocline {__version__}")
    subparsers = parser.add_subparsers(dest="name", metavar="COMMAND", required=True)
    for module in modules:
        import_module(f"halocline.cli.{module}").add_parser(subparsers)
    return parser


def _modules_for(arguments: Sequence[str]) -> list[str]:
    """The module of the command that is asked for; all of them for help and for what is no command."""
    asked = arguments[0] if arguments else ""
    return [module for module, commands in MODULES.items() if asked in commands] or list(MODULES)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; a person never sees a traceback for what a person can mend."""
    given = sys.argv[1:] if arguments is None else list(arguments)
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
