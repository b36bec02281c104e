"""`halocline fault`: on a simulated boat, let something break, mend it, or list what can be broken."""

import argparse
import math
import os
from collections.abc import Iterable, Mapping
from typing import Any

from halocline.app.paths import control_sockets, truth_socket
from halocline.app.simulator_client import SimulatorClient
from halocline.cli import line
from halocline.cli.errors import Unusable
from halocline.cli.orders import give
from halocline.plant import words
from halocline.plant.command_definitions import Fault


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    fault = subparsers.add_parser(
        "fault",
        help=Fault.definition.does,
        description=f"{Fault.definition.sentence} Without a name: all that can be broken, how it is typed, and what is "
        "broken now. A fault stays until it is cleared.",
    )
    fault.add_argument("fault", nargs="?", help="its name, such as prefilter_clogged; without: list them all")
    fault.add_argument("arguments", nargs="*", default=[], metavar="KEY=VALUE", help="such as severity=0.8")
    fault.add_argument("--clear", action="store_true", help="end the fault that is named")
    line.add_arguments(fault)
    fault.add_argument("--json", action="store_true", help="answer as JSON")
    fault.set_defaults(handler=_fault)


def _fault(arguments: argparse.Namespace) -> int:
    if arguments.fault is None and arguments.clear:
        raise Unusable(f"name the fault to end: {' or '.join(_names_to_clear(arguments))}")
    if arguments.fault is None:
        return _list(arguments)
    values: dict[str, Any] = {}
    for pair in arguments.arguments:
        key, equals, value = pair.partition("=")
        if not equals:
            raise Unusable(f"{pair}: write KEY=VALUE, such as severity=0.8")
        values[key] = _value(value)
    return give(arguments, Fault(fault=arguments.fault, clear=arguments.clear or None), values)


def _value(text: str) -> Any:
    if text in ("true", "false"):
        return text == "true"
    try:
        return int(text, 0)
    except ValueError:
        pass
    try:
        value = float(text)
    except ValueError:
        return text
    return value if math.isfinite(value) else text


def _names_to_clear(arguments: argparse.Namespace) -> list[str]:
    """What has to be typed to end each fault that stands. Raises Unusable."""
    standing = dict.fromkeys(fault["fault"] for fault in _faults(arguments)["standing"])
    return [f"halocline fault {name} --clear" for name in standing] or ["none stands now"]


def _faults(arguments: argparse.Namespace) -> Mapping[str, Any]:
    """What can be broken and what is. Raises Unusable without a simulated boat."""
    sockets = [arguments.socket] if arguments.socket else control_sockets(arguments.data)
    truths = [place for path in sockets if os.access(place := truth_socket(path), os.F_OK)]
    if not truths:
        raise Unusable("no simulated boat answers; start one (halocline run --simulated)", exit_status=1)
    try:
        return SimulatorClient(truths[0]).faults()
    except (OSError, ValueError) as error:
        raise Unusable(f"the simulated boat does not answer: {error}", exit_status=1) from error


def _list(arguments: argparse.Namespace) -> int:
    faults = _faults(arguments)
    for fault in faults["offered"]:
        text = words.fault_text(fault["fault"])
        print(f"{_usage(fault)}\n    {text.name}: {text.does}")
        if len(fault["choices"]) > 1:
            print(f"    {fault['target']}: {', '.join(_choice(choice) for choice in fault['choices'])}")
    print("\nStanding now:")
    for fault in faults["standing"]:
        print(f"  {_standing(fault)}")
    if not faults["standing"]:
        print("  nothing")
    return 0


def _usage(fault: Mapping[str, Any]) -> str:
    """How it is typed; numbers with their range, or with a value to practise with where there is one."""
    given = [f"{fault['target']}={_choice(fault['choices'][0])}"] if fault["target"] else []
    return " ".join([fault["fault"], *given, *_arguments(fault["arguments"])])


def _arguments(arguments: Iterable[Mapping[str, Any]]) -> Iterable[str]:
    for argument in arguments:
        name, typical = argument["name"], argument.get("typical")
        shown = "|".join(argument.get("choices", ())) or ("NUMBER" if typical is None else f"{typical:g}")
        yield f"[{name}={shown}]" if argument.get("optional") else f"{name}={shown}"


def _choice(value: str | int) -> str:
    return value if isinstance(value, str) else hex(value)


def _standing(fault: Mapping[str, Any]) -> str:
    target = [] if fault["target"] is None else [_choice(fault["target"])]
    given = [f"{key}={value}" for key, value in fault["arguments"].items()]
    return " ".join([fault["fault"], *target, *given])
