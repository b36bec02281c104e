"""Control's time on a simulated boat: while a busy computer keeps a sample waiting, the plant's time waits too.

Aboard, control runs with real-time priority, and a late look is a fault that has to be seen. A simulated boat runs
on anything, beside anything, and its sensors live in a process that waits for the same computer: an instant in
which one of the two was not allowed to run must not look like a sensor that fell silent. A halt stays a halt: when
the time-out relay would have dropped, the time counts in full.
"""

import threading
import time
from collections.abc import Callable

from halocline.control.acquisition.board import Board

PATIENCE_S = 0.065
"""How far time goes on while the boat owes an answer, or while nobody came to look: a tick and a bit. Both after
each other still stay within the 150 ms for which a pressure reading is fresh."""

AT_EASE_S = 0.02
"""So long after the last conversion nobody is waiting for one: the scanner rests, or a chip is not asked."""

HALT_S = 0.9
"""From here on it was no busy computer but a halt, which the time-out relay is about to see as well."""


class PatientClock:
    """Monotonic seconds that wait `PATIENCE_S` after the last answer, but never through a halt of `HALT_S`."""

    def __init__(self, real: Callable[[], float] = time.monotonic) -> None:
        self._real = real
        self._looking = threading.Lock()
        self._marked_real_s = self._marked_s = self._asked_s = real()
        self._asking = False
        self._behind_s = self._behind_at_mark_s = 0.0

    @property
    def behind_s(self) -> float:
        """How far it is behind the computer's own clock."""
        return self._behind_s

    def now(self) -> float:
        """Monotonic time in s."""
        with self._looking:
            real_s = self._real()
            now_s = self._look(real_s)
            if not self._asking and real_s - self._asked_s > AT_EASE_S:
                self._mark(real_s, now_s)
            return now_s

    def sleep(self, seconds: float) -> None:
        """Let at least so many seconds pass."""
        if seconds > 0.0:
            time.sleep(seconds)

    def asked(self) -> None:
        """The boat owes an answer."""
        self._asking = True

    def answered(self, *, awaited: bool) -> None:
        """The boat has answered; `awaited` says that it was the answer which has to be fresh."""
        with self._looking:
            self._asking = False
            self._asked_s = self._real()
            if awaited:
                self._mark(self._asked_s, self._look(self._asked_s))

    def _look(self, real_s: float) -> float:
        if real_s - self._marked_real_s >= HALT_S:
            self._behind_s = self._behind_at_mark_s
        else:
            self._behind_s = max(self._behind_s, real_s - self._marked_s - PATIENCE_S)
        return real_s - self._behind_s

    def _mark(self, real_s: float, now_s: float) -> None:
        self._marked_real_s, self._marked_s, self._behind_at_mark_s = real_s, now_s, self._behind_s


class PatientBoard:
    """A simulated board that tells the clock when it is asked and answers, and dates its pulses by it."""

    def __init__(self, board: Board, clock: PatientClock, address: int, mux: int) -> None:
        """`address` and `mux`: the input whose answer has to be fresh."""
        self._board = board
        self._clock = clock
        self._awaited = (address, mux)
        self.together, self.write, self.read, self.close = board.together, board.write, board.read, board.close

    def convert(self, address: int, mux: int, gain: float, rate: int) -> float:
        """One fresh conversion in V; one that failed is an answer too."""
        self._clock.asked()
        try:
            return self._board.convert(address, mux, gain, rate)
        finally:
            self._clock.answered(awaited=(address, mux) == self._awaited)

    def edges(self, line: str) -> tuple[int, float]:
        """Pulses and the time of the last one in s."""
        count, last_s = self._board.edges(line)
        return count, last_s - self._clock.behind_s

    def answers(self, address: int) -> bool:
        """Whether a chip answers at this address."""
        return self._board.answers(address)

    def clear_bus(self) -> bool:
        """Clock the bus free; whether it is."""
        return self._board.clear_bus()

    def arm_interlock(self) -> None:
        """Program the comparator interlock."""
        self._board.arm_interlock()

    def check_interlock(self) -> None:
        """Read the comparator interlock back."""
        self._board.check_interlock()

    def release_interlock(self) -> None:
        """Close the interlock's latch."""
        self._board.release_interlock()

    def prove_interlock(self) -> float:
        """Prove the interlock; s to open."""
        return self._board.prove_interlock()
