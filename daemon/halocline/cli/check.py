"""`halocline check`: configuration, wiring, computer, card, rights, services and record: every problem at once."""

import argparse
import json
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halocline import __version__
from halocline.app import checkup
from halocline.app.boards import CannotStart
from halocline.app.checkup import Line
from halocline.app.paths import CONTROL_STATE, SYSTEM_CONFIG, SYSTEM_STATE, control_sockets, socket_in, state_dir
from halocline.app.wiring_access import Looked, NoBoard, NotProved, look_at_wiring, prove_interlock
from halocline.cli import line
from halocline.cli.errors import Unusable
from halocline.config import (
    CONFIG_VERSION,
    ConfigError,
    load_control,
    load_demo,
    load_report,
    notes,
    problems_in,
    quick,
)
from halocline.control.housekeeping import configuration_in_force, wall_clock_s, wiring_mark
from halocline.control.wiring_check.wiring_findings import is_dry, wiring_findings
from halocline.control.wiring_check.wiring_survey import WiringSurvey, from_snapshot
from halocline.link.client import LinkClient
from halocline.link.messages import LinkAbsentError, LinkError
from halocline.plant import words
from halocline.plant.sensors import Input, Pulses
from halocline.plant.settings import ReportSettings, Settings
from halocline.plant.vocabulary import AT_REST, CHANNELS, Ask, Quality, Reading, State
from halocline.report.feed import RECORD_NAME
from halocline.report.http.certificate import examine
from halocline.report.secrets import SecretsError, read_secrets
from halocline.report.server import SECRETS_NAME

HANDS_OFF = "no control runs, and this check was to keep its hands off the pins"


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "check",
        help="configuration, wiring, computer, services, record: every problem at once, with its remedy",
        description="Looks at everything the plant rests on and says of each whether it is in order. Exit status: 0 in "
        "order (warnings at most), 1 something is to be put right, 2 the configuration cannot be used.",
    )
    parser.add_argument("--simulated", action="store_true", help="check the demonstration boat")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument(
        "--hands-off",
        action="store_true",
        help="leave pins and bus alone while control is stopped, and do not read all of the record",
    )
    parser.add_argument(
        "--proof-interlock",
        action="store_true",
        help="prove the comparator interlock: control stopped, plant at rest; opens it on purpose and closes it again",
    )
    line.add_arguments(parser)
    parser.set_defaults(handler=_check)


@dataclass(frozen=True, slots=True)
class Heard:
    """What a running control says of itself, and where."""

    place: Path
    hello: Mapping[str, Any]
    now: Mapping[str, Any]


def _check(arguments: argparse.Namespace) -> int:
    settings, lines = _configuration(arguments)
    if arguments.proof_interlock and settings is not None:
        return _prove(arguments, settings)
    lines += _looked_at(arguments, settings)
    if arguments.json:
        message = checkup.as_message(lines, simulated=arguments.simulated, version=__version__)
        print(json.dumps(message, ensure_ascii=False, indent=1))
    else:
        for text in checkup.as_text(lines, simulated=arguments.simulated):
            print(text)
    if settings is None:
        return 2
    return 1 if checkup.count(lines, "problem") else 0


# ---- the configuration -----------------------------------------------------------------------------


def _is_demo(arguments: argparse.Namespace) -> bool:
    return bool(arguments.simulated) and arguments.config is None


def _configuration(arguments: argparse.Namespace) -> tuple[Settings | None, list[Line]]:
    """Control's settings, None where they cannot be used, and what there is to say of the file."""
    if _is_demo(arguments):
        settings, certificate_notes = load_demo()[0], []
    else:
        path = arguments.config or SYSTEM_CONFIG
        if arguments.config is None and _is_missing(path):
            return None, [Line("configuration_missing", {"path": path})]
        problems = problems_in(path, simulated=arguments.simulated)
        if not problems:
            examined = examine(load_report(path).http, str(path), time.time())
            problems, certificate_notes = list(examined.refused), [str(warning) for warning in examined.warned]
        if problems:
            return None, [Line("configuration_problem", {"text": problem}) for problem in problems]
        settings = _load(path, simulated=arguments.simulated)
    told = [f"note: {note}" for note in (*certificate_notes, *notes(settings))]
    lines = [Line("configuration_usable", more=told)]
    if not _is_demo(arguments) and (tables := _tables_of_the_example(settings)):
        lines.append(Line("configuration_of_example", {"tables": ", ".join(f"[{table}]" for table in tables)}))
    return settings, lines


def _tables_of_the_example(settings: Settings) -> list[str]:
    """Tables of plates and volumes that are still the invented boat's: no two plants share all of them."""
    example = load_demo()[0]
    return [name for name in ("plant", "membrane") if getattr(settings, name) == getattr(example, name)]


