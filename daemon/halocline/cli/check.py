"""`halocline check`: the configuration, then the wiring as the running control measures it, every problem at once."""

import argparse
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from halocline.app.boards import CannotStart
from halocline.app.places import CONTROL_STATE, SYSTEM_CONFIG, control_sockets, socket_in, state_dir
from halocline.app.wiring import NotProved, look_at_wiring, prove_interlock
from halocline.cli import line
from halocline.config import ConfigError, Problem, load_control, load_demo, load_report, notes, problems_in
from halocline.control.keeper import configuration_in_force
from halocline.control.wiring_findings import is_dry, wiring_findings
from halocline.control.wiring_look import Look, from_snapshot
from halocline.plant import words
from halocline.plant.sensors import Input, Pulses
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import CHANNELS, Quality, Reading
from halocline.report.http.certificate import examine

NO_CONFIGURATION = """\
There is no configuration at {path} yet.
Put yours there (README, Aboard), name another file with --config, or look at the demonstration boat with --simulated.\
"""


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser("check", help="configuration and wiring: every problem at once, with its remedy")
    parser.add_argument("--config", type=Path, metavar="F", help=f"configuration file (default {SYSTEM_CONFIG})")
    parser.add_argument("--simulated", action="store_true", help="check the demonstration boat")
    parser.add_argument(
        "--proof-interlock",
        action="store_true",
        help="prove the comparator interlock: control stopped, plant at rest; opens it on purpose and closes it again",
    )
    line.add_arguments(parser)
    parser.set_defaults(handler=_check)


def _check(arguments: argparse.Namespace) -> int:
    demo = arguments.simulated and arguments.config is None
    path = arguments.config or SYSTEM_CONFIG
    if arguments.config is None and not demo and _is_missing(path):
        print(NO_CONFIGURATION.format(path=path))
        return 2
    if not demo:
        problems = problems_in(path, simulated=arguments.simulated) or _certificate_problems(path)
        for problem in problems:
            print(problem)
        if problems:
            things = "1 thing" if len(problems) == 1 else f"{len(problems)} things"
            print(f"{things} to mend before this plant can be run.")
            return 2
    settings = load_demo()[0] if demo else _load(path, simulated=arguments.simulated)
    print("The configuration can be used.")
    for note in notes(settings):
        print(f"  note: {note}")
    if arguments.proof_interlock:
        return _prove(arguments, settings)
    return _check_running(arguments, settings, demo=demo)


def _is_missing(path: Path) -> bool:
    """Whether there is certainly no such file; one that cannot be looked at may be there."""
    try:
        path.stat()
    except FileNotFoundError:
        return True
    except OSError:
        return False
    return False


def _certificate_problems(path: Path) -> list[Problem]:
    """What stands in the way of https, as this user sees it; what only wants looking after is printed at once."""
    examined = examine(load_report(path).http, str(path), time.time())
    for warning in examined.warned:
        print(f"  note: {warning}")
    return list(examined.refused)


def _load(path: Path, *, simulated: bool) -> Settings:
    try:
        return load_control(path, simulated=simulated)
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


def _check_running(arguments: argparse.Namespace, settings: Settings, *, demo: bool) -> int:
    if arguments.socket is None and not any(path.exists() for path in control_sockets(arguments.data)):
        return _check_stopped(arguments, settings)
    with line.connect(arguments) as client:
        running = client.hello.get("configuration") or {}
        calibrated = [entry["channel"] for entry in client.hello.get("calibrations") or ()]
        now = line.now_of(client)
    changes = [] if demo else waiting_changes(running, configuration_in_force(settings))
    if changes:
        print("Changed since control was started; it counts once control is restarted, with the plant at rest:")
    for change in changes:
        print(f"  {change}")
    if calibrated:
        names = ", ".join(words.channel_name(channel) for channel in calibrated)
        print(f"  note: calibrations on top of the file are in force for {names} (halocline calibrate --list)")
    seen = from_snapshot(settings, now)
    if seen.at_rest is False:
        print("The plant is running: zeros, contacts and exchanged wires are judged at rest only.")
    return _tell(settings, seen)


