"""The last hour of rows and the newest events, each encoded once, under one running number."""

from bisect import bisect_left
from collections import deque
from collections.abc import Iterator, Mapping
from heapq import merge
from itertools import islice
from typing import Any, NamedTuple

from halocline.link.messages import encode

MAX_ROWS = 3600
MAX_EVENTS = 20_000


class Gap(NamedTuple):
    """From the first to the last number that is no longer kept; some between may still be there."""

    first: int
    last: int


class Replay(NamedTuple):
    """What a reader missed: the numbers that are gone, if any, and the lines that are still there."""

    gap: Gap | None
    lines: Iterator[bytes]


class Ring:
    """Rows at 1 Hz and events of one start of control, numbered together from 1.

    `boot` is the random id of that start. Not thread-safe: one thread appends and reads.
    """

    def __init__(self, boot: str, *, max_rows: int = MAX_ROWS, max_events: int = MAX_EVENTS) -> None:
        self.boot = boot
        self.seq_last = 0
        self._max = {"row": max_rows, "event": max_events}
        self._kept: dict[str, deque[int]] = {"row": deque(), "event": deque()}
        self._lines: dict[int, bytes] = {}
        self._last_gone = 0

    @property
    def seq_first(self) -> int:
        """The oldest number still kept; the next one to come while nothing is kept."""
        return min((kept[0] for kept in self._kept.values() if kept), default=self.seq_last + 1)

    def append_row(self, row: Mapping[str, Any]) -> int:
        """Keeps a row and returns the number given to it. Raises LinkError if it cannot be encoded."""
        return self._append("row", row)

    def append_event(self, event: Mapping[str, Any]) -> int:
        """Keeps an event and returns the number given to it. Raises LinkError if it cannot be encoded."""
        return self._append("event", event)

    def after(self, boot: str, seq: int) -> Replay:
        """What a reader that last saw (`boot`, `seq`) has missed of this boot.

        Another boot's numbers mean nothing here: then everything is missed, from 1 on.
        """
        seen = seq if boot == self.boot else 0
        return Replay(self.gap_after(seen), (self._lines[number] for number in self.numbers_after(seen)))

    def gap_after(self, seq: int) -> Gap | None:
        """The span of numbers above `seq` that are no longer kept."""
        if seq >= self._last_gone:
            return None
        first = seq + 1
        for number in self.numbers_after(seq):
            if number != first:
                break
            first += 1
        return Gap(first, self._last_gone)

    def numbers_after(self, seq: int) -> Iterator[int]:
        """The numbers still kept above `seq`, in order."""
        if seq >= self.seq_last:
            return iter(())
        return merge(*(islice(kept, bisect_left(kept, seq + 1), None) for kept in self._kept.values()))

    def line(self, seq: int) -> bytes:
        """The encoded line of a number still kept. Raises KeyError."""
        return self._lines[seq]

    def _append(self, kind: str, content: Mapping[str, Any]) -> int:
        seq = self.seq_last + 1
        self._lines[seq] = encode({kind: {"seq": seq, **content}})
        self.seq_last = seq
        kept = self._kept[kind]
        kept.append(seq)
        if len(kept) > self._max[kind]:
            gone = kept.popleft()
            del self._lines[gone]
            self._last_gone = max(self._last_gone, gone)
        return seq
