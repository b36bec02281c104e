"""Who may come in: how many connections each address may hold, and who has to go when too many only stand around.

A connection *waits* until a whole request has come on it, and again after the answer; then it is *served*. Only those
that wait are ever turned out, and first of the address that has the most of them: a person's browser has one or two
for a moment, an attacker who wants to use up the page's connections has many for long.
"""

import socket
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

PER_ADDRESS = 32
MAX_WAITING = 64
MAX_GUESTS = 256
LONGEST_WAIT_S = 15.0
"""Beyond the protocol's own deadlines, for what they do not see: a TLS handshake that is never finished."""

Peer = tuple[str, int]


@dataclass(frozen=True, slots=True)
class _Guest:
    since_s: float
    turn_out: Callable[[], None]


class ConnectionLimiter:
    """The book of all connections, kept by the event loop's thread. The oldest stand first."""

    def __init__(
        self,
        clock: Callable[[], float] = time.monotonic,
        *,
        per_address: int = PER_ADDRESS,
        waiting: int = MAX_WAITING,
        guests: int = MAX_GUESTS,
    ) -> None:
        self._clock = clock
        self._per_address = per_address
        self._most_waiting = waiting
        self._most_guests = guests
        self._waiting: dict[Peer, _Guest] = {}
        self._served: dict[Peer, _Guest] = {}

    @property
    def inside(self) -> int:
        """How many connections there are."""
        return len(self._waiting) + len(self._served)

    def enter(self, peer: Peer, turn_out: Callable[[], None]) -> bool:
        """Whether this connection may come in. Another connection may be evicted for it."""
        self._turn_out_the_slow()
        own = [other for other in (*self._waiting, *self._served) if other[0] == peer[0]]
        if len(own) >= self._per_address and not self._turn_out_one(peer[0]):
            return False
        if self.inside >= self._most_guests and not self._turn_out_one(self._busiest()):
            return False
        self._waiting[peer] = _Guest(self._clock(), turn_out)
        if len(self._waiting) > self._most_waiting:
            self._turn_out_one(self._busiest())
        return peer in self._waiting

    def serve(self, peer: Peer) -> None:
        """A whole request has come."""
        guest = self._waiting.pop(peer, None)
        if guest is not None:
            self._served[peer] = guest

    def wait(self, peer: Peer) -> None:
        """The answer is given; there may be another request."""
        guest = self._served.pop(peer, None)
        if guest is not None:
            self._waiting[peer] = _Guest(self._clock(), guest.turn_out)

    def leave(self, peer: Peer) -> None:
        """The connection is over."""
        self._waiting.pop(peer, None)
        self._served.pop(peer, None)

    def _turn_out_the_slow(self) -> None:
        limit_s = self._clock() - LONGEST_WAIT_S
        for peer in [peer for peer, guest in self._waiting.items() if guest.since_s < limit_s]:
            self._waiting.pop(peer).turn_out()

    def _turn_out_one(self, address: str | None) -> bool:
        """The one of this address that has waited longest; whether there was one."""
        peer = next((peer for peer in self._waiting if peer[0] == address), None)
        if peer is None:
            return False
        self._waiting.pop(peer).turn_out()
        return True

    def _busiest(self) -> str | None:
        """The address with the most connections that wait; of several the one with the oldest."""
        counted = Counter(address for address, _ in self._waiting)
        return max(counted, key=lambda address: counted[address], default=None)


class LimitedProtocol(socket.socket):
    """A listening socket that asks the door about everybody who knocks, before a byte is read or a key agreed on."""

    def __init__(self, listening: socket.socket, door: ConnectionLimiter) -> None:
        super().__init__(listening.family, listening.type, listening.proto, listening.detach())
        self._door = door

    def accept(self) -> tuple[socket.socket, Any]:
        """The next who may come in. Raises ConnectionAbortedError for one who may not, as if it had hung up."""
        knocking, address = super().accept()
        peer = address[:2]
        guest = _Counted(knocking, lambda: self._door.leave(peer))
        if self._door.enter(peer, guest.hang_up):
            return guest, address
        guest.close()
        raise ConnectionAbortedError


class _Counted(socket.socket):
    """A connection that says when it is over."""

    def __init__(self, accepted: socket.socket, leave: Callable[[], None]) -> None:
        super().__init__(accepted.family, accepted.type, accepted.proto, accepted.detach())
        self._leave = leave

    def hang_up(self) -> None:
        """Ends it from our side; whoever reads from it sees the end and closes it."""
        try:
            self.shutdown(socket.SHUT_RDWR)
        except OSError:
            self.close()

    def close(self) -> None:
        """Closes it, once and for all."""
        super().close()
        self._leave()
