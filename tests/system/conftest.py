"""A whole simulated boat in real processes, as `halocline run --simulated --quick` starts it."""

import contextlib
import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import pytest

from halocline.app.paths import socket_in
from halocline.app.simulator_client import SimulatorClient

HALOCLINE = (sys.executable, "-m", "halocline")
DANGEROUS = ("high_pressure_pump", "product_to_tank", "flush_valve")
"""What has to be off within the time-out relay's second; the feed pump's coil is held ten seconds longer on
purpose, so that it outlasts the high-pressure pump."""


def until(condition, timeout_s=30.0, every_s=0.05, what="waited in vain"):
    end_s = time.monotonic() + timeout_s
    while not (found := condition()):
        assert time.monotonic() < end_s, what
        time.sleep(every_s)
    return found


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def alive(pid):
    """Whether the process still runs; one that only waits for its parent to notice does not."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text(encoding="ascii")
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


def processes_of(data_dir):
    """Name → process id of every process of ours that works in this data folder."""
    found = {}
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        with contextlib.suppress(OSError):
            words = (entry / "cmdline").read_bytes().decode(errors="replace").split("\0")
            if "halocline" in words and str(data_dir) in words and alive(int(entry.name)):
                found[words[words.index("halocline") + 1]] = int(entry.name)
    return found


class Boat:
    """A running `halocline run --simulated --quick` and every way to speak to it."""

    def __init__(self, data_dir, *options, port=None):
        self.data_dir = data_dir
        port = port or free_port()
        self.started_s = time.monotonic()
        self.supervisor = subprocess.Popen(
            [*HALOCLINE, "run", "--simulated", "--quick", "--data", str(data_dir), "--port", str(port), *options],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        self.lines = []
        self._reading = threading.Thread(target=self._read, daemon=True)
        self._reading.start()
        self.sea = SimulatorClient(socket_in(data_dir, "truth"))

    def _read(self):
        for line in self.supervisor.stdout:
            self.lines.append(line.rstrip("\n"))

    # ---- the outside of it ----

    @property
    def address(self):
        return next((line for line in self.lines if line.startswith("http://")), None)

    def wait_ready(self, timeout_s=40.0):
        """Page up, plant at rest, relays armed by the simulated hand."""
        until(lambda: self.address, timeout_s, what="no address was printed")
        self.wait(lambda now: "start" in now["allowed_commands"] and self.truth()["relay_closed"], timeout_s)
        return self

    def pid(self, name):
        return processes_of(self.data_dir).get(name)

    @staticmethod
    def alive(pid):
        return alive(pid)

    def kill(self, name, number=signal.SIGKILL):
        """Send a signal to one process; its id."""
        pid = self.pid(name)
        os.kill(pid, number)
        return pid

    def end(self, number=signal.SIGINT, timeout_s=15.0):
        """Stop it as Ctrl-C would; seconds taken and exit status."""
        began_s = time.monotonic()
        self.supervisor.send_signal(number)
        status = self.supervisor.wait(timeout_s)
        took_s = time.monotonic() - began_s
        self._reading.join(5.0)
        self.supervisor.stdout.close()
        return took_s, status

    def clear_away(self):
        """Whatever a failed test left behind."""
        if self.supervisor.poll() is None:
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.end()
        for pid in processes_of(self.data_dir).values():
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        if self.supervisor.poll() is None:
            self.supervisor.wait(5.0)
        self._reading.join(5.0)
        self.supervisor.stdout.close()

    # ---- the page's side ----

    def http(self, method, path, body=None, headers=(), timeout_s=10.0):
        """Status and JSON of one request."""
        host, _, port = self.address.removeprefix("http://").rstrip("/").partition(":")
        connection = http.client.HTTPConnection(host, int(port), timeout=timeout_s)
        try:
            content = None if body is None else json.dumps(body)
            connection.request(method, path, content, {"Content-Type": "application/json", **dict(headers)})
            answer = connection.getresponse()
            return answer.status, json.loads(answer.read() or b"null")
        finally:
            connection.close()

    def now(self):
        """The public snapshot, None while the page does not answer."""
        try:
            return self.http("GET", "/api/v1/now")[1]
        except OSError:
            return None

    def wait(self, condition, timeout_s=60.0):
        """Wait for a live snapshot of which `condition` is true."""

        def fulfilled():
            now = self.now()
            return now if now and now["link"]["control"] == "live" and condition(now) else None

        try:
            return until(fulfilled, timeout_s, 0.1)
        except AssertionError:
            now = self.now() or {}
            seen = {key: now.get(key) for key in ("state", "sentence", "first_out", "owed", "link")}
            alarms = [alarm["id"] for alarm in now.get("alarms") or ()]
            against = (now.get("refused") or {}).get("start", [])
            relay = "closed" if self.truth()["relay_closed"] else "open"
            raise AssertionError(
                f"still {seen}, alarms {alarms}, against a start {against}, relay {relay}; said {self.lines[-8:]}"
            ) from None

    def wait_state(self, *states, timeout_s=60.0):
        return self.wait(lambda now: now["state"] in states, timeout_s)

    def order(self, command, **arguments):
        """A command as the page gives it; the answer."""
        body = {"command": command, **arguments}
        _, answer = self.http("POST", "/api/v1/commands", body, {"X-Halocline": "1"})
        return answer

    # ---- the plant's side ----

    def truth(self):
        """What is true aboard. Tried again while sea is busy or not there yet."""

        def ask():
            with contextlib.suppress(OSError, ValueError):
                return self.sea.truth()
            return None

        return until(ask, 10.0, what="sea does not answer")

    def fault(self, name, **arguments):
        assert self.sea.inject({"fault": name, **arguments}) is None

    def safe_after(self, timeout_s=4.0):
        """Seconds of the plant's own time until every dangerous coil is without current."""
        began_s = self.truth()["time_s"]

        def safe():
            truth = self.truth()
            energised = [output for output in DANGEROUS if truth["effective_outputs"][output]]
            return None if energised else truth

        return until(safe, timeout_s, 0.01, "a coil stayed energised")["time_s"] - began_s

    # ---- the command line ----

    def cli(self, *arguments, timeout_s=60.0):
        """One command on this boat, in a process of its own."""
        return halocline(*arguments, "--data", str(self.data_dir), timeout_s=timeout_s)


