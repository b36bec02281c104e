"""`halocline run`: starts control and report (and sea, when simulated), restarts what dies, prints the address.

The processes are the same as aboard; only who starts them differs.
"""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from halocline.app.locks import only_one, wait_until_free
from halocline.app.orphans import SUPERVISED_BY
from halocline.app.paths import make_private, socket_in

LOCK_FILE = "run.lock"
CHILD_LOCKS = {"sea": "sea.lock", "control": "control.lock"}
LEFT_BEHIND_S = 3.0
UNUSABLE = 2
TRIES = 4
RESTART_AFTER_S = 0.3
CALM_AFTER_S = 10.0
LONGEST_RESTART_S = 5.0
END_WITHIN_S = 2.5
POLL_S = 0.05
PORTS_TRIED = 50


@dataclass(slots=True)
class Child:
    """One process that is to be kept running."""

    name: str
    arguments: Sequence[str]
    process: subprocess.Popen[bytes] | None = None
    started_s: float = 0.0
    restart_s: float = 0.0
    failures: int = 0
    refusals: int = 0

    @property
    def hopeless(self) -> bool:
        """Whether it keeps saying that it cannot be used as it is: only a person can mend that."""
        return self.refusals >= TRIES

    def start(self, now_s: float) -> None:
        """Start it in a session of its own, so that Ctrl-C reaches it through us alone, in order."""
        command = [sys.executable, "-m", "halocline", *self.arguments]
        environment = {**os.environ, SUPERVISED_BY: str(os.getpid())}
        self.process = subprocess.Popen(command, stdin=subprocess.DEVNULL, start_new_session=True, env=environment)
        self.started_s = now_s

    def watch(self, now_s: float, say: Callable[[str], None]) -> bool:
        """Start it again, ever more slowly if it keeps dying; whether it was found dead just now."""
        if self.process is None:
            if now_s >= self.restart_s:
                self.start(now_s)
            return False
        status = self.process.poll()
        if status is None:
            return False
        self.process = None
        self.failures = self.failures + 1 if now_s - self.started_s < CALM_AFTER_S else 0
        self.refusals = self.refusals + 1 if status == UNUSABLE and self.failures else 0
        wait_s = min(LONGEST_RESTART_S, RESTART_AFTER_S * 2 ** max(0, self.failures - 1))
        self.restart_s = now_s + wait_s
        say(f"{self.name} ended ({_how(status)}); it starts again in {wait_s:.1f} s")
        return True

    def terminate(self) -> None:
        """Ask it to end."""
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()

    def wait(self, deadline_s: float) -> None:
        """Wait for its end, and make it end at the deadline."""
        if self.process is None:
            return
        try:
            self.process.wait(max(0.05, deadline_s - time.monotonic()))
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


def _how(status: int) -> str:
    return f"killed by {signal.Signals(-status).name}" if status < 0 else f"exit status {status}"


@dataclass(slots=True)
class Plan:
    """What to run and where. greeting: what is said first, once the folder is ours."""

    config: Path | None
    data_dir: Path
    port: int
    simulated: bool
    quick: bool
    greeting: Sequence[str] = ()
    children: list[Child] = field(default_factory=list)


def children_of(plan: Plan) -> list[Child]:
    """The processes of one boat, in the order of their start."""
    config = ["--config", str(plan.config)] if plan.config else []
    data = ["--data", str(plan.data_dir)]
    simulated = ["--simulated"] if plan.simulated else []
    quick = ["--quick"] if plan.quick else []
    sea = [Child("sea", ["sea", *config, *data, *quick])] if plan.simulated else []
    return [
        *sea,
        Child("control", ["control", *config, *data, *simulated, *quick]),
        Child("report", ["report", *config, *data, *simulated, *quick, "--port", str(plan.port)]),
    ]


def lock_beside(data_dir: Path, name: str) -> Path:
    """The lock file of one of our processes."""
    return (socket_in(data_dir, "sea").parent if name == "sea" else data_dir) / CHILD_LOCKS[name]


def free_port(wanted: int, *, search: bool) -> int:
    """The wanted port, or with `search` the next free one. Raises OSError when there is none."""
    for port in range(wanted, wanted + (PORTS_TRIED if search else 1)):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("0.0.0.0", port))
            except OSError:
                continue
            return port
    raise OSError(f"port {wanted} is taken; choose another with --port, or end the program that has it")


class Supervisor:
    """Runs a plan until told to stop."""

    def __init__(self, plan: Plan, say: Callable[[str], None]) -> None:
        self._plan = plan
        self._say = say
        self._stopping = threading.Event()
        self._children = children_of(plan)

    def run(self) -> int:
        """Start everything, watch over it, stop it; the exit status.

        Raises OSError when the data folder cannot be used, AlreadyRuns when a boat lives in it.
        """
        make_private(self._plan.data_dir)
        make_private(socket_in(self._plan.data_dir, "control").parent)
        with only_one(self._plan.data_dir / LOCK_FILE, "boat"):
            return self._run()

    def _run(self) -> int:
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, lambda *_: self._stopping.set())
        for line in self._plan.greeting:
            self._say(line)
        self._wait_for_predecessors()
        for child in self._children:
            child.start(time.monotonic())
        hopeless: list[str] = []
        while not hopeless and not self._stopping.wait(POLL_S):
            self._look_after()
            hopeless = [child.name for child in self._children if child.hopeless and child.name != "report"]
        if hopeless:
            self._say(f"{' and '.join(hopeless)} cannot start, for the reason above; mend it and run again")
        self._end()
        return UNUSABLE if hopeless else 0

    def _wait_for_predecessors(self) -> None:
        """The processes of a supervisor that was killed are still ending; they must not meet the new ones."""
        for child in self._children:
            if child.name in CHILD_LOCKS:
                wait_until_free(lock_beside(self._plan.data_dir, child.name), child.name, LEFT_BEHIND_S)

    def _look_after(self) -> None:
        """Start again what has ended. Control goes with the electronics it had claimed."""
        for child in self._children:
            ended = child.watch(time.monotonic(), self._say)
            if ended and child.name == "sea":
                for other in self._children:
                    if other.name == "control":
                        other.terminate()

    def _end(self) -> None:
        """Report and control first (control leaves every output off), sea last; nobody is waited for long."""
        self._say("stopping …")
        deadline_s = time.monotonic() + END_WITHIN_S
        boat = [child for child in self._children if child.name != "sea"]
        for together in (boat, [child for child in self._children if child.name == "sea"]):
            for child in together:
                child.terminate()
            for child in together:
                child.wait(deadline_s)
