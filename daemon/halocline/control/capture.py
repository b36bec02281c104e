"""What was measured around a trip, a stop by a cause or a diversion, at the rate of the loop.

The loop notes the values of each tick in a ring of memory and does no more. Housekeeping cuts pieces out of it once a
cause has come, a few seconds each, so that they are on their way before the next cause, or the end of control, comes.
"""

from collections import deque
from collections.abc import Mapping
from typing import Any

from halocline.link.captures import AFTER_S, CAPTURE, Sample, pieces
from halocline.plant.alarms import DEFINITIONS, AlarmState
from halocline.plant.vocabulary import Reading

BEFORE_S = 60.0
"""What leads to a trip mostly takes less than a minute: air, a hand at the regulator, a filter (common practice)."""
PIECE_S = 5.0
"""A hundred ticks: a piece fits in one line of the link, and a control that is killed takes no more with it than that
and what had not come yet (computed)."""
KEPT = 1500
"""75 s at 20 Hz: the time before, and 15 s for which housekeeping may be held up (computed)."""


class RecentSamples:
    """The values of the newest ticks. One thread notes, another may look at any time."""

    def __init__(self) -> None:
        self.channels: tuple[str, ...] = ()
        self._samples: deque[Sample] = deque(maxlen=KEPT)

    def note(self, now_s: float, readings: Mapping[str, Reading]) -> None:
        """One tick's values; always of the same channels in the same order. Bare numbers rather than the readings
        themselves: a fifth of the memory, and nothing for the collector of garbage to walk through."""
        if not self.channels:
            self.channels = tuple(readings)
        self._samples.append((now_s, tuple([reading.value for reading in readings.values()])))

    @property
    def newest_s(self) -> float | None:
        """When the last one was noted."""
        return self._samples[-1][0] if self._samples else None

    def between(self, after_s: float, to_s: float) -> list[Sample]:
        """Those later than `after_s`, up to `to_s`."""
        return [sample for sample in self._samples.copy() if after_s < sample[0] <= to_s]


class CaptureCutter:
    """Cuts what is to be kept out of the newest samples, each of them once however many causes come together."""

    def __init__(self, recent: RecentSamples) -> None:
        self._recent = recent
        self._cut_s = float("-inf")
        self._until_s: float | None = None
        self._cause: int | None = None

    def follow(self, event: Mapping[str, Any], seq: int | None, now_s: float) -> None:
        """An event of the plant with its number: a cause that comes begins a capture, or prolongs the one going on."""
        if not _is_a_cause_that_comes(event):
            return
        if self._until_s is None:
            self._cut_s = max(self._cut_s, now_s - BEFORE_S)
            self._cause = seq
        self._until_s = now_s + AFTER_S

    def cut(self) -> list[dict[str, Any]]:
        """The next stretch as events, without a time or number of their own, once it is complete; one at a call, so
        that nothing else waits for the minute before a trip to be packed."""
        newest_s = self._recent.newest_s
        if self._until_s is None or newest_s is None:
            return []
        to_s = min(self._cut_s + PIECE_S, self._until_s)
        return [] if newest_s < to_s else self._cut_up_to(to_s)

    def rest(self) -> list[dict[str, Any]]:
        """All that there is of a capture going on: control ends."""
        told: list[dict[str, Any]] = []
        newest_s = self._recent.newest_s
        while self._until_s is not None and newest_s is not None and self._cut_s < newest_s:
            told += self._cut_up_to(min(self._cut_s + PIECE_S, self._until_s))
        return told

    def _cut_up_to(self, to_s: float) -> list[dict[str, Any]]:
        found = self._recent.between(self._cut_s, to_s)
        self._cut_s = to_s
        if to_s == self._until_s:
            self._until_s = None
        return [{"kind": CAPTURE, "cause": self._cause, **piece} for piece in pieces(self._recent.channels, found)]


def _is_a_cause_that_comes(event: Mapping[str, Any]) -> bool:
    """An alarm whose row trips, stops or diverts; not the everyday ends of a run, a full tank for one."""
    row = DEFINITIONS.get(str(event.get("id"))) if event.get("kind") == "alarm" else None
    return row is not None and row.makes_a_case and event.get("to") == AlarmState.UNACKNOWLEDGED
