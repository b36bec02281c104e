"""Who makes room at control's socket when it is full. Whoever comes is let in: the newcomer may be a stop.

Nobody is kept out by those who only sit there. What a peer is, the kernel says (its user), and what it has done; its
name is its own word, so it only counts among the connections of the same user.
"""

from collections import Counter
from collections.abc import Collection
from typing import Protocol, TypeVar

SEATS = 8
"""Report, the simulated hand, and a few people and programs. Each costs a copy of every snapshot."""

WAITING = 16
"""Connections that have not said who they are. A hello that is sent along is read as soon as one is let in."""

REPORT = "report"
ANSWERED_WITHIN_S = 5.0
"""As long as a command's answer is waited for."""


class Named(Protocol):
    """A client that has said hello."""

    @property
    def name(self) -> str: ...


class Sitting(Protocol):
    """A connection as it is judged here: `token` numbers them in the order of their coming."""

    token: int
    uid: int
    since_s: float
    commanded_s: float | None

    @property
    def peer(self) -> Named | None: ...


Client = TypeVar("Client", bound=Sitting)


def least_deserving(clients: Collection[Client], now_s: float) -> Client:
    """Who has to go: report and who waits for an answer last, else of the user with most connections who was quiet for
    the longest."""
    of_user = Counter(client.uid for client in clients)
    kept: dict[int, int] = {}
    for client in sorted(clients, key=lambda client: client.token):
        if client.peer is not None and client.peer.name == REPORT:
            kept.setdefault(client.uid, client.token)

    def worth(client: Client) -> tuple[int, int, float, int]:
        commanded_s = client.commanded_s
        waits = commanded_s is not None and now_s - commanded_s <= ANSWERED_WITHIN_S
        firm = 2 if kept.get(client.uid) == client.token else int(waits)
        return firm, -of_user[client.uid], commanded_s or client.since_s, client.token

    return min(clients, key=worth)
