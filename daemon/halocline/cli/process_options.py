"""Options that all processes of one boat share."""

import argparse
import contextlib
from pathlib import Path

from halocline.app.paths import SYSTEM_CONFIG, socket_in, state_dir


def add_common(parser: argparse.ArgumentParser) -> None:
    """Configuration file and data folder."""
    parser.add_argument("--config", type=Path, metavar="F", help=f"configuration file (default {SYSTEM_CONFIG})")
    parser.add_argument("--data", type=Path, metavar="DIR", help="folder for everything that is kept")


def add_process(parser: argparse.ArgumentParser) -> None:
    """What each process of `run` understands."""
    add_common(parser)
    parser.add_argument("--socket", type=Path, help="control's socket (default: in the data folder)")
    parser.add_argument("--simulated", action="store_true", help="with the simulated boat that runs here")
    parser.add_argument("--quick", action="store_true", help="a demonstration with a tenth of the time and water")


def port(text: str) -> int:
    """A port number of a page."""
    try:
        number = int(text)
    except ValueError:
        number = 0
    if not 0 < number < 65536:
        raise argparse.ArgumentTypeError(f"{text} is no port; ports go from 1 to 65535")
    return number


def data_of(arguments: argparse.Namespace) -> Path:
    """The data folder."""
    data: Path | None = arguments.data
    return data if data is not None else state_dir(simulated=arguments.simulated)


def socket_of(arguments: argparse.Namespace) -> Path:
    """Control's socket."""
    given: Path | None = arguments.socket
    return given if given is not None else socket_in(data_of(arguments), "control")


def say(line: str) -> None:
    """One line to whoever reads along, at once; nobody reading is no reason to stop in the middle of something."""
    with contextlib.suppress(OSError):
        print(line, flush=True)
