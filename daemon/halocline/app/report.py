"""Puts the report process together: settings (or what is wrong with them), the link's place, the services."""

from collections.abc import Callable
from pathlib import Path

from halocline.app import notify
from halocline.app.logs import start_logging
from halocline.app.orphans import end_with_supervisor
from halocline.app.places import SYSTEM_CONFIG, make_private
from halocline.config import ConfigError, load_demo, load_report, read_document
from halocline.plant.settings import ReportSettings
from halocline.report.server import Listening, ReportError, ReportOptions, run_report

NAMELESS = "a boat without a name"
SIMULATED_BATCH_S = 5.0


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
    end_with_supervisor()
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
        )
        return run_report(options, lambda listening: _announce(listening, simulated=simulated, say=say))
    except OSError as error:
        raise ReportError(str(error)) from error
    finally:
        notify.stopping()
        logging_thread.stop()


def _settings(config: Path | None, *, simulated: bool) -> ReportSettings | list[str]:
    if config is None and simulated:
        return load_demo()[1]
    try:
        return load_report(config or SYSTEM_CONFIG)
    except ConfigError as error:
        return [str(problem) for problem in error.problems]


def boat_name(config: Path | None, *, simulated: bool) -> str:
    """The boat's name, read leniently: the page has to come up even when the rest of the file is wrong."""
    if config is None and simulated:
        return load_demo()[0].boat.name
    try:
        boat = read_document(config or SYSTEM_CONFIG).get("boat", {})
    except ConfigError:
        return NAMELESS
    name = boat.get("name") if isinstance(boat, dict) else None
    return name if isinstance(name, str) and name else NAMELESS


def _announce(listening: Listening, *, simulated: bool, say: Callable[[str], None]) -> None:
    notify.ready()
    say(f"{listening.url}/")
    say(f"From a phone on the boat's network: {listening.network_url}/")
    if simulated:
        say("SIMULATED: no plant is connected; nothing here moves real water.")
    if listening.one_time_pin is not None:
        say(f"This computer needs no PIN. Other devices use {listening.one_time_pin} until this stops.")
