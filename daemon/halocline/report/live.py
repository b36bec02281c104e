"""What is known this moment, kept for everybody who wants to see it, and a bell that rings when it changes."""

import asyncio
import json
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from halocline.link.snapshot import StampedSnapshot
from halocline.report.conditions import Condition, Hearing, Watch
from halocline.report.history import Undated
from halocline.report.public import LOST_AFTER_S, Frame, snapshot
from halocline.report.public_types import PublicSnapshot

WORDS_FOR_S = 0.1


class Live:
    """The newest snapshot of the link, and its public form made at most once for all who ask. Thread-safe."""

    def __init__(
        self,
        frame: Frame,
        clock: Callable[[], float] = time.monotonic,
        watch: Callable[[Hearing], Sequence[Condition]] = Watch(),  # noqa: B008 - holds nothing
        there: Callable[[], bool] = lambda: False,
    ) -> None:
        self.frame = frame
        self._watch = watch
        self._there = there
        self._clock = clock
        self._lock = threading.Lock()
        self._now: StampedSnapshot | None = None
        self._heard_s: float | None = None
        self._made: tuple[float, int, PublicSnapshot, bytes] | None = None
        self._number = 0
        self._bells: set[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = set()
        self.ended = False

    def update(self, now: StampedSnapshot) -> None:
        """A snapshot has come over the link."""
        with self._lock:
            self._now = now
            self._heard_s = self._clock()
            self._number += 1
        self._ring()

    def end(self) -> None:
        """Nothing more will come: whoever waits for the bell shall go home."""
        self.ended = True
        self._ring()

    def age_s(self) -> float | None:
        """How long ago the newest snapshot came; None if none ever did."""
        with self._lock:
            return None if self._heard_s is None else self._clock() - self._heard_s

    def lost(self) -> bool:
        """Whether what is known is too old to be news."""
        age_s = self.age_s()
        return age_s is None or age_s > LOST_AFTER_S

    def heard(self) -> StampedSnapshot | None:
        """The newest snapshot of the link as it came; None while the link is lost."""
        with self._lock:
            fresh = self._heard_s is not None and self._clock() - self._heard_s <= LOST_AFTER_S
            return self._now if fresh else None

    def public(self) -> PublicSnapshot:
        """The public snapshot of this moment."""
        return self._make()[2]

    def public_json(self) -> bytes:
        """The same as JSON."""
        return self._make()[3]

    def undated(self) -> Undated | None:
        """How to date rows of a boot whose clock is not set: by this computer's clock, for lack of a better."""
        with self._lock:
            now, heard_s = self._now, self._heard_s
        if now is None or heard_s is None or now.get("wall_s") is not None or now.get("mono_s") is None:
            return None
        return Undated(str(now.get("boot")), time.time() - (self._clock() - heard_s) - float(now["mono_s"]))

    def bell(self) -> asyncio.Event:
        """An event of the running loop that is set whenever something new has come; clear it before waiting."""
        bell = asyncio.Event()
        with self._lock:
            self._bells.add((asyncio.get_running_loop(), bell))
        return bell

    def unhang(self, bell: asyncio.Event) -> None:
        """Nobody listens to this bell any more."""
        with self._lock:
            self._bells = {hung for hung in self._bells if hung[1] is not bell}

    def _make(self) -> tuple[float, int, PublicSnapshot, bytes]:
        with self._lock:
            now_s, number, made = self._clock(), self._number, self._made
            if made is not None and made[1] == number and 0 <= now_s - made[0] < WORDS_FOR_S:
                return made
            now = self._now
            age_s = None if self._heard_s is None else now_s - self._heard_s
            hearing = Hearing(age_s is None or age_s > LOST_AFTER_S, age_s, self._there())
            frame = replace(self.frame, conditions=tuple(self._watch(hearing)))
            public = snapshot(now, age_s, frame)
            body = json.dumps(public, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()
            self._made = made = (now_s, number, public, body)
            return made

    def _ring(self) -> None:
        with self._lock:
            bells = tuple(self._bells)
        for loop, bell in bells:
            if not loop.is_closed():
                loop.call_soon_threadsafe(bell.set)