def _is_missing(path: Path) -> bool:
    """Whether there is certainly no such file; one that cannot be looked at may be there."""
    try:
        path.stat()
    except FileNotFoundError:
        return True
    except OSError:
        return False
    return False


def _load(path: Path, *, simulated: bool) -> Settings:
    try:
        return load_control(path, simulated=simulated)
    except ConfigError as error:
        raise AssertionError("problems_in and load_control disagree") from error


def _report_settings(arguments: argparse.Namespace) -> ReportSettings:
    """Report's tables; the defaults where they cannot be used, which is told elsewhere."""
    if _is_demo(arguments):
        return load_demo()[1]
    try:
        return load_report(arguments.config or SYSTEM_CONFIG)
    except ConfigError:
        return ReportSettings()


def waiting_changes(running: Mapping[str, Any], file: Mapping[str, Any]) -> list[str]:
    """What the file says otherwise than the running control, a line a key; it counts from the next start."""
    return [
        f"{table}.{key}: runs with {running[table][key]}, the file says {value}"
        for table, values in file.items()
        if table in running
        for key, value in values.items()
        if key in running[table] and running[table][key] != value
    ]


# ---- all the rest ----------------------------------------------------------------------------------


def _looked_at(arguments: argparse.Namespace, settings: Settings | None) -> Iterator[Line]:
    heard, unheard = _listen(arguments)
    installed = {} if heard is None else {"version": __version__, "running": heard.hello.get("version")}
    if installed and installed["running"] != __version__:
        yield Line("version_running", installed)
    else:
        yield Line("version", {"version": __version__, "configuration": CONFIG_VERSION})
    looked: Looked | None = None
    if unheard is not None:
        yield Line("wiring_not_looked", {"text": unheard})
    elif heard is not None and settings is not None:
        yield from _as_heard(arguments, settings, heard)
    elif heard is None and settings is not None:
        looked, lines = _directly(arguments, settings)
        yield from lines
    system, wall_s = checkup.System(), time.time()
    if not arguments.simulated and not checkup.is_a_boats(system):
        yield Line("computer_elsewhere")
    elif not arguments.simulated:
        yield from _pins(system, heard, looked)
        clock_set = wall_clock_s() is not None
        yield from checkup.computer_lines(
            system,
            bus=checkup.BUS,
            reckoned_khz=None if settings is None else settings.plant.adc_bus_khz,
            clock_set=clock_set,
            wall_s=wall_s,
        )
        yield from checkup.rights_lines(system, bus=checkup.BUS, config=arguments.config or SYSTEM_CONFIG)
        yield from checkup.service_lines(system)
        yield from checkup.package_lines(system)
    yield from _kept(arguments, system, heard, wall_s)


def _kept(arguments: argparse.Namespace, system: checkup.System, heard: Heard | None, wall_s: float) -> Iterator[Line]:
    """Card, record, broker."""
    report, folder = _report_settings(arguments), _record_folder(arguments)
    record = folder / RECORD_NAME
    yield from checkup.card_lines(
        system, folder, record_mb=checkup.record_mb(record), grows_to_mb=report.record.max_size_mb
    )
    yield from checkup.record_lines(
        record, thorough=not arguments.hands_off, control_lives=heard is not None, wall_s=wall_s
    )
    secrets = folder / SECRETS_NAME
    try:
        password = read_secrets(secrets).get("mqtt", {}).get("password", "")
    except SecretsError as error:
        if report.mqtt.enabled and report.mqtt.username:
            yield Line("broker_unasked", {"text": error})
            return
        password = ""
    yield from checkup.broker_lines(report.mqtt, password, secrets)


def _record_folder(arguments: argparse.Namespace) -> Path:
    if arguments.data is not None:
        return Path(arguments.data)
    if not arguments.simulated and SYSTEM_STATE.exists():
        return SYSTEM_STATE
    return state_dir(simulated=arguments.simulated)


def _listen(arguments: argparse.Namespace) -> tuple[Heard | None, str | None]:
    """The running control of the kind that is asked for; else why one that may run could not be heard."""
    named = [arguments.socket] if arguments.socket else control_sockets(arguments.data, simulated=arguments.simulated)
    for place in named:
        try:
            with LinkClient(str(place), "check") as client:
                return Heard(place, client.hello, line.now_of(client)), None
        except LinkAbsentError:
            continue
        except (LinkError, Unusable) as error:
            return None, str(error)
    return None, None


