"""How many messages are looked at in a second, each kind in a lane of its own, so that a flood in one leaves the
others free. For the network's thread: it decides in microseconds and drops the rest unread, for what it does not read
in time the broker drops blindly, stops too."""

import json
from collections.abc import Mapping
from typing import Literal

from halocline.link.peers import Allowance
from halocline.report.mqtt.command_filter import LARGEST_BYTES

PER_SECOND: Mapping[str, float] = {
    "stop": 50.0,  # one is as good as fifty
    "echo": 5.0,  # our own come every two seconds
    "command": 50.0,  # several times what control hears
    "forecast": 1.0,  # a matter of hours, and the newest is enough
    "foreign": 400.0,  # words left under our own topics; more than are kept
}

Lane = Literal["command", "forecast", "foreign"]
"""By the topic; what is published among commands is told further by its content."""


def lane_of(payload: bytes | bytearray, asked: Lane) -> str:
    """The lane of a message; `asked` is that of its topic."""
    if asked != "command":
        return asked
    if len(payload) > LARGEST_BYTES:
        return "command"
    if payload.startswith(b'{"echo"'):
        return "echo"
    return "stop" if b'"stop"' in payload and _is_stop(payload) else "command"


def _is_stop(payload: bytes | bytearray) -> bool:
    """Whether it really is one: what only looks alike must not take a stop's place."""
    try:
        content = json.loads(payload)
    except (ValueError, RecursionError):
        return False
    return isinstance(content, dict) and content.get("command") == "stop"


class Lanes:
    """What may still be looked at."""

    def __init__(self, now_s: float) -> None:
        self._allowances = {lane: Allowance(rate, now_s) for lane, rate in PER_SECOND.items()}

    def admit(self, payload: bytes | bytearray, now_s: float, asked: Lane) -> bool:
        """Whether there is time for this one."""
        return self._allowances[lane_of(payload, asked)].spend(now_s)
