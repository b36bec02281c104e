"""The two clocks a board can live by. Everything that waits is given one of them."""

import time
from typing import Protocol


class Clock(Protocol):
    """Monotonic seconds, and a way to let some of them pass."""

    def now(self) -> float:
        """Monotonic time in s."""

    def sleep(self, seconds: float) -> None:
        """Let at least so many seconds pass."""


class RealClock:
    """The computer's monotonic clock, which all processes of one computer share."""

    def now(self) -> float:
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        if seconds > 0.0:
            time.sleep(seconds)


class VirtualClock:
    """Time that passes only when it is asked for: sleeping moves it forward at once."""

    __slots__ = ("_now_s",)

    def __init__(self, now: float = 0.0) -> None:
        self._now_s = now

    def now(self) -> float:
        return self._now_s

    def sleep(self, seconds: float) -> None:
        if seconds > 0.0:
            self._now_s += seconds

    def advance_to(self, t_s: float) -> None:
        """Move on to t_s; a time already past changes nothing, for time never goes back."""
        self._now_s = max(self._now_s, t_s)
