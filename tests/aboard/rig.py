"""The rig as an object: start it, cut its power, order it about over ssh, read its pins with the kernel's own times.

Built by `build` beside this file. One guest at a time, at 10.99.0.2.
"""

import os
import re
import select
import shlex
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from stall import StallWatch

ADDRESS = "10.99.0.2"
HOST = "10.99.0.1"
DEVICE = "rig0"
MEMORY = "1024M"
UP_WITHIN_S = 180.0
STOP_WITHIN_S = 60.0
PRECEDENCE = 1
"""The guest's real-time priority: the lowest there is comes before everything that has none."""

CARD_BYTES = 512 << 20


class RigError(Exception):
    """The rig did not do what it is there for; the message says what, with what the guest said."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One thing that happened to an output line, in the guest's monotonic time."""

    at_s: float
    line: int
    what: str
    high: bool


class Rig:
    """The guest and the folder that it was built in."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.stalls: StallWatch | None = None
        self._pid = folder / "guest.pid"
        self._ssh = [
            "ssh",
            *("-q", "-i", str(folder / "key"), "-o", "StrictHostKeyChecking=no", "-o", "UserKnownHostsFile=/dev/null"),
            *("-o", "ConnectTimeout=5", "-o", "ControlMaster=auto", "-o", f"ControlPath={folder / 'ssh'}"),
            *("-o", "ControlPersist=600", f"root@{ADDRESS}"),
        ]

    def fresh(self) -> None:
        """Forget everything that was done to the guest: the next start is of the disk as it was built."""
        (self.folder / "run.cow").unlink(missing_ok=True)
        (self.folder / "card.raw").unlink(missing_ok=True)

    def start(self) -> float:
        """Boot; how long it took until the guest took orders, s."""
        self._lay_cable()
        card = self.folder / "card.raw"
        if not card.exists():
            card.touch()
            os.truncate(card, CARD_BYTES)
            subprocess.run(["mke2fs", "-q", "-t", "ext4", str(card)], check=True)
        began_s = time.monotonic()
        environment = {**os.environ, "TMPDIR": "/dev/shm", "LD_PRELOAD": str(self.folder / "uml_xstate.so")}
        command = [
            str(self.folder / "uml/usr/bin/linux.uml"),
            *(f"mem={MEMORY}", "umid=rig", f"uml_dir={self.folder / 'umid'}"),
            f"ubd0={self.folder / 'run.cow'},{self.folder / 'rig.raw'}",
            f"ubd1={card}",
            *("root=/dev/ubda", "rw", "rootfstype=ext4", f"vec0:transport=tap,ifname={DEVICE},depth=128,gro=1"),
            *("con=null", "con0=null,fd:2", "ssl=null", "console=tty0", "rig_gpio.label=pinctrl-bcm2711"),
        ]
        log = (self.folder / "guest.log").open("ab")
        guest = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=log, stderr=log, env=environment, start_new_session=True
        )
        self._pid.write_text(str(guest.pid))
        # A guest that waits for a busy host would show delays that no computer aboard has. On one processor its
        # kernel and its processes hand over to each other without being put back into a queue: twice as fast.
        os.sched_setaffinity(guest.pid, {max(os.sched_getaffinity(0))})
        # What the guest's kernel starts from now on inherits it; in turns, for they all share the processor.
        os.sched_setscheduler(guest.pid, os.SCHED_RR, os.sched_param(PRECEDENCE))
        self._until_up()
        self.watch()
        return time.monotonic() - began_s

    def watch(self) -> None:
        """From now on see how long the host keeps the guest waiting."""
        guest = int(self._pid.read_text())
        before, self.stalls = self.stalls, StallWatch(guest, max(os.sched_getaffinity(guest)))
        self.stalls.worst_ms = before.worst_ms if before else 0.0
        self.stalls.start()

    def reboot(self) -> None:
        """Start the guest's computer anew, in good order. A new process: one that only starts its kernel anew finds its
        network's device still held by itself now and then."""
        self.stop()
        self.start()

    def _until_up(self) -> None:
        end_s = time.monotonic() + UP_WITHIN_S
        while time.monotonic() < end_s and self.runs():
            self._forget_connection()
            if self.tell("true", within_s=20.0).returncode == 0:
                return
            time.sleep(0.3)
        raise RigError(f"the guest did not come up; see {self.folder / 'guest.log'}")

    def cut(self) -> None:
        """The power cut: what the guest had not written to its disk is gone."""
        if self.stalls is not None:
            self.stalls.end()
        if not self.runs():
            return
        os.killpg(int(self._pid.read_text()), signal.SIGKILL)
        while self.runs():
            time.sleep(0.05)
        self._forget_connection()

    def stop(self) -> None:
        """Switch the guest off in good order."""
        self.tell("systemctl poweroff")
        end_s = time.monotonic() + STOP_WITHIN_S
        while self.runs() and time.monotonic() < end_s:
            time.sleep(0.2)
        self.cut()

    def runs(self) -> bool:
        """Whether any process of the guest is left."""
        try:
            session = int(self._pid.read_text())
        except (OSError, ValueError):
            return False
        found = subprocess.run(["ps", "-o", "stat=", "-s", str(session)], capture_output=True, text=True, check=False)
        return any(not state.startswith("Z") for state in found.stdout.split())

    def tell(self, script: str, *, within_s: float = 60.0) -> subprocess.CompletedProcess[str]:
        """Run a shell script as root in the guest. Raises RigError if it takes too long."""
        try:
            return subprocess.run([*self._ssh, script], capture_output=True, text=True, timeout=within_s, check=False)
        except subprocess.TimeoutExpired:
            raise RigError(f"{script!r} did not end within {within_s:.0f} s") from None

    def converse(self, script: str, answers: list[tuple[str, str]], *, within_s: float = 60.0) -> str:
        """Run a command at a terminal, and type each answer once its question is there; all that was said."""
        command = [*self._ssh[:-1], "-tt", self._ssh[-1], script]
        said = ""
        end_s = time.monotonic() + within_s
        with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, bufsize=0) as terminal:
            waiting = list(answers)
            while select.select([terminal.stdout], [], [], max(0.0, end_s - time.monotonic()))[0]:
                heard = os.read(terminal.stdout.fileno(), 4096).decode(errors="replace")
                if not heard:
                    return said
                said += heard
                if waiting and waiting[0][0] in said.rpartition("\n")[2]:
                    terminal.stdin.write(f"{waiting.pop(0)[1]}\n".encode())
            terminal.kill()
        raise RigError(f"{script!r} did not end within {within_s:.0f} s, and had said: {said}")

    def ask(self, script: str, *, within_s: float = 60.0) -> str:
        """What a shell script says. Raises RigError if any command of it fails."""
        done = self.tell(f"set -e\n{script}", within_s=within_s)
        if done.returncode:
            raise RigError(f"{script!r} ended with {done.returncode}: {(done.stdout + done.stderr).strip()[-800:]}")
        return done.stdout.strip()

    def put(self, file: Path, place: str) -> None:
        """Copy a file into the guest."""
        with file.open("rb") as contents:
            subprocess.run([*self._ssh, f"cat >{shlex.quote(place)}"], stdin=contents, check=True, timeout=600)

    def now_s(self) -> float:
        """The guest's monotonic clock."""
        return float(self.ask("cut -d' ' -f1 /proc/uptime"))

    def edges(self, since_s: float = 0.0) -> list[Edge]:
        """What happened to the outputs, oldest first."""
        found = re.findall(r"([\d.]+) (\d+) (\w) (\d)", self.ask("cat /proc/rig_gpio"))
        edges = [Edge(float(at), int(line), what, level == "1") for at, line, what, level in found]
        return [edge for edge in edges if edge.at_s >= since_s]

    def _lay_cable(self) -> None:
        if subprocess.run(["ip", "link", "show", DEVICE], capture_output=True, check=False).returncode:
            for words in (
                f"tuntap add dev {DEVICE} mode tap",
                f"addr add {HOST}/24 dev {DEVICE}",
                f"link set {DEVICE} up",
            ):
                subprocess.run(["ip", *words.split()], check=True)

    def _forget_connection(self) -> None:
        subprocess.run([*self._ssh[:-1], "-O", "exit", self._ssh[-1]], capture_output=True, check=False)
        (self.folder / "ssh").unlink(missing_ok=True)


def main(words: list[str]) -> int:
    """For a person: rig.py start | fresh | cut | stop | tell SCRIPT | put FILE PLACE."""
    rig = Rig(default_folder())
    match words:
        case ["fresh"]:
            rig.cut()
            rig.fresh()
        case ["start"]:
            print(f"up after {rig.start():.0f} s")
        case ["cut"]:
            rig.cut()
        case ["stop"]:
            rig.stop()
        case ["tell", script]:
            done = rig.tell(script, within_s=600.0)
            print(done.stdout + done.stderr, end="")
            return done.returncode
        case ["put", file, place]:
            rig.put(Path(file), place)
        case _:
            print(main.__doc__)
            return 2
    return 0


def default_folder() -> Path:
    """Where `build` puts the rig."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return Path(os.environ.get("HALOCLINE_RIG") or cache / "halocline-rig")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
