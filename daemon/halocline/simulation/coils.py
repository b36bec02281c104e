"""What stands between the computer's pins and the actuators: contacts in series and the time-out relay."""

from __future__ import annotations

from halocline.plant.vocabulary import ACTUATORS

HEARTBEAT_S = 1.0
"""Without an edge for this long the relay opens."""

FEED_RELEASE_S = 10.0
"""The feed pump's coil is released this much later, so that it outlasts the high-pressure pump's run-down."""


class TimeoutRelay:
    """Closed while heartbeat edges keep coming; once open it stays open until a hand re-arms it.

    The stop button and the pressure switch stand in series with its own coil, so they open it too.
    """

    __slots__ = ("_beating_since_s", "_last_edge_s", "closed", "opened_s", "ready_since_s")

    def __init__(self) -> None:
        self.closed = False
        self.opened_s: float | None = None
        self.ready_since_s: float | None = None
        self._last_edge_s: float | None = None
        self._beating_since_s: float | None = None

    def edge(self, now_s: float) -> None:
        """The heartbeat line changed its level."""
        if not self._beating(now_s):
            self._beating_since_s = now_s
        self._last_edge_s = now_s

    def deadline_s(self) -> float | None:
        """When it will open unless another edge comes; None while open."""
        return self._last_edge_s + HEARTBEAT_S if self.closed and self._last_edge_s is not None else None

    def check(self, now_s: float, contacts_closed: bool) -> None:
        """Open if it must, and note since when it could be re-armed."""
        well = contacts_closed and self._beating(now_s)
        if self.closed and not well:
            self.closed, self.opened_s = False, now_s
        if not well:
            self.ready_since_s = None
        elif not self.closed and self.ready_since_s is None:
            self.ready_since_s = now_s

    @property
    def beating_anew(self) -> bool:
        """Whether the heartbeat came back after the relay opened: a person has dealt with the cause."""
        since_s = self._beating_since_s
        return since_s is not None and (self.opened_s is None or since_s >= self.opened_s)

    def rearm(self) -> bool:
        """Press its button; it holds only if everything in series is closed and the heartbeat beats."""
        if self.ready_since_s is not None:
            self.closed, self.ready_since_s = True, None
        return self.closed

    def _beating(self, now_s: float) -> bool:
        return self._last_edge_s is not None and now_s < self._last_edge_s + HEARTBEAT_S - 1e-9


class Coils:
    """Which coils are really energised."""

    __slots__ = ("pins", "relay", "welded")

    def __init__(self, outputs: tuple[str, ...]) -> None:
        self.pins = dict.fromkeys(outputs, False)
        self.welded: frozenset[str] = frozenset()
        self.relay = TimeoutRelay()

    def energised(self, output: str, now_s: float) -> bool:
        """Whether this output's coil is energised: its pin, and for an actuator the supply as well."""
        return self.pins.get(output, False) and self._supplied(output, now_s)

    def closed(self, output: str, now_s: float) -> bool:
        """Whether what this output switches is on; a welded relay acts as its pin would, and like it needs the coil
        supply."""
        return (self.pins.get(output, False) or output in self.welded) and self._supplied(output, now_s)

    def _supplied(self, output: str, now_s: float) -> bool:
        return output not in ACTUATORS or self.relay.closed or self._released_later(output, now_s)

    def deadline_s(self, now_s: float) -> float | None:
        """When a coil changes by itself, if one will."""
        opened_s = self.relay.opened_s
        if self.relay.closed:
            return self.relay.deadline_s()
        if opened_s is not None and now_s < opened_s + FEED_RELEASE_S and self._feed_wanted:
            return opened_s + FEED_RELEASE_S
        return None

    @property
    def _feed_wanted(self) -> bool:
        return self.pins.get("feed_pump", False) or "feed_pump" in self.welded

    def _released_later(self, output: str, now_s: float) -> bool:
        opened_s = self.relay.opened_s
        return output == "feed_pump" and opened_s is not None and now_s < opened_s + FEED_RELEASE_S - 1e-9