def halocline(*arguments, timeout_s=30.0, given=None):
    """A command as a person types it."""
    return subprocess.run(
        [*HALOCLINE, *arguments], input=given, capture_output=True, text=True, timeout=timeout_s, check=False
    )


class Watch:
    """Looks at the truth of a boat again and again from a thread, and keeps what it saw."""

    def __init__(self, boat, every_s=0.05):
        self.seen = []
        self._boat = boat
        self._every_s = every_s
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def _look(self):
        while not self._ending.wait(self._every_s):
            with contextlib.suppress(OSError, ValueError):
                self.seen.append(self._boat.sea.truth())

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._ending.set()
        self._thread.join(5.0)

    def times(self, output):
        """Plant time of every look that found the pin of `output` driven."""
        return [truth["time_s"] for truth in self.seen if truth["pins"][output]]


def a_folder(leaving):
    return Path(leaving.enter_context(tempfile.TemporaryDirectory(prefix="boat-", ignore_cleanup_errors=True)))


@pytest.fixture(scope="module")
def a_boat():
    """Makes boats; all of them are gone when the module is over."""
    with contextlib.ExitStack() as leaving:

        def make(*options, data_dir=None, port=None):
            boat = Boat(data_dir or a_folder(leaving), *options, port=port)
            leaving.callback(boat.clear_away)
            return boat

        yield make


@pytest.fixture(scope="module")
def boat(a_boat):
    """One boat for the module, at rest and ready."""
    return a_boat().wait_ready()


@pytest.fixture
def ready(boat):
    """The module's boat once more at rest and ready to start."""
    return boat.wait_ready()


@pytest.fixture(scope="session")
def watch():
    return Watch


@pytest.fixture(scope="session")
def command():
    return halocline


@pytest.fixture
def port():
    return free_port()


@pytest.fixture(scope="session")
def wait_until():
    return until
