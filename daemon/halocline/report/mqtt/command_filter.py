"""Which of the things published under `command` are commands: fresh, new, well formed and among the allowed."""

import json
import math
import re
from collections import Counter, deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from halocline.plant.command_definitions import ALWAYS_FROM_MQTT, COMMANDS, NEVER_FROM_MQTT
from halocline.report.mqtt.payloads import seconds

LARGEST_BYTES = 4096
OLDEST_S = 10.0
NONCES_KEPT = 1000
LARGEST_INTEGER = 2**53
LONGEST_TEXT = 500
LONGEST_WHO = 40

_NONCE = re.compile(r"[A-Za-z0-9._:-]{1,64}")
_ARGUMENT = re.compile(r"[a-z][a-z0-9_]{0,31}")
_NOT_ARGUMENTS = frozenset({"command", "nonce", "sent_at", "who", "id", "origin"})

Scalar = str | float | int | bool | None


@dataclass(frozen=True, slots=True)
class Sent:
    """A message as it came; `expiry_s` is what was left of its life, None if it has no end."""

    payload: bytes
    retained: bool = False
    expiry_s: float | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """A command that may be passed on."""

    command: str
    nonce: str | None
    who: str
    arguments: Mapping[str, Scalar]


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a message is no command. `nonce` and `command` as far as they could be read."""

    why: str
    command: str | None = None
    nonce: str | None = None


class _Malformed(ValueError):
    """Not the JSON that a command is."""


def taken(added: Iterable[str]) -> frozenset[str]:
    """The commands that a broker may bring; `added` are the owner's further ones."""
    return (ALWAYS_FROM_MQTT | frozenset(added)) - NEVER_FROM_MQTT


class CommandFilter:
    """Judges what comes in and counts what is dropped. `added` are the owner's further commands.

    `stop` alone may come without nonce and time, and as often as anybody likes: to stop is safe at any moment.
    """

    def __init__(self, added: Iterable[str] = ()) -> None:
        self._allowed = taken(added)
        self._nonces: deque[str] = deque(maxlen=NONCES_KEPT)
        self.dropped: Counter[str] = Counter()

    def judge(self, sent: Sent, wall_s: float | None) -> Order | Refusal:
        """The order in `sent`, or why there is none; `wall_s` is None while the clock is not set."""
        judged = self._judge(sent, wall_s)
        if isinstance(judged, Refusal):
            self.dropped[judged.why] += 1
        return judged

    def flooded(self, order: Order) -> Refusal:
        """An order that found no place; it was not carried out, so the same message may come again."""
        self.dropped["flooded"] += 1
        if order.nonce is not None:
            self._nonces.remove(order.nonce)
        return Refusal("flooded", order.command, order.nonce)

    def _judge(self, sent: Sent, wall_s: float | None) -> Order | Refusal:
        if sent.retained:
            return Refusal("retained")
        if len(sent.payload) > LARGEST_BYTES:
            return Refusal("oversized")
        try:
            content = _content(sent.payload)
            order = _order(content)
        except _Malformed:
            return Refusal("malformed")
        # A stop is never a repetition: to stop again is safe, and the one before may not have reached control.
        if order.command != "stop" and order.nonce in self._nonces:
            return Refusal("repeated", order.command, order.nonce)
        if order.nonce is not None:
            self._nonces.append(order.nonce)
        if order.command not in self._allowed:
            return Refusal("not_allowed", order.command, order.nonce)
        if not _fresh(content, order.command, sent.expiry_s, wall_s):
            return Refusal("stale", order.command, order.nonce)
        return order


def _fresh(content: Mapping[str, Any], command: str, expiry_s: float | None, wall_s: float | None) -> bool:
    sent_s = seconds(content.get("sent_at"))
    if sent_s is not None and wall_s is not None:
        return abs(wall_s - sent_s) <= OLDEST_S
    if expiry_s is not None:
        return expiry_s <= OLDEST_S
    return command == "stop"


def _content(payload: bytes) -> dict[str, Any]:
    try:
        content = json.loads(payload.decode("utf-8"), parse_constant=_refuse)
    except (ValueError, RecursionError):
        raise _Malformed from None
    if not isinstance(content, dict):
        raise _Malformed
    return content


def _order(content: Mapping[str, Any]) -> Order:
    command = content.get("command")
    if not isinstance(command, str) or command not in COMMANDS:
        raise _Malformed
    nonce = content.get("nonce")
    if nonce is None and command != "stop":
        raise _Malformed
    if nonce is not None and not (isinstance(nonce, str) and _NONCE.fullmatch(nonce)):
        raise _Malformed
    if content.get("sent_at") is not None and seconds(content["sent_at"]) is None:
        raise _Malformed
    arguments = {key: _scalar(key, value) for key, value in content.items() if key not in _NOT_ARGUMENTS}
    return Order(command, nonce, _who(content.get("who")), arguments)


def _scalar(key: str, value: Any) -> Scalar:
    if not _ARGUMENT.fullmatch(key):
        raise _Malformed
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str) and len(value) <= LONGEST_TEXT and value.isprintable():
        return value
    if isinstance(value, int) and abs(value) <= LARGEST_INTEGER:
        return value
    if isinstance(value, float) and math.isfinite(value):
        return value
    raise _Malformed


def _who(value: Any) -> str:
    if value is None:
        return "mqtt"
    if not isinstance(value, str) or len(value) > LONGEST_WHO or not value.isprintable():
        raise _Malformed
    return value.strip() or "mqtt"


def _refuse(constant: str) -> float:
    raise _Malformed(constant)
