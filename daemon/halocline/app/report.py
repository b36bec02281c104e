"""Puts the report process together: settings (or what is wrong with them), the link's place, the services."""

import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from halocline.app import last_words, notify
from halocline.app.boat_name import boat_name
from halocline.app.logs import start_logging
from halocline.app.orphans import end_with_supervisor
from halocline.app.os_errors import in_words
from halocline.app.paths import SYSTEM_CONFIG, make_private, socket_in, state_dir, truth_socket
from halocline.app.simulator_client import SimulatorClient
from halocline.config import ConfigError, Problem, load_control, load_demo, load_report, read_document
from halocline.plant.settings import ReportSettings
from halocline.report.addresses import Place
from halocline.report.checkup import CheckError
from halocline.report.http.address import qr_lines
from halocline.report.server import Listening, ReportError, ReportOptions, run_report
from halocline.report.texts import REACHED_FROM_HERE_ONLY
from halocline.report.watched_file import WatchedFile

SIMULATED_BATCH_S = 5.0
MOST_ADDRESSES = 3
CHECK_WITHIN_S = 60.0


def serve(
    config: Path | None,
    *,
    data_dir: Path,
    socket_path: Path,
    port: int | None,
    simulated: bool,
    say: Callable[[str], None],
) -> int:
    """Serve until SIGTERM or SIGINT. Raises ReportError with one clear line."""
    supervised = end_with_supervisor()
    logging_thread = start_logging("report")
    try:
        make_private(data_dir)
        options = ReportOptions(
            settings=_settings(config, simulated=simulated),
            link_path=str(socket_path),
            data_dir=data_dir,
            boat=boat_name(config, simulated=simulated),
            simulated=simulated,
            port=port,
            batch_s=SIMULATED_BATCH_S if simulated else 60.0,
            faults=SimulatorClient(truth_socket(socket_in(data_dir, "sea"))).faults if simulated else None,
            config_name=str(config or SYSTEM_CONFIG),
            https_wanted=_https_wanted(config),
            control_problems=_control_problems(config, simulated=simulated),
            last_words=WatchedFile(last_words.beside(socket_path), last_words.read),
            check=partial(run_check, _check_command(config, data_dir, socket_path, simulated=simulated)),
            on_turn=notify.watchdog,
        )
        orders = orders_line(data_dir, simulated=simulated) if supervised else None
        return run_report(options, lambda listening: _announce(listening, simulated, orders, say))
    except OSError as error:
        raise ReportError(in_words(error)) from error
    finally:
        notify.stopping()
        logging_thread.stop()


def _settings(config: Path | None, *, simulated: bool) -> ReportSettings | list[Problem]:
    if config is None and simulated:
        return load_demo()[1]
    try:
        return load_report(config or SYSTEM_CONFIG)
    except ConfigError as error:
        return error.problems


def _https_wanted(config: Path | None) -> bool:
    """Whether the file asks for https, read leniently: the rest of it may be wrong."""
    try:
        http = read_document(config or SYSTEM_CONFIG).get("http")
    except ConfigError:
        return False
    return isinstance(http, dict) and bool(http.get("certificate"))


def _check_command(config: Path | None, data_dir: Path, socket_path: Path, *, simulated: bool) -> list[str]:
    """The check-up of this very boat, in a process of its own, that leaves the electronics to control."""
    places = {"--data": data_dir, "--socket": socket_path, "--config": config}
    named = [part for option, place in places.items() if place is not None for part in (option, str(place))]
    kind = ["--simulated"] if simulated else []
    return [sys.executable, "-I", "-m", "halocline", "check", "--json", "--hands-off", *kind, *named]


def run_check(command: Sequence[str]) -> str:
    """What a check-up prints; nothing of the command comes from outside. Raises CheckError."""
    try:
        done = subprocess.run(
            command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=CHECK_WITHIN_S, check=False
        )
    except subprocess.TimeoutExpired:
        raise CheckError(f"it was given up after {CHECK_WITHIN_S:.0f} s") from None
    except OSError as error:
        raise CheckError(in_words(error)) from error
    if not done.stdout:
        said = done.stderr.strip().splitlines() or [f"it ended with {done.returncode}"]
        raise CheckError(said[-1])
    return done.stdout


def _control_problems(config: Path | None, *, simulated: bool) -> Callable[[], Sequence[Problem]]:
    """What is wrong with control's tables in the file as it is at the moment of asking."""
    if config is None and simulated:
        return tuple
    return WatchedFile(config or SYSTEM_CONFIG, partial(_problems_of_control, simulated=simulated))


def _problems_of_control(path: Path, *, simulated: bool) -> Sequence[Problem]:
    try:
        load_control(path, simulated=simulated)
    except ConfigError as error:
        return error.problems
    return ()


def orders_line(data_dir: Path, *, simulated: bool) -> str:
    """What to type in another terminal, as it has to be typed on this computer."""
    folder = "" if data_dir == state_dir(simulated=simulated) else f" --data {shlex.quote(str(data_dir))}"
    return f"Ctrl-C here ends everything. In another terminal: {own_command()} start{folder} (or status, stop, --help)."


def own_command() -> str:
    """How a person calls this program from the present folder."""
    beside = Path(sys.executable).parent / "halocline"
    found = shutil.which("halocline")
    if found is not None and Path(found).resolve() == beside.resolve():
        return "halocline"
    try:
        return str(beside.relative_to(Path.cwd()))
    except ValueError:
        return str(beside)


def _announce(listening: Listening, simulated: bool, orders: str | None, say: Callable[[str], None]) -> None:
    notify.ready()
    say(listening.url)
    others = listening.others()
    for line in reached_from_others(others, picture=orders is not None):
        say(line)
    if simulated:
        say("SIMULATED: no plant is connected; nothing here moves real water.")
    if listening.one_time_pin is not None:
        say(f"This computer needs no PIN. Other devices use {listening.one_time_pin} until this stops.")
    if orders is not None:
        say(orders)


def reached_from_others(others: Sequence[Place], *, picture: bool) -> list[str]:
    """How a phone reaches the page, in words, and with `picture` as a QR code for its camera."""
    if not others:
        return [REACHED_FROM_HERE_ONLY]
    listed = " or ".join(dict.fromkeys(place.url for place in others[:MOST_ADDRESSES]))
    return [f"From a phone on the boat's network: {listed}", *(qr_lines(others[0].url) if picture else ())]
