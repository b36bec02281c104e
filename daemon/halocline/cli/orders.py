"""Commands to the running plant: start, stop, flush and the rest, answered with every reason against them."""

import argparse
import json
import math
import time
from collections.abc import Callable, Mapping
from typing import Any

from halocline.cli import line
from halocline.cli.errors import Unusable
from halocline.link.client import LinkClient
from halocline.plant import words
from halocline.plant.command_definitions import COMMANDS, Start, Stop
from halocline.plant.command_fields import Argument, Definition, Order
from halocline.plant.offer import need_of, offer, prospect_of
from halocline.plant.words.names import QUESTION_TEXTS

EXPLAINED: Mapping[str, Mapping[str, str]] = {"confirmed": QUESTION_TEXTS}
"""Ids that an argument takes, with what each says."""


def number(text: str) -> float:
    """A number as a command carries it."""
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"{text!r} is no number")
    return value


NOTHING_STOPPED = (
    "nothing was stopped from here. If the plant runs, press the stop button beside it or switch its breaker off"
)
PERHAPS_STOPPED = (
    "whether the plant stops is not known. Look at it: if it runs on, press the stop button beside it or switch its "
    "breaker off"
)


def add_parser(subparsers: Any) -> None:
    """Add a command for each order."""
    for definition in COMMANDS.values():
        if definition.own_parser:
            continue
        parser = subparsers.add_parser(definition.typed, help=definition.does)
        for argument in definition.given:
            _add(parser, argument)
        line.add_arguments(parser)
        parser.add_argument("--json", action="store_true", help="answer as JSON")
        parser.set_defaults(handler=_handler(definition))


def _add(parser: argparse.ArgumentParser, argument: Argument) -> None:
    """An argument of a command, as it is typed."""
    ids = ", ".join(f"{one} ({text})" for one, text in EXPLAINED.get(argument.name, {}).items())
    how: dict[str, Any] = {"help": f"{argument.text}: {ids}" if ids else argument.text}
    if argument.type is float:
        how["type"] = number
    if argument.type == list[str]:
        how |= {"nargs": "+", "metavar": "ID"}
    if not argument.needed:
        how["default"] = argument.default
        if argument.positional:
            how["nargs"] = "?"
    parser.add_argument(argument.name if argument.positional else f"--{argument.name}", **how)


def _handler(definition: Definition) -> Callable[[argparse.Namespace], int]:
    def handle(arguments: argparse.Namespace) -> int:
        given = {argument.name: getattr(arguments, argument.name) for argument in definition.given}
        return give(arguments, definition.order(**given))

    return handle


def _ordered(arguments: argparse.Namespace, message: Mapping[str, Any]) -> tuple[LinkClient, dict[str, Any]]:
    """The connection over which the command went, and the answer. Raises Unusable."""
    if message["command"] != Stop.definition.name:
        client = line.connect(arguments)
        try:
            return client, line.order(client, message)
        except BaseException:
            client.close()
            raise
    try:
        return line.stop(arguments)
    except Unusable as error:
        known = PERHAPS_STOPPED if isinstance(error, line.Unanswered) else NOTHING_STOPPED
        raise Unusable([known, *error.lines], error.exit_status) from error


def _foreseen(client: LinkClient, start: Start) -> list[str]:
    """What the run that was just accepted will come to."""
    on, wall_s = prospect_of(line.now_of(client)), time.time()
    try:
        need = need_of(start.litres, start.minutes, start.until, wall_s)
    except ValueError:
        return []
    return [] if on is None else words.offer_texts(offer(on, need), on)


def give(arguments: argparse.Namespace, order: Order, more: Mapping[str, Any] | None = None) -> int:
    """Give a command to the running plant and print what becomes of it; the exit status."""
    client, answer = _ordered(arguments, {**order.message(), **(more or {})})
    name = words.command_name(order.definition.name)
    with client:
        reasons = [words.reason(reason) for reason in answer.get("reasons", [])]
        told = [words.reason(piece) for piece in answer.get("told", [])]
        if arguments.json:
            said = {"accepted": answer["accepted"], "reasons": reasons, **({"told": told} if told else {})}
            print(json.dumps(said, ensure_ascii=False))
            return 0 if answer["accepted"] else 1
        if not answer["accepted"]:
            print(f"{name}: refused")
            for reason in reasons:
                print(f"  - {reason}")
            return 1
        print(f"{name}: accepted")
        if isinstance(order, Start):
            told += _foreseen(client, order)
        for piece in told:
            print(piece)
        _tell_state(client, order)
    return 0


def _tell_state(client: LinkClient, order: Order) -> None:
    """What the plant does now. A stop is done whether or not that can be told. Raises Unusable."""
    try:
        print(words.sentence(line.now_of(client)))
    except Unusable:
        if not isinstance(order, Stop):
            raise
