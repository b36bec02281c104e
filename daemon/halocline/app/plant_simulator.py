"""The sea process: the simulated boat behind emulated chips and pins, so that killing control shows what it
would show aboard.

It owns the registers, the pins, the time-out relay and the plant. A thread reads control's snapshots as a person
reads the page and tells the simulated hand what is asked; another answers for the truth.
"""

import contextlib
import dataclasses
import json
import logging
import signal
import socketserver
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from halocline.app.locks import only_one
from halocline.app.logs import start_logging
from halocline.app.orphans import end_with_supervisor
from halocline.app.paths import make_private, truth_socket
from halocline.app.priority import SEA, take_precedence
from halocline.link.client import LinkClient
from halocline.link.messages import LinkError
from halocline.plant.settings import Settings
from halocline.plant.thresholds import SWITCH_S
from halocline.rehearsal.board_wiring import wiring_of
from halocline.simulation import PlantParameters, Sea
from halocline_hw import RealClock
from halocline_hw.board_server import BoardServer
from halocline_hw.emulated import EmulatedBoard

ADVANCE_EVERY_S = 0.02
LOOK_AGAIN_S = 0.5

log = logging.getLogger(__name__)


class PlantSimulator:
    """A simulated boat on the real clock, safe to touch from several threads."""

    def __init__(self, settings: Settings, parameters: PlantParameters, seed: int) -> None:
        self._lock = threading.RLock()
        self._clock = RealClock()
        wiring = wiring_of(settings)
        self._sea = Sea(settings, parameters, seed, self._clock.now(), slip=True, on_chip_fault=self._on_chip_fault)
        self.board = EmulatedBoard(
            wiring,
            {address: self._volts(address) for address in wiring.chip_addresses()},
            self._clock,
            on_output=self._on_output,
            charge_wire_time=False,
        )
        self._contacts = tuple(wiring.contacts)
        self._closed: dict[str, bool] = {}
        for line in wiring.pulses:
            self.board.pins.set_pulse_source(line, self._pulses(line))

    def _volts(self, address: int) -> Any:
        def volts(mux: int, _t_s: float) -> float:
            with self._lock:
                return self._sea.volts(address, mux, self._clock.now())

        return volts

    def _pulses(self, line: str) -> Any:
        def pulses(_t_s: float) -> float:
            with self._lock:
                return float(self._sea.edges(line, self._clock.now())[0])

        return pulses

    def _on_output(self, line: str, energised: bool, _t_s: float) -> None:
        with self._lock:
            self._sea.set_output(line, energised, self._clock.now())

    def _on_chip_fault(self, name: str, address: int, clear: bool) -> None:
        if clear:
            self.board.bus.clear_fault(name, address)
        else:
            self.board.bus.set_fault(name, address)

    def advance(self) -> None:
        """Let the boat live until now, and its contacts follow."""
        # Asked for outside of the lock: the chip asks the boat for its volts, from other threads too.
        interlock_open = self.board.interlock_open()
        with self._lock:
            now_s = self._clock.now()
            self._sea.advance(now_s)
            self._sea.set_interlock(interlock_open, now_s)
            closed = {line: self._sea.contact_closed(line, now_s) for line in self._contacts}
        for line, is_closed in closed.items():
            if self._closed.get(line) is not is_closed:
                self._closed[line] = is_closed
                self.board.pins.set_contact(line, is_closed)

    def ask(self, ask: str | None) -> None:
        """What the page asks of a person."""
        with self._lock:
            self._sea.ask(ask, self._clock.now())

    def answer(self, request: dict[str, Any]) -> dict[str, Any]:
        """Answer one question of the truth socket."""
        with self._lock:
            now_s = self._clock.now()
            if "fault" in request:
                return self._inject(dict(request["fault"]), now_s)
            if "faults" in request:
                return self._sea.faults()
            truth = dataclasses.asdict(self._sea.truth(now_s))
            return {**truth, "pins": self.board.pins.outputs()}

    def _inject(self, arguments: dict[str, Any], now_s: float) -> dict[str, Any]:
        name, clear = str(arguments.pop("fault", "")), bool(arguments.pop("clear", False))
        try:
            self._sea.inject(name, now_s, clear=clear, **arguments)
        except (ValueError, TypeError) as error:
            return {"refused": str(error)}
        return {"done": True}


class _Handler(socketserver.StreamRequestHandler):
    """One question, one answer."""

    def handle(self) -> None:
        server = self.server
        assert isinstance(server, _TruthServer)
        try:
            request = json.loads(self.rfile.readline(65536))
            answer = server.sea.answer(request)
        except (ValueError, TypeError, AttributeError) as error:
            answer = {"refused": f"not understood: {error}"}
        self.wfile.write(json.dumps(answer).encode() + b"\n")


class _TruthServer(socketserver.ThreadingUnixStreamServer):
    daemon_threads = True

    def __init__(self, path: Path, sea: PlantSimulator) -> None:
        path.unlink(missing_ok=True)
        super().__init__(str(path), _Handler)
        self._path = path
        self.sea = sea

    def end(self) -> None:
        """Stop answering and take the socket away."""
        self.shutdown()
        self.server_close()
        self._path.unlink(missing_ok=True)


@contextlib.contextmanager
def truths_of(sea: PlantSimulator, path: Path) -> Iterator[None]:
    """A simulated boat that answers for itself at a socket."""
    server = _TruthServer(path, sea)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield
    finally:
        server.end()


def run_sea(settings: Settings, *, quick: bool, board_path: Path, control_path: Path, seed: int = 1) -> int:
    """Run the simulated boat until SIGTERM or SIGINT. Raises OSError if its sockets cannot be had,
    AlreadyRuns if another has them."""
    end_with_supervisor()
    make_private(board_path.parent)
    with only_one(board_path.with_name("sea.lock"), "simulated boat"):
        return _run(settings, quick, board_path, control_path, seed)


def _run(settings: Settings, quick: bool, board_path: Path, control_path: Path, seed: int) -> int:
    logging_thread = start_logging("sea")
    parameters = PlantParameters.for_settings(settings)
    sea = PlantSimulator(settings, parameters.quick() if quick else parameters, seed)
    boards = BoardServer(str(board_path), sea.board.bus, sea.board.pins)
    stopping = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stopping.set())
    sys.setswitchinterval(SWITCH_S)
    take_precedence(SEA)
    boards.start()
    threading.Thread(target=_read_the_page, args=(control_path, sea, stopping), daemon=True).start()
    with truths_of(sea, truth_socket(board_path)):
        while not stopping.is_set():
            sea.advance()
            stopping.wait(ADVANCE_EVERY_S)
    boards.close()
    logging_thread.stop()
    return 0


def _read_the_page(control_path: Path, sea: PlantSimulator, stopping: threading.Event) -> None:
    """What a person at the page sees asked; without a page nobody asks anything."""
    while not stopping.is_set():
        with contextlib.suppress(LinkError, OSError), LinkClient(str(control_path), "hand") as client:
            while not stopping.is_set():
                message = client.receive(1.0)
                if message is None:
                    sea.ask(None)
                elif "now" in message:
                    sea.ask(message["now"].get("ask"))
        sea.ask(None)
        time.sleep(LOOK_AGAIN_S)