def _as_heard(arguments: argparse.Namespace, settings: Settings, heard: Heard) -> Iterator[Line]:
    """The wiring as a running control measures it, if it is this file's."""
    hello, values = heard.hello, {"place": heard.place.parent, "boat": heard.hello.get("boat", "?")}
    if hello.get("simulated") is not arguments.simulated:
        yield Line("wiring_simulated" if hello.get("simulated") else "wiring_real", values)
        return
    same_boat = hello.get("boat") == settings.boat.name
    if same_boat and not _is_demo(arguments):
        running = hello.get("configuration") or {}
        changes = waiting_changes(running, configuration_in_force(settings))
        if changes and waiting_changes(running, configuration_in_force(quick(settings))):
            yield Line("configuration_waits", more=changes)
    if not same_boat or hello.get("wiring") != wiring_mark(settings):
        yield Line("wiring_of_another", values)
        return
    seen = from_snapshot(settings, heard.now)
    calibrated = [entry["channel"] for entry in hello.get("calibrations") or ()]
    told = list(_shown_lines(settings, seen))
    if calibrated:
        names = ", ".join(words.channel_name(channel) for channel in calibrated)
        told.append(f"note: calibrations on top of the file are in force for {names} (halocline calibrate --list)")
    yield Line("wiring_heard_running" if seen.at_rest is False else "wiring_heard", more=told)
    yield from _judged(settings, seen)


def _directly(arguments: argparse.Namespace, settings: Settings) -> tuple[Looked | None, list[Line]]:
    """The wiring looked at in control's place."""
    if arguments.hands_off:
        return None, [Line("wiring_unasked", {"text": HANDS_OFF})]
    try:
        looked = look_at_wiring(settings, *_places(arguments))
    except NoBoard as error:
        elsewhere = error.absent and not checkup.is_a_boats(checkup.System())
        return None, [Line("wiring_not_looked" if elsewhere else "wiring_cannot", {"text": error})]
    except CannotStart as error:
        return None, [Line("wiring_not_looked", {"text": error})]
    told = list(_shown_lines(settings, looked.look))
    return looked, [Line("wiring_direct", more=told), *_judged(settings, looked.look)]


def _judged(settings: Settings, seen: WiringSurvey) -> Iterator[Line]:
    findings = wiring_findings(settings, seen)
    for finding in findings:
        yield Line("wiring_finding", {"text": words.reason(finding.as_message())})
    if not findings:
        yield Line("wiring_fits")


def _pins(system: checkup.System, heard: Heard | None, looked: Looked | None) -> Iterator[Line]:
    """The relay, and who has the pins."""
    if heard is not None and not heard.hello.get("simulated"):
        state = State(heard.now["state"])
        if heard.now.get("ask") == Ask.REARM_RELAY:
            yield Line("relay_open")
        else:
            moving = state not in AT_REST and state not in {State.BENCH, State.HAND_RUN}
            yield Line("relay_drives" if moving else "relay_unmeasured")
        yield Line("pins_held")
    elif looked is not None:
        yield Line("relay_stopped")
        if looked.chip is not None:
            yield Line("pins_opened", {"chip": looked.chip})
    yield checkup.released_line(system, None if looked is None else looked.released_stay)


def _shown_lines(settings: Settings, seen: WiringSurvey) -> Iterator[str]:
    """Each reading with what was measured, each contact, the interlock, and what had to be asked again."""
    for channel in sorted(seen.readings, key=list(CHANNELS).index):
        reading = seen.readings[channel]
        shown = _shown(channel, settings.inputs.get(channel), reading, seen.at_rest)
        yield f"{words.channel_name(channel)}: {shown}"
    for contact, active in seen.active.items():
        yield f"{words.contact_name(contact)}: {'active (circuit open)' if active else 'at rest (circuit closed)'}"
    if settings.interlock is not None and not seen.interlock_lost:
        opens = words.quantity(settings.interlock.opens_bar, "bar")
        yield f"interlock: chip 0x{settings.interlock.address:02x} holds its window, opens above {opens}"
    for address, count in seen.retries.items():
        if count and address not in seen.chip_errors:
            times = "once" if count == 1 else f"{count} times"
            yield f"chip 0x{address:02x}: had to be asked again {times}; that is noise or a loose plug"


def _shown(channel: str, sensor: Input | None, reading: Reading, at_rest: bool | None) -> str:
    digits, unit = (1, "Hz") if isinstance(sensor, Pulses) else (3, "V")
    raw = "" if reading.raw is None else f" (measured {reading.raw:.{digits}f} {unit})"
    if reading.quality is Quality.GOOD:
        return f"{words.quantity(reading.value, reading.unit)}{raw}"
    if at_rest is not False and is_dry(channel, reading.quality):
        return f"dry, as it may be at rest{raw}"
    return f"{words.quality_text(reading.quality.value)}{raw}"


# ---- the proof of the interlock --------------------------------------------------------------------


def _prove(arguments: argparse.Namespace, settings: Settings) -> int:
    fitted = settings.interlock
    if fitted is None:
        print("This configuration has no [interlock]: there is nothing to prove.")
        return 1
    opens = words.quantity(fitted.opens_bar, "bar")
    print(f"Proof test of the comparator interlock: chip 0x{fitted.address:02x}, opens above {opens}.")
    if _listen(arguments) != (None, None):
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
