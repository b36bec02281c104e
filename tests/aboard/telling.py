"""What every part of the story has at hand: the guest, the boat, claims, figures, and the handbook's own lines."""

import os
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from boat import AT_REST, LINES, MOVES_WATER, Boat
from rig import Rig, RigError, default_folder

ROOT = Path(__file__).parents[2]
HANDBOOK = ROOT / "systemd" / "README.md"
CONTROL, REPORT = "halocline-control", "halocline-report"
CONFIGURATION = "/etc/halocline/halocline.toml"
BRIDGE = (
    "systemctl -q stop rig-bridge 2>/dev/null || true;"
    "rm -f /run/rig-bridge; systemd-run -q --unit rig-bridge -p Nice=-5 /opt/rig/bridge.py --quick;"
    "until [ -p /run/rig-bridge ]; do sleep 0.1; done"
)
"""Starts the plant behind the pins anew, and waits until it takes orders."""

GPIO = "/sys/module/rig_gpio/parameters"
I2C = "/sys/module/rig_i2c/parameters"
PINS_LOW_WITHIN_S = 2.5
"""The goal for a control that was killed or is frozen."""

ROUNDS = 5 if os.environ.get("HALOCLINE_SOAK") else 1
"""How often each strike and each power cut is played."""

GAP_MS = 200.0
"""The longest gap of the heartbeat that work on the same processor may make; the relay forgives a second."""


class Story:
    """One playing of the story."""

    def __init__(self, package: Path) -> None:
        self.package = package
        self.rig = Rig(default_folder())
        self.boat = Boat(self.rig)
        self.figures: list[tuple[str, str]] = []

    def tell(self, what: str, figure: str) -> None:
        """One figure, on the screen at once."""
        self.figures.append((what, figure))
        print(f"  {what}: {figure}", flush=True)

    def claim(self, true: bool, otherwise: str) -> None:
        """Raises RigError unless it is true."""
        if not true:
            raise RigError(otherwise)

    def until(self, what: str, true: Callable[[], bool], within_s: float = 60.0) -> None:
        """Wait for something that is not on the page."""
        end_s = time.monotonic() + within_s
        while not true():
            self.claim(time.monotonic() < end_s, f"waited in vain for {what}")
            time.sleep(0.3)

    def strike(self, script: str) -> float:
        """Do something in the guest; the guest's time just before it."""
        return float(self.rig.ask(f"cut -d' ' -f1 /proc/uptime; {script}"))

    def pid(self, unit: str) -> str:
        """Of its main process."""
        return self.rig.ask(f"systemctl show -P MainPID {unit}")

    def beats(self, since_s: float) -> list[float]:
        """The heartbeat's edges: each is the end of a good tick. Only while the module keeps them (`keep_beats`)."""
        return [edge.at_s for edge in self.rig.edges(since_s) if edge.line == LINES["heartbeat"] and edge.what == "w"]

    def keep_beats(self, keep: bool) -> None:
        """Have each edge of the heartbeat kept, or only the longest gap between two."""
        self.rig.ask(f"echo {0 if keep else 1 << LINES['heartbeat']} >{GPIO}/quiet; echo 0 >{GPIO}/gap_us")

    def gap_ms(self, *, anew: bool = False) -> float:
        """The longest gap of the heartbeat since it was last asked for anew."""
        return int(self.rig.ask(f"cat {GPIO}/gap_us{f'; echo 0 >{GPIO}/gap_us' if anew else ''}")) / 1000.0

    def came_back(self, boot: object) -> dict[str, Any]:
        """The first snapshot of a control that was started after this boot of control."""
        return self.boat.until(
            "control's next start", lambda now: now["link"]["control"] == "live" and now.get("boot") != boot, 60.0
        )

    def nothing_moved(self, what: str) -> None:
        """Since the kernel's start no pin that moves water went high."""
        high = [edge for edge in self.rig.edges() if edge.line in MOVES_WATER and edge.high]
        self.claim(not high, f"{what}: a pin went high: {high[:3]}")

    def at_rest_again(self) -> None:
        """Both services are there and the plant is at rest; the boat lives behind the pins."""
        self.boat.until(
            "the plant at rest", lambda now: now["link"]["control"] == "live" and now.get("state") in AT_REST
        )


def handbook(heading: str) -> list[str]:
    """The commands under a heading of systemd/README.md: its indented lines that begin with sudo, in order."""
    found = re.search(rf"^## {re.escape(heading)}\n(.*?)(?=^## |\Z)", HANDBOOK.read_text("utf-8"), re.M | re.S)
    if found is None:
        raise RigError(f"{HANDBOOK} has no heading {heading!r}")
    joined = re.sub(r"\\\n\s+", "", found.group(1))
    return [line.strip() for line in joined.splitlines() if line.startswith("    sudo ")]


def handbook_file(first_line: str, *, holding: str) -> str:
    """An indented block of systemd/README.md that goes into a file: from its first line, the one that holds a word."""
    blocks = re.findall(r"(?:^ {4}\S.*\n)+", HANDBOOK.read_text("utf-8"), re.M)
    for block in blocks:
        lines = [line.strip() for line in block.splitlines()]
        if lines[0] == first_line and any(holding in line for line in lines):
            return "\n".join(lines) + "\n"
    raise RigError(f"{HANDBOOK} has no block {first_line} with {holding}")


def inline(beginning: str) -> str:
    """The one command within a sentence of systemd/README.md that begins so."""
    found = set(re.findall(rf"`({re.escape(beginning)}[^`]*)`", HANDBOOK.read_text("utf-8")))
    if len(found) != 1:
        raise RigError(f"{HANDBOOK} has not one command {beginning!r}: {sorted(found)}")
    return " ".join(found.pop().split())
