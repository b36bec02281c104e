"""JSON lines: what may go over the link, and the checks that everything coming in has to pass."""

import json
import math
from collections.abc import Callable, Mapping
from typing import Any

from halocline.plant.vocabulary import Origin

PROTOCOL = 1
MAX_LINE_BYTES = 8192
MAX_DEPTH = 8
MAX_INTEGER = 2**53
MAX_NAME = 80
ORIGINS = frozenset(Origin)

Message = dict[str, Any]


class LinkError(Exception):
    """Something on the link is not as the protocol says, or the socket cannot be had."""


class LinkLostError(LinkError):
    """The other end is gone, or never was there."""


class LinkAbsentError(LinkLostError):
    """Nobody holds the other end: control does not run."""


class LinkClosedError(LinkLostError):
    """Control has closed the connection: it has ended, or others needed the place."""


class LinkForbiddenError(LinkLostError):
    """This user may not use control's socket."""


def encode(message: Mapping[str, Any]) -> bytes:
    """One line with its end. Raises LinkError for numbers that are not finite and for a line too long."""
    try:
        line = json.dumps(message, allow_nan=False, separators=(",", ":"), ensure_ascii=False).encode() + b"\n"
    except (TypeError, ValueError, RecursionError) as error:
        raise LinkError(f"cannot be sent: {error}") from None
    if len(line) > MAX_LINE_BYTES:
        raise LinkError(f"a line of {len(line)} bytes is above the limit of {MAX_LINE_BYTES}")
    return line


def decode(line: bytes) -> Message:
    """The object on one line. Raises LinkError for anything that the protocol does not allow."""
    if len(line) > MAX_LINE_BYTES:
        raise LinkError(f"a line of {len(line)} bytes is above the limit of {MAX_LINE_BYTES}")
    try:
        message = json.loads(line.decode("utf-8"), parse_constant=_refuse_constant)
    except UnicodeDecodeError:
        raise LinkError("not UTF-8") from None
    except RecursionError:
        raise LinkError("nested too deeply") from None
    except ValueError as error:
        raise LinkError(f"not JSON: {error}") from None
    if not isinstance(message, dict):
        raise LinkError("a line has to be one JSON object")
    _check(message, MAX_DEPTH)
    return message


def check_hello(message: Message) -> None:
    """Raises LinkError unless this is a client's proper first line."""
    if message.get("hello") != PROTOCOL or isinstance(message["hello"], bool):
        raise LinkError(f"the first line has to be a hello of version {PROTOCOL}")
    _text(message, "name")
    start = message.get("from")
    if start is None:
        return
    if not isinstance(start, dict):
        raise LinkError("'from' has to be null or {boot, seq}")
    _text(start, "boot", empty=True)
    seq = start.get("seq")
    if not isinstance(seq, int) or isinstance(seq, bool) or seq < 0:
        raise LinkError("'from.seq' has to be a whole number, 0 or more")


def check_command(message: Message) -> None:
    """Raises LinkError unless this is a command with its id, origin and sender."""
    for key in ("command", "id", "who"):
        _text(message, key, empty=key == "who")
    if message.get("origin") not in ORIGINS:
        raise LinkError(f"'origin' has to be one of {', '.join(sorted(ORIGINS))}")


def encode_now(now: Mapping[str, Any]) -> bytes:
    """A live snapshot's line; what would make it too long is left out, least needed first.

    A snapshot must go out exactly when everything is wrong at once, so it is shortened rather than refused;
    `shortened` then says so. Raises LinkError if even the shortest form cannot be sent.
    """
    try:
        return encode({"now": now})
    except LinkError as error:
        problem = error
    short = dict(now)
    for shorten in _SHORTENINGS:
        shorten(short)
        short["shortened"] = True
        try:
            return encode({"now": short})
        except LinkError as error:
            problem = error
    raise problem


def _without_refused_values(now: Message) -> None:
    refused = now.get("refused") or {}
    now["refused"] = {
        command: [{"id": reason["id"], "values": {}} for reason in reasons] for command, reasons in refused.items()
    }


def _without_refused(now: Message) -> None:
    now["refused"] = {}


def _without_reasons_of_silence(now: Message) -> None:
    now["out_of_service"] = [{**aside, "why": ""} for aside in now.get("out_of_service") or ()]


def _without_alarm_values(now: Message) -> None:
    now["alarms"] = [{**alarm, "values": {}} for alarm in now.get("alarms") or ()]


def _fewer_alarms(now: Message) -> None:
    now["alarms"] = now["alarms"][:12]


_SHORTENINGS: tuple[Callable[[Message], None], ...] = (
    _without_refused_values,
    _without_refused,
    _without_reasons_of_silence,
    _without_alarm_values,
    _fewer_alarms,
)


class Lines:
    """Cuts a byte stream into lines, never holding more than one line's limit."""

    __slots__ = ("_pending",)

    def __init__(self) -> None:
        self._pending = b""

    def feed(self, data: bytes) -> list[bytes]:
        """The lines completed by `data`, without their ends. Raises LinkError when a line grows too long."""
        *whole, self._pending = (self._pending + data).split(b"\n")
        if len(self._pending) >= MAX_LINE_BYTES:
            raise LinkError(f"a line is above the limit of {MAX_LINE_BYTES} bytes")
        return whole


def _refuse_constant(text: str) -> float:
    raise ValueError(f"{text} is not a number here")


def _check(value: object, depth: int) -> None:
    if depth == 0:
        raise LinkError("nested too deeply")
    if isinstance(value, dict):
        for key, item in value.items():
            _check(key, depth)
            _check(item, depth - 1)
    elif isinstance(value, list):
        for item in value:
            _check(item, depth - 1)
    elif isinstance(value, str):
        _check_text(value)
    elif isinstance(value, (int, float)) and not _sensible(value):
        raise LinkError("a number is out of range")


def _sensible(value: float) -> bool:
    return abs(value) <= MAX_INTEGER if isinstance(value, int) else math.isfinite(value)


def _check_text(text: str) -> None:
    if not text.isascii() and any("\ud800" <= character <= "\udfff" for character in text):
        raise LinkError("a text holds half a character")


def _text(message: Message, key: str, *, empty: bool = False) -> None:
    value = message.get(key)
    if not isinstance(value, str) or len(value) > MAX_NAME or not (value or empty):
        raise LinkError(f"{key!r} has to be a text of at most {MAX_NAME} characters")
