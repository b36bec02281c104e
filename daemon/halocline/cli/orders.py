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
from halocline.plant.settings import UnitSettings
from halocline.plant.vocabulary import OUTPUTS
from halocline.plant.words.names import QUESTION_TEXTS

EXPLAINED: Mapping[str, Mapping[str, str]] = {"confirmed": QUESTION_TEXTS}
"""Ids that an argument takes, with what each says."""


MORE: Mapping[str, str] = {
    "start": "The product goes overboard until its salt is proven to be within the limit, then to the tank. Where the "
    "boat asks questions first, each is confirmed by its id, as in: halocline start --litres 40 --confirmed "
    + " ".join(QUESTION_TEXTS),
    "stop": "The pressure goes first, then the pump is switched off, then fresh water flushes the membrane.",
    "flush": "Fresh water goes through the membrane with the pumps off. Without --litres: as much as is configured.",
    "acknowledge": "The buzzer stops and the alarm is marked as seen; what it does to the plant stays. Ids: halocline "
    "status --json, under alarms.",
    "reset": "A safety stop ends only so: once every alarm of it is acknowledged, no cause is seen any more and the "
    "pressure is gone. Nothing is switched on by it.",
    "silence": "The alarms stay as they are, and so does what they do to the plant.",
    "shelve": "Only an alarm that merely tells can be put aside, and it comes back by itself. Ids: halocline status "
    "--json, under alarms.",
    "lay_up": "The preservative is put in by hand, before. From then on its age is watched.",
    "recommission": "The next run rinses the preservative out and sends its first water overboard, until a person has "
    "confirmed its end test.",
    "bench": f"Outputs: {', '.join(name for name in OUTPUTS if name != 'heartbeat')}. The high-pressure pump runs for "
    "two seconds at most, with sea water at its inlet.",
    "service_lock": "It stays over restarts, with the name and the reason, until service-unlock takes it off. It "
    "holds no pump that is switched on by hand.",
    "consent_flush": "It needs automatic_flush in the configuration. A flush comes when one is due, at most once a "
    "day, with a minute's notice; a person at the plant calls it off. halocline status says what it uses and when the "
    "next one comes.",
    "withdraw_flush_consent": "Nothing flushes by itself any more.",
    "service_unlock": "Ask first whoever put it on. Nothing is switched on by it.",
}
"""What the help of a command says beyond its one sentence."""


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
        said = f"{definition.sentence} {MORE.get(definition.name, '')}".rstrip()
        parser = subparsers.add_parser(definition.typed, help=definition.does, description=said)
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


def _marked(arguments: argparse.Namespace) -> list[str]:
    """What people have marked of the water here, as far as the boat's folder can be read."""
    # A stop must not wait on a small computer for what only a start tells.
    from halocline.cli import record_place  # noqa: PLC0415 - see above
    from halocline.report.planning.foreseen import NAME, Foreseen, marked_texts  # noqa: PLC0415 - see above

    try:
        record = record_place.record_to_read(arguments)
    except Unusable:
        return []
    return marked_texts(Foreseen(record.with_name(NAME), None)(time.time()).forbidden)


def _foreseen(client: LinkClient, start: Start, units: UnitSettings) -> list[str]:
    """What the run that was just accepted will come to."""
    on, wall_s = prospect_of(line.now_of(client)), time.time()
    try:
        need = need_of(start.litres, start.minutes, start.until, wall_s)
    except ValueError:
        return []
    return [] if on is None else words.offer_texts(offer(on, need), on, units)


def give(arguments: argparse.Namespace, order: Order, more: Mapping[str, Any] | None = None) -> int:
    """Give a command to the running plant and print what becomes of it; the exit status."""
    client, answer = _ordered(arguments, {**order.message(), **(more or {})})
    name, units = words.command_name(order.definition.name), line.units_of(client, arguments)
    with client:
        reasons = [words.reason(reason, units) for reason in answer.get("reasons", [])]
        told = [words.reason(piece, units) for piece in answer.get("told", [])]
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
            told += [*_marked(arguments), *_foreseen(client, order, units)]
        for piece in told:
            print(piece)
        _tell_state(client, order, units)
    return 0


def _tell_state(client: LinkClient, order: Order, units: UnitSettings) -> None:
    """What the plant does now. A stop is done whether or not that can be told. Raises Unusable."""
    try:
        print(words.sentence(line.now_of(client), units))
    except Unusable:
        if not isinstance(order, Stop):
            raise