def _check_stopped(arguments: argparse.Namespace, settings: Settings) -> int:
    try:
        seen = look_at_wiring(settings, *_places(arguments))
    except CannotStart as error:
        print(f"The wiring was not looked at: {error}")
        return 0
    print("No control is running: looked at the wiring directly, as of a plant at rest without pressure.")
    return _tell(settings, seen)


def _prove(arguments: argparse.Namespace, settings: Settings) -> int:
    fitted = settings.interlock
    if fitted is None:
        print("This configuration has no [interlock]: there is nothing to prove.")
        return 1
    opens = words.quantity(fitted.opens_bar, "bar")
    print(f"Proof test of the comparator interlock: chip 0x{fitted.address:02x}, opens above {opens}.")
    if any(path.exists() for path in control_sockets(arguments.data)):
        print("Not proved: control is running and holds the bus. Stop it with the plant at rest, then try again.")
        return 1
    try:
        opened_s = prove_interlock(settings, *_places(arguments))
    except (CannotStart, NotProved) as error:
        print(f"Not proved: {error}.")
        return 1
    print(f"  Window lowered below the signal: the circuit opened after {1000.0 * opened_s:.0f} ms and stayed open.")
    print(f"  Window restored and read back: opens above {opens}. Latch released: the circuit closed.")
    print("Passed. Write it down with date and initials; the time-out relay waits for its button.")
    return 0


def _places(arguments: argparse.Namespace) -> tuple[Path, Path | None]:
    """The data folder whose lock is control's, and the simulated boat's socket."""
    if arguments.data is None and not arguments.simulated and CONTROL_STATE.exists():
        return CONTROL_STATE, None
    data_dir = arguments.data or state_dir(simulated=arguments.simulated)
    return data_dir, socket_in(data_dir, "sea") if arguments.simulated else None


def _tell(settings: Settings, seen: Look) -> int:
    for channel in sorted(seen.readings, key=list(CHANNELS).index):
        reading = seen.readings[channel]
        print(
            f"  {words.channel_name(channel)}: {_shown(channel, settings.inputs.get(channel), reading, seen.at_rest)}"
        )
    for contact, active in seen.active.items():
        print(f"  {words.contact_name(contact)}: {'active (circuit open)' if active else 'at rest (circuit closed)'}")
    if settings.interlock is not None and not seen.interlock_lost:
        opens = words.quantity(settings.interlock.opens_bar, "bar")
        print(f"  interlock: chip 0x{settings.interlock.address:02x} holds its window, opens above {opens}")
    for address, count in seen.retries.items():
        if count and address not in seen.chip_errors:
            times = "once" if count == 1 else f"{count} times"
            print(f"  chip 0x{address:02x}: had to be asked again {times}; that is noise or a loose plug")
    findings = wiring_findings(settings, seen)
    if not findings:
        print("Every sensor answers.")
        return 0
    print("To put right:" if len(findings) == 1 else f"{len(findings)} things to put right, likeliest cause first:")
    for finding in findings:
        print(f"  - {words.reason(finding.as_message())}")
    return 1


def _shown(channel: str, sensor: Input | None, reading: Reading, at_rest: bool | None) -> str:
    digits, unit = (1, "Hz") if isinstance(sensor, Pulses) else (3, "V")
    raw = "" if reading.raw is None else f" (measured {reading.raw:.{digits}f} {unit})"
    if reading.quality is Quality.GOOD:
        return f"{words.quantity(reading.value, reading.unit)}{raw}"
    if at_rest is not False and is_dry(channel, reading.quality):
        return f"dry, as it may be at rest{raw}"
    return f"{words.quality_text(reading.quality.value)}{raw}"
