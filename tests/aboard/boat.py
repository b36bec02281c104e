"""The installed boat as it is seen from outside of the computer: over http, over ssh, and by the pins."""

import json
import time
import urllib.request
from collections.abc import Callable
from typing import Any

from rig import ADDRESS, Edge, Rig, RigError

PAGE = f"http://{ADDRESS}:8080"
LINES = {"feed_pump": 17, "high_pressure_pump": 27, "product_to_tank": 22, "flush_valve": 23, "heartbeat": 18}
"""As in the example configuration that the package brings."""

MOVES_WATER = frozenset({17, 27, 22, 23})
CONFIRMED = "seacocks_open strainer_clean sea_clean tank_chosen proof_overdue"
AT_REST = frozenset({"standby", "tripped"})


class Boat:
    """What a person can see and do."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig

    def get(self, path: str) -> bytes:
        """What the page's server answers, from another computer."""
        with urllib.request.urlopen(PAGE + path, timeout=10) as answer:
            contents: bytes = answer.read()
        return contents

    def now(self) -> dict[str, Any]:
        """The snapshot that the page shows."""
        snapshot: dict[str, Any] = json.loads(self.get("/api/v1/now"))
        return snapshot

    def stop(self) -> None:
        """*Stop*, which never asks who."""
        request = urllib.request.Request(
            f"{PAGE}/api/v1/commands",
            data=b'{"command": "stop"}',
            headers={"X-Halocline": "1", "Content-Type": "application/json"},
        )
        urllib.request.urlopen(request, timeout=10).close()

    def until(self, what: str, true: Callable[[dict[str, Any]], bool], within_s: float = 120.0) -> dict[str, Any]:
        """The first snapshot of which it is true. Raises RigError with the last one's sentence."""
        end_s = time.monotonic() + within_s
        last: object = "no answer"
        while time.monotonic() < end_s:
            try:
                snapshot = self.now()
            except OSError as error:
                last = error
            else:
                if true(snapshot):
                    return snapshot
                last = snapshot.get("sentence") or snapshot.get("link")
            time.sleep(0.3)
        raise RigError(f"waited in vain for {what}: {last}")

    def until_state(self, *states: str, within_s: float = 120.0) -> dict[str, Any]:
        """The first live snapshot in one of these states; a stop by itself that is not asked for is told at once."""
        met = {*states, "tripped"}
        now = self.until(
            " or ".join(states), lambda now: now["link"]["control"] == "live" and now.get("state") in met, within_s
        )
        if now["state"] not in states:
            raise RigError(f"waited for {' or '.join(states)}, and the plant stopped by itself: {now['sentence']}")
        return now

    def truth(self) -> dict[str, Any]:
        """What is really going on, which no sensor of the boat may tell."""
        ordered = "rm -f /run/rig-truth; echo truth >/run/rig-bridge"
        read = "until [ -e /run/rig-truth ]; do sleep 0.05; done; cat /run/rig-truth"
        told: dict[str, Any] = json.loads(self.rig.ask(f"{ordered}; {read}"))
        return told

    def rearm(self) -> None:
        """What a person does after a stop by itself: acknowledge, reset once the cause is gone, press the button."""
        end_s = time.monotonic() + 30.0
        said = ""
        while self.until("control", lambda now: now["link"]["control"] == "live")["state"] != "standby":
            if time.monotonic() > end_s:
                raise RigError(f"the plant cannot be reset: {said}")
            said = self.rig.tell("halocline acknowledge; halocline reset").stderr.strip()
            time.sleep(0.5)
        self.rig.tell("halocline acknowledge; echo button >/run/rig-bridge")
        self.until("the relay", lambda _now: bool(self.truth()["relay_closed"]), within_s=30.0)

    def starting(self, litres: float) -> str:
        """How a person at the plant starts a run."""
        return f"echo button >/run/rig-bridge; sleep 1.5; halocline start --litres {litres} --confirmed {CONFIRMED}"

    def start(self, litres: float) -> None:
        """Start a run. Raises RigError if that is refused."""
        # Whoever asked for the time has left systemd's time service to end half a minute later. Taking down a sandboxed
        # service holds this kernel, which cannot be preempted, for up to half a second.
        self.rig.ask("systemctl stop systemd-timedated")
        self.rig.ask(self.starting(litres))

    def reach(self, state: str) -> None:
        """Bring the plant into this state, from wherever a person can bring it there."""
        now = self.until("control", lambda now: now["link"]["control"] == "live")
        if now["state"] == state:
            return
        if now["state"] not in AT_REST:
            self.stop()
            self.until_state(*AT_REST)
        self.rearm()
        if state == "standby":
            return
        if state == "flushing":
            self.rig.ask("halocline flush")
        else:
            self.start(2.0)
        self.until_state(state)

    def high(self) -> frozenset[int]:
        """The lines that move water and are high now."""
        level, driven = (
            int(word, 16) for word in self.rig.ask("cd /sys/module/rig_gpio/parameters; cat level output").split()
        )
        return frozenset(line for line in MOVES_WATER if (level & driven) >> line & 1)


def let_go(edges: list[Edge], lines: frozenset[int]) -> float | None:
    """When the last of these lines was driven low or became an input; None if one was not."""
    gone = {
        edge.line: edge.at_s for edge in reversed(edges) if edge.line in lines and (not edge.high or edge.what == "i")
    }
    return max(gone.values()) if lines and set(gone) == set(lines) else None
