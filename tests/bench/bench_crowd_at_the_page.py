"""A thousand half-open connections and sixteen busy clients at the page, in real processes on loopback: how long a
person waits for the page, and whether control's tick notices.

Control is the real loop, scanner and housekeeping on an emulated board, in a process that times its own heartbeat;
report is the real process. SECONDS (10) and HALF_OPEN (1000) may be set.
"""

import asyncio
import itertools
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

from crowd import Seen, allow_many_files, crowd

from halocline.app.priority import CONTROL, take_precedence
from halocline.config import load_demo
from halocline.control.core import Core
from halocline.control.exchange import World
from halocline.control.housekeeping import Housekeeping, Identity, new_boot
from halocline.control.loop import ControlLoop, Tick
from halocline.control.retained.retained_state import RetainedState
from halocline.rehearsal.board_wiring import wiring_of
from halocline_hw import RealClock
from halocline_hw.emulated import EmulatedBoard

SECONDS = float(os.environ.get("SECONDS_EACH", "10"))
HALF_OPEN = int(os.environ.get("HALF_OPEN", "1000"))
BUSY = 16
LIMIT_S = 1.0
TICK_S = 0.05


def control(link_path: str) -> None:
    """Runs control until SIGTERM; at SIGUSR1 begins to time anew, at the end prints the heartbeat's intervals."""
    settings, clock, world = load_demo()[0], RealClock(), World()
    edges: list[float] = []

    def on_output(line: str, _energised: bool, t_s: float) -> None:
        if line == "heartbeat":
            edges.append(t_s)

    wiring = wiring_of(settings)
    volts = {address: lambda _mux, _t_s: 0.6 for address in wiring.chip_addresses()}
    board = EmulatedBoard(wiring, volts, clock, on_output=on_output)
    core = Core(settings, RetainedState(), clock.now(), boot="bench", simulated=True, off_s=None)
    loop = ControlLoop(Tick(settings, board.open(), clock, core, world), clock, lambda: None)
    identity = Identity(new_boot(), "bench", True, "0", clock.now(), "Cagarra", {})
    files = [Path(link_path).with_name(name) for name in ("latch", "calibrations")]
    housekeeping = Housekeeping(identity, Path(link_path), *files, world, loop.commands, loop.news, threaded=True)
    ending = threading.Event()

    def keep() -> None:
        while not ending.is_set():
            housekeeping.poll()

    keeping = threading.Thread(target=keep, daemon=True)
    reported: list[list[float]] = []
    signal.signal(signal.SIGUSR1, lambda *_: (reported.append(list(edges)), edges.clear()))
    signal.signal(signal.SIGTERM, lambda *_: loop.stop())
    take_precedence(CONTROL)
    keeping.start()
    loop.run()
    ending.set()
    reported.append(list(edges))
    print(json.dumps([intervals(part) for part in reported]), flush=True)


def intervals(edges: list[float]) -> list[float]:
    return [after - before for before, after in itertools.pairwise(edges)]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def rss_mb(pid: int) -> float:
    pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def measured(folder: Path) -> tuple[Seen, Seen, list[list[float]], float]:
    """The person alone, the person in the crowd, control's heartbeat in both, what report grew by in MB."""
    link, port = folder / "control.sock", free_port()
    plant = subprocess.Popen([sys.executable, __file__, "--control", str(link)], stdout=subprocess.PIPE, text=True)
    command = [sys.executable, "-m", "halocline", "report", "--simulated", "--data", str(folder / "data")]
    page = subprocess.Popen([*command, "--socket", str(link), "--port", str(port)], stdout=subprocess.DEVNULL)
    try:
        wait_for(port)
        time.sleep(1.0)
        plant.send_signal(signal.SIGUSR1)
        alone = asyncio.run(crowd(port, half_open=0, busy=0, seconds=SECONDS))
        before_mb = rss_mb(page.pid)
        plant.send_signal(signal.SIGUSR1)
        crowded = asyncio.run(crowd(port, half_open=HALF_OPEN, busy=BUSY, seconds=SECONDS))
        grown_mb = rss_mb(page.pid) - before_mb
    finally:
        plant.terminate()
        page.terminate()
        told = plant.communicate(timeout=10)[0]
        page.wait(10)
    return alone, crowded, json.loads(told), grown_mb


def wait_for(port: int) -> None:
    give_up_s = time.monotonic() + 20.0
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            return
        except OSError:
            if time.monotonic() > give_up_s:
                raise
            time.sleep(0.1)


def told(name: str, beats: list[float]) -> str:
    """How late control's beats came; one that comes early was woken by news and is not late."""
    late = sorted(max(0.0, beat - TICK_S) for beat in beats)
    at = late[min(len(late) - 1, int(0.99 * len(late)))]
    return f"  control {name}: {len(beats)} beats, late by p99 {at * 1000:.2f} ms, worst {late[-1] * 1000:.2f} ms"


def main() -> None:
    allow_many_files()
    with tempfile.TemporaryDirectory(prefix="crowd-") as folder:
        alone, crowded, beats, grown_mb = measured(Path(folder))
    for name, seen in (("alone", alone), ("in the crowd", crowded)):
        print(
            f"  page {name}: {len(seen.page_s)} requests, median {seen.page_at(0.5) * 1000:.1f} ms, "
            f"p99 {seen.page_at(0.99) * 1000:.1f} ms (goal ≤ {LIMIT_S * 1000:.0f})"
        )
    print(
        f"  half open: at most {crowded.most_half_open} at once, {crowded.turned_out} turned out; "
        f"busy clients: {crowded.statuses}, {crowded.failed} without an answer; report grew by {grown_mb:.1f} MB"
    )
    for name, part in zip(("alone", "in the crowd"), beats[1:], strict=True):
        print(told(name, part))


if __name__ == "__main__":
    if sys.argv[1:2] == ["--control"]:
        control(sys.argv[2])
    else:
        main()
