"""One connected client as the server sees it: who it is, what it may still send, what waits for it."""

import os
import socket
import struct
from dataclasses import dataclass

from halocline.link.messages import Lines

COMMANDS_PER_S = 20.0
STALLED_S = 5.0
HELLO_S = 5.0
MAX_SEND_BYTES = 256 * 1024
_CREDENTIALS = struct.Struct("3i")


@dataclass(frozen=True, slots=True)
class Peer:
    """A client: the token its answers go to, the name it gave, and the kernel's word on who runs it."""

    token: int
    name: str
    pid: int
    uid: int
    gid: int


def credentials(connection: socket.socket) -> tuple[int, int, int]:
    """Process, user and group id of the other end of a Unix socket."""
    pid, uid, gid = _CREDENTIALS.unpack(connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, _CREDENTIALS.size))
    return pid, uid, gid


class Allowance:
    """A steady rate with a burst of one second's worth."""

    __slots__ = ("_left", "_rate", "_since_s")

    def __init__(self, rate: float, now_s: float) -> None:
        self._rate = rate
        self._left = rate
        self._since_s = now_s

    def spend(self, now_s: float) -> bool:
        """Whether one more is allowed now."""
        self._left = min(self._rate, self._left + (now_s - self._since_s) * self._rate)
        self._since_s = now_s
        if self._left < 1.0:
            return False
        self._left -= 1.0
        return True


class Client:
    """The server's state of one connection."""

    def __init__(self, connection: socket.socket, token: int, now_s: float) -> None:
        self.connection = connection
        self.token = token
        self.pid, self.uid, self.gid = credentials(connection)
        self.commanded_s: float | None = None
        self.lines = Lines()
        self.peer: Peer | None = None
        self.cursor: int | None = None
        self.told_gone = 0
        self.waiting_now: bytes | None = None
        self.since_s = now_s
        self.commands = Allowance(COMMANDS_PER_S, now_s)
        self.stops = Allowance(COMMANDS_PER_S, now_s)
        self._outgoing = bytearray()
        self._moved_s = now_s

    def greet(self, name: str) -> None:
        """The client has said its hello."""
        self.peer = Peer(self.token, name, self.pid, self.uid, self.gid)

    @property
    def pending_bytes(self) -> int:
        """What waits to be sent."""
        return len(self._outgoing)

    def put(self, line: bytes) -> None:
        """Queues a line behind what waits already."""
        self._outgoing += line

    def send(self, now_s: float) -> None:
        """Sends what the socket takes without waiting. Raises OSError when the other end is gone."""
        if not self._outgoing:
            self._moved_s = now_s
            return
        try:
            sent = self.connection.send(self._outgoing, socket.MSG_NOSIGNAL)
        except BlockingIOError:
            return
        del self._outgoing[:sent]
        self._moved_s = now_s

    def late(self, now_s: float) -> str | None:
        """Why this client has to be cut off, if it has."""
        if self.peer is None and now_s - self.since_s > HELLO_S:
            return "said no hello"
        if len(self._outgoing) > MAX_SEND_BYTES:
            return "asks more than it reads"
        if self._outgoing and now_s - self._moved_s > STALLED_S:
            return "does not read"
        return None


def socket_inode(path: str) -> int | None:
    """The inode of the file at `path`, None if there is none."""
    try:
        return os.stat(path, follow_symlinks=False).st_ino
    except FileNotFoundError:
        return None
