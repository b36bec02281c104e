"""The people's end of the link: a plain blocking client, and a follower that never gives up."""

import contextlib
import itertools
import logging
import select
import socket
import threading
import time
from collections.abc import Callable, Mapping
from types import TracebackType
from typing import Any, NamedTuple, Self

from halocline.link.messages import (
    PROTOCOL,
    Lines,
    LinkAbsentError,
    LinkClosedError,
    LinkError,
    LinkForbiddenError,
    LinkLostError,
    Message,
    decode,
    encode,
)

CONNECT_S = 2.0
KNOCK_EVERY_S = 0.02
AT_ONCE = "c0"
"""The id of the command that goes out with the greeting."""

BACKOFF_FIRST_S = 0.2
BACKOFF_LAST_S = 2.0
SILENCE_S = 5.0

FORBIDDEN = (
    "put sudo before the command, or join the group that the socket belongs to, once (aboard: "
    "sudo usermod -aG halocline $USER), and log in again"
)
CLOSED = "control has closed the link: it has ended, or others needed the place"

log = logging.getLogger(__name__)


class Position(NamedTuple):
    """The last row or event that a reader has seen."""

    boot: str
    seq: int


BEGINNING = Position("", 0)


class LinkClient:
    """One connection, used by one thread. `start` is where to go on; None means live only.

    `at_once` is a command that goes out with the greeting: in a crowd at the door control hears it the moment it lets
    this client in. Its answer is had from `answer`.

    Raises LinkLostError when control does not answer, LinkError when it says something unexpected.
    """

    def __init__(
        self,
        path: str,
        name: str,
        start: Position | None = None,
        *,
        at_once: Mapping[str, Any] | None = None,
        timeout_s: float = CONNECT_S,
    ) -> None:
        self._ids = itertools.count(1)
        self._lines = Lines()
        self._received: list[Message] = []
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._sending = threading.Lock()
        self._readable = select.poll()
        self._readable.register(self._socket, select.POLLIN)
        try:
            self._connect(path, timeout_s)
            where = None if start is None else {"boot": start.boot, "seq": start.seq}
            greeting = encode({"hello": PROTOCOL, "name": name, "from": where})
            self._send(greeting + (encode({**at_once, "id": AT_ONCE}) if at_once else b""))
            self.hello = self._greeted(path, timeout_s)
        except LinkError:
            self._socket.close()
            raise

    def _connect(self, path: str, timeout_s: float) -> None:
        """Knocks until there is room at the door; each way of finding it shut has its own words."""
        until_s = time.monotonic() + timeout_s
        while True:
            self._socket.settimeout(timeout_s)
            try:
                self._socket.connect(path)
                return
            except FileNotFoundError:
                raise LinkAbsentError(f"there is no socket at {path}") from None
            except ConnectionRefusedError:
                raise LinkAbsentError(f"nobody holds the socket at {path}: control has ended") from None
            except PermissionError:
                raise LinkForbiddenError(f"this user may not use {path}: {FORBIDDEN}") from None
            except BlockingIOError:
                if time.monotonic() > until_s:
                    raise LinkLostError(f"too many wait at {path}, or control hangs") from None
                time.sleep(KNOCK_EVERY_S)
            except OSError as error:
                raise LinkLostError(f"{path} cannot be used: {error.strerror or error}") from None

    def _greeted(self, path: str, timeout_s: float) -> Message:
        until_s = time.monotonic() + timeout_s
        while True:
            message = self.receive(max(until_s - time.monotonic(), 0.0))
            if message is None:
                raise LinkLostError(f"control holds {path} but does not answer within {timeout_s:.0f} s: it hangs")
            if "hello" in message:
                return message

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Ends the connection; a thread waiting in `receive` gets LinkLostError."""
        with contextlib.suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()

    def send(self, message: Mapping[str, Any]) -> None:
        """Sends one line; may be called by any thread."""
        self._send(encode(message))

    def _send(self, lines: bytes) -> None:
        try:
            with self._sending:
                self._socket.sendall(lines)
        except OSError as error:
            raise LinkClosedError(f"{CLOSED} ({error.strerror or error})") from None

    def receive(self, timeout_s: float) -> Message | None:
        """The next message, None if none came in time."""
        until_s = time.monotonic() + timeout_s
        while not self._received:
            try:
                if not self._readable.poll(max(until_s - time.monotonic(), 0.0) * 1000.0):
                    return None
                data = self._socket.recv(65536)
            except (OSError, ValueError) as error:
                raise LinkClosedError(f"{CLOSED} ({error})") from None
            if not data:
                raise LinkClosedError(CLOSED)
            self._received += [decode(line) for line in self._lines.feed(data)]
        return self._received.pop(0)

    def command(self, message: Mapping[str, Any], timeout_s: float = 5.0) -> Message:
        """Sends a command and waits for its answer: {id, accepted, reasons}."""
        command_id = f"c{next(self._ids)}"
        self.send({**message, "id": command_id})
        return self._answer_to(command_id, timeout_s)

    def answer(self, timeout_s: float = 5.0) -> Message:
        """Waits for the answer to the command that went out with the greeting."""
        return self._answer_to(AT_ONCE, timeout_s)

    def _answer_to(self, command_id: str, timeout_s: float) -> Message:
        until_s = time.monotonic() + timeout_s
        while True:
            answer = self._wait_for("answer", until_s - time.monotonic())
            if answer.get("id") == command_id:
                return answer

    def now(self, timeout_s: float = 3.0) -> Message:
        """The next live snapshot."""
        return self._wait_for("now", timeout_s)

    def _wait_for(self, kind: str, timeout_s: float) -> Message:
        until_s = time.monotonic() + timeout_s
        while True:
            message = self.receive(max(until_s - time.monotonic(), 0.0))
            if message is None:
                raise LinkLostError(f"control gave no {kind} within {timeout_s:.0f} s")
            content = message.get(kind)
            if content is None:
                continue
            if not isinstance(content, dict):
                raise LinkError(f"control's {kind} is not an object")
            return content


class LinkFollower:
    """Follows control in a thread of its own, over restarts of either side.

    `on_message` gets every hello, gap, row, event and snapshot in order, in that thread; it must not wait.
    `position` says, at each (re)connection, where to go on. `command` may be called by any thread.
    """

    def __init__(
        self,
        path: str,
        name: str,
        on_message: Callable[[Message], None],
        position: Callable[[], Position],
    ) -> None:
        self._path = path
        self._name = name
        self._on_message = on_message
        self._position = position
        self._ids = itertools.count(1)
        self._waiting: dict[str, _Answer] = {}
        self._lock = threading.Lock()
        self._client: LinkClient | None = None
        self._absent = True
        self._ending = threading.Event()
        self._again = threading.Event()
        self._thread = threading.Thread(target=self._run, name="link", daemon=True)

    def start(self) -> None:
        """Begins to follow."""
        self._thread.start()

    def stop(self) -> None:
        """Ends the thread and the connection."""
        self._ending.set()
        self._hang_up()
        self._thread.join(timeout=2.0)

    def reconnect(self) -> None:
        """Connects anew, to go on from `position`."""
        self._again.set()

    @property
    def connected(self) -> bool:
        """Whether a connection stands."""
        return self._client is not None

    @property
    def there(self) -> bool:
        """Whether anybody held control's end of the socket at the last try; one that hangs still holds it."""
        return not self._absent

    def command(self, message: Mapping[str, Any], timeout_s: float = 5.0) -> Message:
        """Sends a command and waits for its answer. Raises LinkLostError."""
        client = self._client
        if client is None:
            raise LinkLostError("there is no link to control")
        command_id = f"f{next(self._ids)}"
        waiting = _Answer()
        with self._lock:
            self._waiting[command_id] = waiting
        try:
            client.send({**message, "id": command_id})
            return waiting.wait(timeout_s)
        finally:
            with self._lock:
                self._waiting.pop(command_id, None)

    def _run(self) -> None:
        backoff_s = BACKOFF_FIRST_S
        while not self._ending.is_set():
            try:
                self._client = LinkClient(self._path, self._name, self._position())
                self._absent = False
                backoff_s = BACKOFF_FIRST_S
                self._follow(self._client)
            except LinkError as error:
                self._absent = isinstance(error, LinkAbsentError)
                log.debug("link: %s", error)
            except Exception:
                log.exception("link: a message could not be taken in")
            finally:
                self._hang_up()
            self._ending.wait(backoff_s)
            backoff_s = min(backoff_s * 2, BACKOFF_LAST_S)

    def _follow(self, client: LinkClient) -> None:
        self._again.clear()
        self._on_message(client.hello)
        heard_s = time.monotonic()
        while not self._ending.is_set() and not self._again.is_set():
            message = client.receive(0.5)
            if message is not None:
                heard_s = time.monotonic()
                self._deliver(message)
            elif time.monotonic() - heard_s > SILENCE_S:
                raise LinkLostError("control is silent")

    def _deliver(self, message: Message) -> None:
        answer = message.get("answer")
        if answer is None:
            self._on_message(message)
            return
        with self._lock:
            waiting = self._waiting.get(str(answer.get("id")))
        if waiting is not None:
            waiting.give(answer)

    def _hang_up(self) -> None:
        client, self._client = self._client, None
        if client is not None:
            client.close()
        self.abandon()

    def abandon(self) -> None:
        """Whoever waits for an answer is told that none will come."""
        with self._lock:
            for waiting in self._waiting.values():
                waiting.give(None)


class _Answer:
    """An answer on its way from the link's thread to the one that asked."""

    def __init__(self) -> None:
        self._come = threading.Event()
        self._answer: Message | None = None

    def give(self, answer: Message | None) -> None:
        self._answer = answer
        self._come.set()

    def wait(self, timeout_s: float) -> Message:
        if not self._come.wait(timeout_s):
            raise LinkLostError(f"control gave no answer within {timeout_s:.0f} s")
        if self._answer is None:
            raise LinkLostError("the link to control broke before the answer came; look at the state")
        return self._answer
