"""Commands to the running plant: start, stop, flush and the rest, answered with every reason against them."""

import argparse
import json
import math
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from halocline.cli import line
from halocline.cli.errors import Unusable
from halocline.link.client import LinkClient
from halocline.plant import words
from halocline.plant.offer import need_of, offer, prospect_of
from halocline.plant.words.names import QUESTION_TEXTS

QUESTIONS_HELP = ", ".join(f"{question} ({text})" for question, text in QUESTION_TEXTS.items())

Arguments = tuple[tuple[str, dict[str, Any]], ...]


def number(text: str) -> float:
    """A number as a command carries it."""
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"{text!r} is no number")
    return value


ORDERS: tuple[tuple[str, str, Arguments], ...] = (
    (
        "start",
        "make water: so many litres, or minutes, or until a time; bare: until the tank is full",
        (
            ("--litres", {"type": number, "help": "litres into the tank"}),
            ("--minutes", {"type": number, "help": "minutes of water into the tank"}),
            ("--until", {"help": "a time of day (18:30) or an ISO 8601 date and time"}),
            (
                "--confirmed",
                {
                    "nargs": "+",
                    "help": f"what you have looked at: {QUESTIONS_HELP}",
                    "metavar": "QUESTION",
                },
            ),
        ),
    ),
    ("stop", "stop in good order; always works", ()),
    ("flush", "flush with fresh water", (("--litres", {"type": number, "help": "litres of fresh water"}),)),
    ("acknowledge", "say that an alarm has been seen", (("alarm", {"nargs": "?", "help": "its id; without: all"}),)),
    ("reset", "leave the tripped state once its causes are gone", ()),
    ("silence", "quiet the buzzer until the next alarm", ()),
    (
        "shelve",
        "put a warning out of sight for a time",
        (
            ("alarm", {"help": "its id"}),
            ("--minutes", {"type": number, "default": 60.0, "help": "for how long (60)"}),
        ),
    ),
    (
        "lay-up",
        "note that the membrane is preserved; refuses to run until recommissioned",
        (
            (
                "--preservative",
                {
                    "default": "preservative",
                    "help": "preservative, or glycol (food-grade propylene)",
                },
            ),
        ),
    ),
    ("recommission", "bring a preserved plant back; first water is purged", ()),
    (
        "bench",
        "try one output, with pumps and pressure off",
        (
            ("output", {"help": "its id"}),
            ("--seconds", {"type": number, "default": 1.0, "help": "for how long (1)"}),
        ),
    ),
    (
        "service-lock",
        "refuse everything that moves water while a housing is open",
        (("name", {"help": "who"}), ("reason", {"help": "at what"})),
    ),
    ("service-unlock", "take the service lock off", ()),
)


NOTHING_STOPPED = (
    "nothing was stopped from here. If the plant runs, press the stop button beside it or switch its breaker off"
)
PERHAPS_STOPPED = (
    "whether the plant stops is not known. Look at it: if it runs on, press the stop button beside it or switch its "
    "breaker off"
)


def add_parser(subparsers: Any) -> None:
    """Add a command for each order."""
    for name, what, arguments in ORDERS:
        parser = subparsers.add_parser(name, help=what)
        for flag, options in arguments:
            parser.add_argument(flag, **options)
        keys = [flag.lstrip("-") for flag, _ in arguments]
        _finish(parser, name.replace("-", "_"), keys)


def _finish(parser: argparse.ArgumentParser, command: str, keys: Sequence[str]) -> None:
    line.add_arguments(parser)
    parser.add_argument("--json", action="store_true", help="answer as JSON")
    parser.set_defaults(handler=_handler(command, keys))


def _handler(command: str, keys: Sequence[str]) -> Callable[[argparse.Namespace], int]:
    def handle(arguments: argparse.Namespace) -> int:
        given = {key: getattr(arguments, key) for key in keys}
        return give(arguments, command, {key: value for key, value in given.items() if value is not None})

    return handle


def _ordered(arguments: argparse.Namespace, command: str, values: dict[str, Any]) -> tuple[LinkClient, dict[str, Any]]:
    """The connection over which the command went, and the answer. Raises Unusable."""
    if command != "stop":
        client = line.connect(arguments)
        try:
            return client, line.order(client, command, values)
        except BaseException:
            client.close()
            raise
    try:
        return line.stop(arguments)
    except Unusable as error:
        known = PERHAPS_STOPPED if isinstance(error, line.Unanswered) else NOTHING_STOPPED
        raise Unusable([known, *error.lines], error.exit_status) from error


def _foreseen(client: LinkClient, values: Mapping[str, Any]) -> list[str]:
    """What the run that was just accepted will come to."""
    on, wall_s = prospect_of(line.now_of(client)), time.time()
    try:
        need = need_of(values.get("litres"), values.get("minutes"), values.get("until"), wall_s)
    except ValueError:
        return []
    return [] if on is None else words.offer_texts(offer(on, need), on)


def give(arguments: argparse.Namespace, command: str, values: dict[str, Any]) -> int:
    """Give a command to the running plant and print what becomes of it; the exit status."""
    client, answer = _ordered(arguments, command, values)
    with client:
        reasons = [words.reason(reason) for reason in answer.get("reasons", [])]
        told = [words.reason(piece) for piece in answer.get("told", [])]
        if arguments.json:
            said = {"accepted": answer["accepted"], "reasons": reasons, **({"told": told} if told else {})}
            print(json.dumps(said, ensure_ascii=False))
            return 0 if answer["accepted"] else 1
        if not answer["accepted"]:
            print(f"{words.command_name(command)}: refused")
            for reason in reasons:
                print(f"  - {reason}")
            return 1
        print(f"{words.command_name(command)}: accepted")
        if command == "start":
            told += _foreseen(client, values)
        for piece in told:
            print(piece)
        _tell_state(client, command)
    return 0


def _tell_state(client: LinkClient, command: str) -> None:
    """What the plant does now. A stop is done whether or not that can be told. Raises Unusable."""
    try:
        print(words.sentence(line.now_of(client)))
    except Unusable:
        if command != "stop":
            raise
