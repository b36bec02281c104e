"""Control's end of the link: never waits for a client, and no client can do more than lose its connection."""

import contextlib
import grp
import logging
import os
import selectors
import socket
import stat
import time
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from halocline.link.messages import (
    LinkError,
    Message,
    check_command,
    check_hello,
    decode,
    encode,
    encode_now,
)
from halocline.link.peers import Client, Peer, socket_inode
from halocline.link.ring import Ring
from halocline.link.seats import SEATS, WAITING, least_deserving
from halocline.plant.command_definitions import OPEN_TO_ALL

BACKLOG = 64
"""Who knocks while control is at work waits here; beyond it a client is told to try again."""

LET_IN_AT_ONCE = 16
"""So that a crowd at the door takes no more than a moment of one round."""

FILL_BYTES = 64 * 1024
MAX_PATH_BYTES = 100

log = logging.getLogger(__name__)


class LinkServer:
    """Listens on a Unix socket and serves all clients from within `poll`, in the thread that calls it.

    `identity` gives what the hello says besides the ring's numbers (host_boot, simulated, mono_s, wall_s,
    version). `on_command` is called with each well-formed command and the peer; its answer is sent, then or
    later, with `answer`. Raises LinkError if the socket cannot be had.
    """

    def __init__(
        self,
        path: str,
        ring: Ring,
        identity: Callable[[], Mapping[str, Any]],
        on_command: Callable[[Message, Peer], None],
        *,
        mode: int = 0o660,
        group: str | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._ring = ring
        self._identity = identity
        self._on_command = on_command
        self._clock = clock
        self._clients: dict[int, Client] = {}
        self._next_token = 1
        self._path = path
        self._listener = _listen(path, mode, group)
        self._inode = socket_inode(path)
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._listener, selectors.EVENT_READ, None)
        self.cut_off = 0

    @property
    def peers(self) -> tuple[Peer, ...]:
        """The clients that have said hello."""
        return tuple(client.peer for client in self._clients.values() if client.peer is not None)

    def poll(self, timeout_s: float) -> None:
        """Accepts, reads, and sends what is due; waits at most `timeout_s` for something to happen."""
        for client in self._clients.values():
            self._fill(client)
            self._arm(client)
        for key, events in self._selector.select(timeout_s):
            if key.data is None:
                self._accept()
            elif key.data.token in self._clients:
                self._serve(key.data, events)
        self._send_all()

    def publish_now(self, now: Mapping[str, Any]) -> None:
        """Sends a live snapshot to all; a client that is behind gets the newest only."""
        line = encode_now(now)
        for client in self._clients.values():
            if client.peer is not None:
                client.waiting_now = line
        self._send_all()

    def answer(
        self,
        token: int,
        command_id: str,
        *,
        accepted: bool,
        reasons: Iterable[Mapping[str, Any]] = (),
        told: Iterable[Mapping[str, Any]] = (),
    ) -> None:
        """Answers a command: why it is refused, or what to tell of it; a client that has gone meanwhile is no error."""
        client = self._clients.get(token)
        if client is not None:
            answer: dict[str, Any] = {"id": command_id, "accepted": accepted, "reasons": list(reasons)}
            if said := list(told):
                answer["told"] = said
            client.put(encode({"answer": answer}))
            self._send(client)

    def close(self) -> None:
        """Closes every connection and takes the socket file away, if it is still ours."""
        for client in tuple(self._clients.values()):
            self._forget(client, "closing")
        self._selector.unregister(self._listener)
        self._listener.close()
        self._selector.close()
        if socket_inode(self._path) == self._inode:
            with contextlib.suppress(FileNotFoundError):
                os.unlink(self._path)

    def _accept(self) -> None:
        for _ in range(LET_IN_AT_ONCE):
            try:
                connection, _ = self._listener.accept()
            except OSError:
                return
            connection.setblocking(False)
            client = Client(connection, self._next_token, self._clock())
            self._next_token += 1
            self._clients[client.token] = client
            self._selector.register(connection, selectors.EVENT_READ, client)
            self._serve(client, selectors.EVENT_READ)
            self._make_room(client, WAITING)

    def _make_room(self, newcomer: Client, places: int) -> None:
        """One of those in the same room as the newcomer goes if they are too many: seated, or not named yet."""
        seated = newcomer.peer is not None
        others = [client for client in self._clients.values() if (client.peer is not None) == seated]
        if newcomer.token in self._clients and len(others) > places:
            others.remove(newcomer)
            self._drop(least_deserving(others, self._clock()), "others need the place")

    def _serve(self, client: Client, events: int) -> None:
        if events & selectors.EVENT_READ:
            try:
                self._read(client)
            except (LinkError, OSError) as error:
                self._drop(client, str(error))

    def _read(self, client: Client) -> None:
        try:
            data = client.connection.recv(8192)
        except BlockingIOError:
            return
        if not data:
            self._forget(client, "gone")
            return
        for line in client.lines.feed(data):
            message = decode(line)
            if client.peer is None:
                self._greet(client, message)
            else:
                check_command(message)
                self._take(client, client.peer, message)
            if client.token not in self._clients:
                return

    def _greet(self, client: Client, message: Message) -> None:
        check_hello(message)
        client.greet(message["name"])
        self._make_room(client, SEATS)
        ring = self._ring
        numbers = {"boot": ring.boot, "seq_first": ring.seq_first, "seq_last": ring.seq_last}
        client.put(encode({"hello": 1, **self._identity(), **numbers}))
        start = message.get("from")
        client.cursor = ring.seq_last
        if start is not None:
            client.cursor = min(start["seq"], ring.seq_last) if start["boot"] == ring.boot else 0

    def _take(self, client: Client, peer: Peer, message: Message) -> None:
        client.commanded_s = self._clock()
        allowance = client.stops if message["command"] in OPEN_TO_ALL else client.commands
        if allowance.spend(self._clock()):
            self._on_command(message, peer)
        else:
            reasons = [{"id": "too_many_commands", "values": {}}]
            client.put(encode({"answer": {"id": message["id"], "accepted": False, "reasons": reasons}}))

    def _fill(self, client: Client) -> None:
        if client.cursor is not None and client.cursor < self._ring.seq_last:
            self._fill_from_ring(client, client.cursor)
        if client.waiting_now is not None and client.pending_bytes < FILL_BYTES:
            client.put(client.waiting_now)
            client.waiting_now = None

    def _fill_from_ring(self, client: Client, seen: int) -> None:
        if client.pending_bytes >= FILL_BYTES:
            return
        gap = self._ring.gap_after(seen)
        if gap is not None and gap.last > client.told_gone:
            client.told_gone = gap.last
            client.put(encode({"gap": {"boot": self._ring.boot, "from": gap.first, "to": gap.last}}))
        for number in self._ring.numbers_after(seen):
            if client.pending_bytes >= FILL_BYTES:
                break
            client.put(self._ring.line(number))
            client.cursor = number

    def _send_all(self) -> None:
        for client in tuple(self._clients.values()):
            self._fill(client)
            self._send(client)

    def _send(self, client: Client) -> None:
        now_s = self._clock()
        try:
            client.send(now_s)
        except OSError as error:
            self._drop(client, str(error))
            return
        reason = client.late(now_s)
        if reason is not None:
            self._drop(client, reason)

    def _arm(self, client: Client) -> None:
        wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if client.pending_bytes else 0)
        if self._selector.get_key(client.connection).events != wanted:
            self._selector.modify(client.connection, wanted, client)

    def _drop(self, client: Client, reason: str) -> None:
        self.cut_off += 1
        self._forget(client, f"cut off, {reason}")

    def _forget(self, client: Client, reason: str) -> None:
        if self._clients.pop(client.token, None) is None:
            return
        log.info("link: %s: %s", client.peer.name if client.peer else "a client without a name", reason)
        self._selector.unregister(client.connection)
        client.connection.close()


