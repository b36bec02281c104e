"""Puts the control process together: board, loop in this thread, scanner and housekeeping in theirs."""

import contextlib
import gc
import logging
import signal
import threading
import time
from collections.abc import Callable
from pathlib import Path

from halocline import __version__
from halocline.app import last_words, notify, safe_outputs, supply
from halocline.app.boards import NO_SEA, CannotStart, drive_simulated_safe, open_board
from halocline.app.locks import AlreadyRuns, only_one
from halocline.app.logs import start_logging
from halocline.app.orphans import end_with_supervisor
from halocline.app.os_errors import in_words
from halocline.app.paths import LATCH_FILE, SYSTEM_CONFIG, make_private, truth_socket
from halocline.app.priority import CONTROL, take_precedence
from halocline.app.simulator_client import SimulatorClient
from halocline.app.wiring_access import LOCK_FILE
from halocline.config import load_control, load_demo
from halocline.config import quick as shortened
from halocline.control.acquisition.board import Board
from halocline.control.acquisition.hardware_interlock import armed
from halocline.control.calibration import calibration_store as calibration_file
from halocline.control.core import Core
from halocline.control.exchange import World
from halocline.control.housekeeping import (
    Housekeeping,
    Identity,
    configuration_in_force,
    host_boot,
    new_boot,
    wall_clock_s,
    wiring_mark,
)
from halocline.control.inputs import Command
from halocline.control.loop import ControlLoop, Tick
from halocline.control.retained import retained_state as retained_file
from halocline.control.retained.retained_state import Moment
from halocline.link.messages import LinkError
from halocline.plant.own_files import refuse_open_to_all
from halocline.plant.settings import Settings
from halocline.rehearsal.board_wiring import wiring_of
from halocline_hw import drive_raspberry_pi_safe, safe_levels

CALIBRATIONS_FILE = "calibrations"

log = logging.getLogger(__name__)


def settings_for(config: Path | None, *, simulated: bool, quick: bool) -> Settings:
    """Control's settings: the file's, or the demo boat's when simulated without one. Raises ConfigError."""
    if config is None and simulated:
        return load_demo(quick=quick)[0]
    settings = load_control(config or SYSTEM_CONFIG, simulated=simulated)
    return shortened(settings) if quick else settings


def run_control(
    settings: Settings, *, data_dir: Path, socket_path: Path, sea_path: Path | None, group: str | None = None
) -> int:
    """Run control until SIGTERM or SIGINT. Raises CannotStart with one clear line."""
    end_with_supervisor()
    logging_thread = start_logging("control")
    try:
        make_private(data_dir)
        socket_path.parent.mkdir(mode=0o750, parents=True, exist_ok=True)
        refuse_open_to_all(socket_path.parent)
        with only_one(data_dir / LOCK_FILE, "control"):
            _run(settings, data_dir, socket_path, sea_path, group)
    except AlreadyRuns as error:
        raise CannotStart(str(error)) from error
    except (CannotStart, OSError, LinkError) as error:
        said = in_words(error) if isinstance(error, OSError) else str(error)
        last_words.leave(socket_path, [said])
        raise CannotStart(said) from error
    finally:
        logging_thread.stop()
    return 0


def _run(settings: Settings, data_dir: Path, socket_path: Path, sea_path: Path | None, group: str | None) -> None:
    clock, board = open_board(settings, sea_path)
    if sea_path is None:
        safe_outputs.leave(safe_levels(wiring_of(settings)))
    last_words.forget(socket_path)
    armed(board, settings, clock)
    started_s = clock.now()
    identity = Identity(
        boot=new_boot(),
        host_boot=host_boot(),
        simulated=sea_path is not None,
        version=__version__,
        started_s=started_s,
        boat=settings.boat.name,
        configuration=configuration_in_force(settings),
        wiring=wiring_mark(settings),
    )
    world = World()
    retained = retained_file.read(data_dir / LATCH_FILE)
    now = Moment(wall_clock_s(), time.monotonic(), identity.host_boot)
    same_start = retained.saved.same_start(now)
    core = Core(
        settings,
        retained,
        started_s,
        boot=identity.boot,
        simulated=identity.simulated,
        off_s=retained_file.off_s(retained, now),
        computer=None if same_start is None else not same_start,
        calibrations=calibration_file.read(data_dir / CALIBRATIONS_FILE),
    )
    tick = Tick(settings, board, clock, core, world)
    beat = _Beat()
    loop = ControlLoop(tick, clock, beat.good_tick)
    housekeeping = Housekeeping(
        identity,
        socket_path,
        data_dir / LATCH_FILE,
        data_dir / CALIBRATIONS_FILE,
        world,
        loop.commands,
        loop.news,
        group=group,
        on_simulate=_simulate(sea_path),
        calibrations=core.plant.calibrating.in_force,
        recent=tick.recent,
        threaded=True,
    )
    stopping = threading.Event()
    keeping = threading.Thread(
        target=_keep, args=(housekeeping, world, beat, stopping), name="housekeeping", daemon=True
    )
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: loop.stop())
    gc.collect()
    gc.freeze()
    take_precedence(CONTROL)
    try:
        keeping.start()
        notify.ready()
        loop.run()
    finally:
        notify.stopping()
        stopping.set()
        keeping.join(timeout=1.0)
        _close(board)


def _close(board: Board) -> None:
    try:
        board.close()
    except OSError as error:
        log.critical("not every output could be released: %s", in_words(error))


class _Beat:
    """Feeds systemd's watchdog, from the loop itself and only for completed good ticks."""

    def __init__(self) -> None:
        self.begun = False
        """Whether there was any good tick."""

    def good_tick(self) -> None:
        self.begun = True
        notify.watchdog()


def _keep(housekeeping: Housekeeping, world: World, beat: _Beat, stopping: threading.Event) -> None:
    """the housekeeping thread: an error in what can wait is logged and never reaches the loop."""
    proved, flag = False, supply.flag_file()
    while not stopping.is_set():
        try:
            if beat.begun and not proved:
                safe_outputs.prove()
                proved = True
            world.supply_voltage_low = bool((supply.flags(flag) or 0) & supply.LOW_NOW)
            housekeeping.poll()
        except Exception:
            log.exception("housekeeping stumbled; control goes on")
            stopping.wait(0.2)
    with contextlib.suppress(OSError, LinkError):
        housekeeping.close()


def _simulate(sea_path: Path | None) -> Callable[[Command], str | None]:
    if sea_path is None:
        return lambda _command: "only a simulated boat has faults to order"
    client = SimulatorClient(truth_socket(sea_path))
    return lambda command: client.inject(dict(command.arguments))


def drive_safe(config: Path | None, *, simulated_sea: Path | None) -> None:
    """Every output to its safe side, whatever control is doing. Raises CannotStart."""
    try:
        settings = settings_for(config, simulated=simulated_sea is not None, quick=False)
        wiring = wiring_of(settings)
        if simulated_sea is None:
            drive_raspberry_pi_safe(wiring)
            return
        if not simulated_sea.exists():
            raise CannotStart(NO_SEA.format(place=simulated_sea.parent))
        drive_simulated_safe(wiring, simulated_sea)
    except OSError as error:
        raise CannotStart(in_words(error)) from error
