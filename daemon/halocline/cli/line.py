"""A command's connection to the running control."""

import argparse
import getpass
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from halocline.app.paths import SYSTEM_CONFIG, control_sockets
from halocline.cli import boat_units
from halocline.cli.errors import Unusable
from halocline.link.client import LinkClient
from halocline.link.messages import LinkAbsentError, LinkClosedError, LinkError, LinkLostError
from halocline.link.snapshot import StampedSnapshot, completed
from halocline.plant.command_definitions import Stop
from halocline.plant.settings import UnitSettings

STOP_TRIES = 5
START_IT = "Start it (a simulated boat: halocline run --simulated; aboard: sudo systemctl start halocline-control)"


class Unanswered(Unusable):
    """Control was reached, but nobody knows what became of the order."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """How to find the running control."""
    parser.add_argument("--data", type=Path, metavar="DIR", help="data folder of the running boat")
    parser.add_argument("--socket", type=Path, help="control's socket")
    parser.add_argument("--config", type=Path, metavar="F", help=f"configuration file (default {SYSTEM_CONFIG})")


def connect(arguments: argparse.Namespace) -> LinkClient:
    """A connection to control. Raises Unusable with what to do when none stands."""
    try:
        return _open(arguments)
    except LinkClosedError as error:
        raise Unusable(f"{error}; try again", exit_status=1) from error


def _open(arguments: argparse.Namespace, at_once: dict[str, Any] | None = None) -> LinkClient:
    """The first control that listens, with a command `at_once` if given. Raises Unusable, or LinkClosedError."""
    candidates = [arguments.socket] if arguments.socket else control_sockets(arguments.data)
    troubles: list[str] = []
    for path in candidates:
        try:
            return LinkClient(str(path), "cli", at_once=at_once)
        except LinkAbsentError as error:
            troubles += [str(error)] if os.access(path, os.F_OK) else []
        except LinkClosedError:
            raise
        except LinkLostError as error:
            raise Unusable(f"{error}. Look at the plant itself", exit_status=1) from error
        except LinkError as error:
            raise Unusable(f"{path}: {error}", exit_status=1) from error
    raise Unusable(_nobody_answers(candidates, troubles), exit_status=1)


def _nobody_answers(candidates: Sequence[Path], troubles: Sequence[str]) -> str:
    looked = ", ".join(str(path) for path in candidates)
    why = f" ({'; '.join(troubles)})" if troubles else ""
    return f"no control answers{why}; looked at {looked}. {START_IT}, or name its folder with --data"


def units_of(client: LinkClient, arguments: argparse.Namespace) -> UnitSettings:
    """The units of the boat that was reached."""
    return boat_units.units_of(arguments.config, simulated=bool(client.hello.get("simulated")))


def now_of(client: LinkClient) -> StampedSnapshot:
    """The next live snapshot. Raises Unusable when control has gone quiet."""
    try:
        return completed(client.now())
    except LinkError as error:
        raise Unusable(f"control went quiet: {error}. Look at the plant itself", exit_status=1) from error


def _who() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # a user without a name, as in a container
        return f"user {os.getuid()}"


def order(client: LinkClient, message: Mapping[str, Any]) -> dict[str, Any]:
    """Give a command and wait for its answer. Raises Unusable when none comes."""
    try:
        return client.command(_from_here(message))
    except LinkError as error:
        raise Unusable(
            f"no answer to {message['command']}: {error}. Look at the plant itself", exit_status=1
        ) from error


def stop(arguments: argparse.Namespace) -> tuple[LinkClient, dict[str, Any]]:
    """Order to stop, once more if the connection is closed meanwhile (to stop twice does no harm), and the answer.

    Raises Unusable, or Unanswered if control was reached.
    """
    for tries_left in reversed(range(STOP_TRIES)):
        try:
            client = _open(arguments, at_once=_from_here(Stop().message()))
        except LinkClosedError as error:
            if not tries_left:
                raise Unanswered(f"no answer to stop: {error}", exit_status=1) from error
            continue
        try:
            return client, client.answer()
        except LinkError as error:
            client.close()
            if not tries_left or not isinstance(error, LinkClosedError):
                raise Unanswered(f"no answer to stop: {error}", exit_status=1) from error
    raise AssertionError("the last try returns or raises")


def _from_here(message: Mapping[str, Any]) -> dict[str, Any]:
    return {**message, "origin": "cli", "who": _who()}
