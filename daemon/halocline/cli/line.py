"""A command's connection to the running control."""

import argparse
import getpass
import os
from pathlib import Path
from typing import Any

from halocline.app.places import control_sockets
from halocline.cli.errors import Unusable
from halocline.link.client import LinkClient
from halocline.link.messages import LinkError, LinkLostError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """How to find the running control."""
    parser.add_argument("--data", type=Path, metavar="DIR", help="data folder of the running boat")
    parser.add_argument("--socket", type=Path, help="control's socket")


def connect(arguments: argparse.Namespace) -> LinkClient:
    """A connection to control. Raises Unusable with what to do when nothing listens."""
    candidates = [arguments.socket] if arguments.socket else control_sockets(arguments.data)
    trouble = ""
    for path in candidates:
        if not path.exists():
            continue
        try:
            return LinkClient(str(path), "cli")
        except LinkLostError as error:
            trouble = f" ({error})"
        except (LinkError, OSError) as error:
            raise Unusable(f"{path}: {error}", exit_status=1) from error
    looked = ", ".join(str(path) for path in candidates)
    raise Unusable(
        f"no control answers{trouble}; looked at {looked}. Start it (halocline run), or name its folder with --data",
        exit_status=1,
    )


def now_of(client: LinkClient) -> dict[str, Any]:
    """The next live snapshot. Raises Unusable when control has gone quiet."""
    try:
        return client.now()
    except LinkError as error:
        raise Unusable(f"control went quiet: {error}. Look at the plant itself", exit_status=1) from error


def _who() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # a user without a name, as in a container
        return f"user {os.getuid()}"


def order(client: LinkClient, command: str, arguments: dict[str, Any]) -> dict[str, Any]:
    """Give a command and wait for its answer. Raises Unusable when none comes."""
    message = {"command": command, "origin": "cli", "who": _who(), **arguments}
    try:
        return client.command(message)
    except LinkError as error:
        raise Unusable(f"no answer to {command}: {error}. Look at the plant itself", exit_status=1) from error
