"""`halocline calibrate`: a sensor against a better instrument, or the membrane against what it does."""

import argparse
import json
from typing import Any

from halocline.cli import line, orders
from halocline.cli.errors import Unusable
from halocline.plant import words
from halocline.plant.command_definitions import Calibrate
from halocline.plant.vocabulary import CHANNELS

EPILOG = """\
Zeros are taken at 0 bar on the mechanical gauge, pump off, regulator open. Never open a joint under pressure.

  halocline calibrate feed_pressure --now 0 --initials MB          vented: what it shows now is 0 bar
  halocline calibrate vessel_pressure --point 54.2 55.0 --initials MB
                                                                   noted in a run: it showed 54.2, the test gauge 55.0
  halocline calibrate product_conductivity --point 690 706 --point 1380 1413 --initials MB
                                                                   two solutions make a line
  halocline calibrate product_flow --point 9.6 10.0 --initials MB  bucket: the meter counted 9.6 L, there were 10.0 L
  halocline calibrate membrane --initials MB                       making water steadily for half an hour
  halocline calibrate feed_pressure --configured --initials MB     back to the configuration
  halocline calibrate --list                                       what is in force

A calibration that has to move far hides a fault: it is refused. hw/calibration.md says how each is made.
"""


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "calibrate",
        help=Calibrate.definition.does,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("what", nargs="?", help="a channel, `membrane`, or `all` with --configured")
    parser.add_argument("--now", type=orders.number, metavar="TRUE", help="what it shows now is really this")
    parser.add_argument(
        "--point",
        type=orders.number,
        nargs="+",
        action="append",
        metavar="N",
        help="what it showed, and what was true; litres for a meter of pulses; for the membrane bar, °C, L/h and mg/L",
    )
    parser.add_argument("--configured", action="store_true", help="take the calibration back")
    parser.add_argument("--initials", help="who makes it")
    parser.add_argument("--list", action="store_true", help="print the calibrations in force")
    line.add_arguments(parser)
    parser.add_argument("--json", action="store_true", help="answer as JSON")
    parser.set_defaults(handler=_handle)


def _handle(arguments: argparse.Namespace) -> int:
    if arguments.list:
        return _list(arguments)
    if arguments.what is None:
        raise Unusable("say what to calibrate: a channel, or membrane (halocline calibrate --help shows how)")
    points: list[list[float | None]] = [list(row) for row in arguments.point or ()]
    if arguments.now is not None:
        points.append([None, arguments.now])
    order = Calibrate(
        channel=arguments.what.replace("-", "_"),
        initials=arguments.initials,
        points=points or None,
        configured=arguments.configured or None,
    )
    return orders.give(arguments, order)


def _list(arguments: argparse.Namespace) -> int:
    with line.connect(arguments) as client:
        entries = client.hello.get("calibrations") or []
        damaged = client.hello.get("calibrations_unreadable")
    if arguments.json:
        print(json.dumps({"calibrations": entries, "unreadable": bool(damaged)}, ensure_ascii=False, indent=2))
        return 0
    if damaged:
        print(words.reason({"id": "calibrations_unreadable", "values": {}}))
    elif not entries:
        print("No calibration is in force: everything reads by the configuration.")
    for entry in entries:
        channel, unit = entry["channel"], CHANNELS[entry["channel"]].unit if entry["channel"] in CHANNELS else ""
        print(f"{words.channel_name(channel)}: {_in_short(entry, unit)}")
        print(f"    {entry['date'] or 'date not known'}, {entry['initials']}")
    return 0


def _in_short(entry: dict[str, Any], unit: str) -> str:
    if "water_permeability_lmh_bar" in entry:
        bar, temperature_c, flow_l_h, tds_mg_l = entry["point"]
        return (
            f"A {entry['water_permeability_lmh_bar']:.3f} LMH/bar, B {entry['salt_permeability_lmh']:.3f} LMH, from "
            f"{flow_l_h:.1f} L/h with {tds_mg_l:.0f} mg/L at {bar:.1f} bar, {temperature_c:.1f} °C"
        )
    if entry["pulses_per_l"] is not None:
        return f"{entry['pulses_per_l']:.1f} pulses a litre"
    pairs = zip(entry["before"], entry["after"], strict=True)
    moved = ", ".join(f"{_fine(before, unit)} → {_fine(after, unit)}" for before, after in pairs)
    return f"zero {_fine(entry['zero'], unit)}, slope {entry['span']:.4f} ({moved})"


def _fine(value: float, unit: str) -> str:
    return words.quantity(value, unit, more_digits=1)
