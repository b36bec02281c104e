"""A stand-in for control at the other end of the command line: the real link, told by the test what to answer."""

import queue
import sys
import tempfile
import threading
import time
from pathlib import Path

import pytest

import live_snapshot
from live_snapshot import reading

sys.path.insert(0, str(Path(__file__).parent))

from halocline import __version__
from halocline.app.checkup import System
from halocline.app.paths import truth_socket
from halocline.app.plant_simulator import PlantSimulator, truths_of
from halocline.cli import check
from halocline.cli.main import main
from halocline.config import load_demo
from halocline.control.housekeeping import wiring_mark
from halocline.link.ring import Ring
from halocline.link.server import LinkServer
from halocline.simulation import PlantParameters


def live_now(**changes):
    readings = {
        "vessel_pressure": reading(0.2, raw=0.61),
        "tank_fill": reading(None, "%", "open", raw=0.0),
    }
    return live_snapshot.live_now(**{"readings": readings, **changes})


HELLO = {
    "boat": "Cagarra",
    "host_boot": "h",
    "simulated": True,
    "mono_s": 1.0,
    "wall_s": None,
    "version": __version__,
    "wiring": wiring_mark(load_demo()[0]),
}


class StandIn:
    """Answers every command with `accepted` and `reasons`, and says `now` all the time unless it is silent."""

    def __init__(self, folder):
        self.folder = folder
        self.now = live_now()
        self.calibrations = []
        self.hello = {}
        self.accepted = True
        self.reasons = []
        self.silent = False
        self.heard = queue.Queue()
        self._ending = threading.Event()
        self._server = LinkServer(str(folder / "control.sock"), Ring("b1"), self._hello, self._answer)
        self._thread = threading.Thread(target=self._live, daemon=True)
        self._thread.start()

    def _hello(self):
        return {**HELLO, "calibrations": self.calibrations, **self.hello}

    def _answer(self, message, peer):
        self.heard.put(message)
        if not self.silent:
            self._server.answer(peer.token, message["id"], accepted=self.accepted, reasons=self.reasons)

    def _live(self):
        due_s = 0.0
        while not self._ending.is_set():
            self._server.poll(0.01)
            if time.monotonic() > due_s and not self.silent:
                due_s = time.monotonic() + 0.02
                self._server.publish_now(self.now)

    def end(self):
        if not self._ending.is_set():
            self._ending.set()
            self._thread.join(5.0)
            self._server.close()


@pytest.fixture(autouse=True)
def computer(tmp_path, monkeypatch):
    """The computer that `check` finds: an empty one, whichever runs the tests."""
    root = tmp_path / "computer"
    root.mkdir()
    monkeypatch.setattr(check.checkup, "System", lambda: System(root, ask=lambda _command: None))
    return root


@pytest.fixture
def folder():
    """A data folder whose path is short enough for a socket."""
    with tempfile.TemporaryDirectory(prefix="boat-", dir="/tmp") as name:
        yield Path(name)


@pytest.fixture
def control(folder):
    stand_in = StandIn(folder)
    yield stand_in
    stand_in.end()


@pytest.fixture
def demo_boat(folder):
    """The simulated boat without its processes, answering at its socket."""
    settings = load_demo()[0]
    boat = PlantSimulator(settings, PlantParameters.for_settings(settings), seed=1)
    with truths_of(boat, truth_socket(folder / "sea.sock")):
        yield boat


@pytest.fixture
def type_in(capsys):
    """A command as typed: exit status, lines on standard output, lines on standard error."""

    def run(*arguments):
        try:
            status = main([str(argument) for argument in arguments])
        except SystemExit as leaving:
            status = leaving.code
        out, err = capsys.readouterr()
        return status, out.splitlines(), err.splitlines()

    return run
