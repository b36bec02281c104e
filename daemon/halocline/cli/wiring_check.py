"""`halocline check`: the configuration, then the wiring as the running control measures it, every problem at once."""

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from halocline.app.places import SYSTEM_CONFIG, control_sockets
from halocline.cli import line
from halocline.config import ConfigError, load_control, load_demo, notes, problems_in
from halocline.control.keeper import configuration_in_force
from halocline.plant import words
from halocline.plant.settings import Settings


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser("check", help="configuration and wiring: every problem at once, with its remedy")
    parser.add_argument("--config", type=Path, metavar="F", help=f"configuration file (default {SYSTEM_CONFIG})")
    parser.add_argument("--simulated", action="store_true", help="check the demonstration boat")
    line.add_arguments(parser)
    parser.set_defaults(handler=_check)


def _check(arguments: argparse.Namespace) -> int:
    demo = arguments.simulated and arguments.config is None
    path = arguments.config or SYSTEM_CONFIG
    if not demo:
        problems = problems_in(path)
        for problem in problems:
            print(problem)
        if problems:
            print(f"{len(problems)} to mend before this plant can be run.")
            return 2
    settings = load_demo()[0] if demo else _load(path)
    print("The configuration can be used.")
    for note in notes(settings):
        print(f"  note: {note}")
    return _check_running(arguments, None if demo else settings)


def _load(path: Path) -> Settings:
    try:
        return load_control(path)
    except ConfigError as error:
        raise AssertionError("problems_in and load_control disagree") from error


def waiting_changes(running: Mapping[str, Any], file: Mapping[str, Any]) -> list[str]:
    """What the file says otherwise than the running control, a line a key; it counts from the next start."""
    return [
        f"{table}.{key}: runs with {running[table][key]}, the file says {value}"
        for table, values in file.items()
        if table in running
        for key, value in values.items()
        if key in running[table] and running[table][key] != value
    ]


def _check_running(arguments: argparse.Namespace, settings: Settings | None) -> int:
    if arguments.socket is None and not any(path.exists() for path in control_sockets(arguments.data)):
        print("The wiring was not looked at: no control is running. Start it and check again.")
        return 0
    with line.connect(arguments) as client:
        running = client.hello.get("configuration") or {}
        now = line.now_of(client)
    changes = [] if settings is None else waiting_changes(running, configuration_in_force(settings))
    if changes:
        print("Changed since control was started; it counts once control is restarted, with the plant at rest:")
    for change in changes:
        print(f"  {change}")
    return _check_wiring(now)


def _check_wiring(now: Mapping[str, Any]) -> int:
    bad = 0
    for channel, reading in now["readings"].items():
        name, quality = words.channel_name(channel), reading["quality"]
        shown = words.quantity(reading["value"], reading["unit"])
        raw = "" if reading["raw"] is None else f" (measured {reading['raw']:.4g})"
        if quality == "good":
            print(f"  {name}: {shown}")
        else:
            bad += 1
            print(f"  {name}: {words.quality_text(quality)}{raw}")
    for contact, active in now["contacts"].items():
        print(f"  {words.contact_name(contact)}: {'active (circuit open)' if active else 'at rest (circuit closed)'}")
    print("Every sensor answers." if not bad else f"{bad} of {len(now['readings'])} sensors cannot be used.")
    return 1 if bad else 0