def _listen(path: str, mode: int, group: str | None) -> socket.socket:
    """A listening socket at `path`. It is made aside and moved there, so that it never has a wrong mode."""
    aside = f"{path}.{os.getpid()}"
    if len(os.fsencode(aside)) > MAX_PATH_BYTES:
        raise LinkError(f"{path}: the path is too long for a socket, use a shorter one")
    _refuse_if_taken(path)
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(aside)
        listener.bind(aside)
        os.chmod(aside, mode)
        if group is not None:
            os.chown(aside, -1, grp.getgrnam(group).gr_gid)
        listener.listen(BACKLOG)
        listener.setblocking(False)
        os.rename(aside, path)
    except KeyError:
        _give_up(listener, aside)
        raise LinkError(f"{path}: there is no group {group!r} on this computer") from None
    except OSError as error:
        _give_up(listener, aside)
        raise LinkError(f"{path}: cannot listen here: {error.strerror}") from None
    return listener


def _give_up(listener: socket.socket, aside: str) -> None:
    listener.close()
    with contextlib.suppress(OSError):
        os.unlink(aside)


def _refuse_if_taken(path: str) -> None:
    try:
        kind = os.stat(path, follow_symlinks=False).st_mode
    except OSError:
        return
    if not stat.S_ISSOCK(kind):
        raise LinkError(f"{path}: something that is not a socket stands here; move it away")
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        probe.settimeout(1.0)
        try:
            probe.connect(path)
        except OSError:
            return
    raise LinkError(f"{path}: another control process already listens here; stop it first")
