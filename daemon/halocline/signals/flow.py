"""Flow from pulses: by period between edges, averaged over a gate, with every pulse counted once."""

import math
from collections import deque

from halocline.plant.sensors import Pulses
from halocline.signals.formulas import pulse_flow_l_h

SHORTEST_GATE_S = 1.0
"""With less, a turbine's uneven blades show (from memory)."""
FEWEST_PULSES = 10
"""The gate is the shortest that holds a second and ten pulses: steady to read, quick to follow. One pulse more or less
is then a tenth (computed; that it is enough: chosen)."""

JITTER_PULSES = 2
"""Count and time are not read in the same instant; two pulses cover the reader's delay (chosen)."""

DOUBT_S = 1.0
"""How long a burst casts doubt on the flow. As long as a channel must be good before it is believed again (chosen)."""

OVERDUE_PULSES = 3.0
"""A meter that has missed three pulses at its last pace, and one at a hundredth of its range, stands (chosen)."""
BEYOND_FASTEST = 1.01
"""Times the fastest that a meter can turn: the clock's and the counter's own error stay within a hundredth (chosen)."""
LOST_BELOW = 0.01
"""Fraction of the meter's range below which a turbine may as well stand still (it is not linear below a tenth of its
range anyway) (from memory)."""


class PulseFlow:
    """One meter. Feed it what the pin's counter says, as often as convenient."""

    __slots__ = (
        "_burst_s",
        "_count",
        "_edges",
        "_gate_s",
        "_high",
        "_lost_hz",
        "_max_hz",
        "_own",
        "_pulses",
        "_taken",
        "_taken_s",
        "bursts",
        "estimated",
        "pulses_per_l",
    )

    def __init__(self, sensor: Pulses, pulses_per_l: float | None = None) -> None:
        """`pulses_per_l` replaces the meter's K-factor after a bucket test."""
        self._own = sensor.pulses_per_l
        self._high = sensor.high
        self.bursts = 0
        self.estimated = False
        self._max_hz = sensor.max_hz
        self._gate_s = sensor.gate_s
        self._edges: deque[tuple[float, int]] = deque()
        self._count: int | None = None
        self._taken_s = -math.inf
        self._pulses = 0
        self._taken = 0
        self._burst_s = -math.inf
        self.calibrate(pulses_per_l)

    def calibrate(self, pulses_per_l: float | None) -> None:
        """A K-factor from a bucket test for the pulses not yet taken as litres; None: the meter's own."""
        self.pulses_per_l = self._own if pulses_per_l is None else pulses_per_l
        self._lost_hz = LOST_BELOW * self._high * self.pulses_per_l / 3600.0

    def update(self, now_s: float, count: int, last_edge_s: float) -> None:
        """Pulses counted so far and the time of the last one; both on the same clock as `now_s`."""
        if self._count is None or count < self._count:
            self._begin(now_s, count)
            return
        new = count - self._count
        believable = self._max_hz * max(0.0, now_s - self._taken_s) + JITTER_PULSES
        self._count = count
        self._taken_s = now_s
        if new > believable:
            self._burst(now_s, int(believable))
        elif new:
            self._pulses += new
            # A time that is not finite, or ahead of us, is no time of an edge.
            self._note_edge(last_edge_s if -math.inf < last_edge_s <= now_s else now_s, count)

    def rate_hz(self, now_s: float) -> float:
        """Pulses a second, falling as 1/silence once pulses are overdue, 0 at the latest after the gate."""
        if len(self._edges) < 2:
            return 0.0
        (first_s, first), (last_s, last) = self._edges[0], self._edges[-1]
        width_s = max(last_s - first_s, (last - first) / self._max_hz)
        rate = (last - first) / width_s
        silence_s = now_s - last_s
        if silence_s * rate <= 1.0:
            return rate
        if silence_s >= self._gate_s or (silence_s * rate > OVERDUE_PULSES and silence_s * self._lost_hz > 1.0):
            return 0.0
        return 1.0 / silence_s

    def flow_l_h(self, now_s: float) -> float:
        """Flow now, L/h."""
        return self.at_rate_l_h(self.rate_hz(now_s))

    def at_rate_l_h(self, rate_hz: float) -> float:
        """Flow at so many pulses a second, L/h."""
        return pulse_flow_l_h(rate_hz, self.pulses_per_l)

    def implausible(self, now_s: float) -> bool:
        """Whether pulses come, or within a second came, faster than the meter can turn."""
        if now_s - self._burst_s < DOUBT_S:
            return True
        if len(self._edges) < 2:
            return False
        (first_s, first), (last_s, last) = self._edges[0], self._edges[-1]
        return last - first >= FEWEST_PULSES and (last - first) > self._max_hz * BEYOND_FASTEST * (last_s - first_s)

    @property
    def litres(self) -> float:
        """All believed pulses since the first look at the counter, as litres."""
        return self._pulses / self.pulses_per_l

    def take_litres(self) -> float:
        """Litres since the last call; no pulse is lost or counted twice. Clears `estimated`."""
        new = self._pulses - self._taken
        self._taken = self._pulses
        self.estimated = False
        return new / self.pulses_per_l

    def _begin(self, now_s: float, count: int) -> None:
        # A counter that went back was opened anew; what it counted meanwhile is not known.
        self.estimated = self._count is not None
        self._count = count
        self._taken_s = now_s
        self._edges.clear()

    def _burst(self, now_s: float, believable: int) -> None:
        self._pulses += believable
        self._burst_s = now_s
        self._edges.clear()
        self.bursts += 1
        self.estimated = True

    def _note_edge(self, edge_s: float, count: int) -> None:
        edges = self._edges
        if edges and not 0.0 <= edge_s - edges[-1][0] <= self._gate_s:
            edges.clear()
        edges.append((edge_s, count))
        while len(edges) > 2:
            next_s, next_count = edges[1]
            enough = edge_s - next_s >= SHORTEST_GATE_S and count - next_count >= FEWEST_PULSES
            if not enough and edge_s - edges[0][0] <= self._gate_s:
                break
            edges.popleft()
