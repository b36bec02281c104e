"""Looks after the comparator interlock from the scanner's thread, which owns the bus.

The interlock protects by itself. What remains is to program it, to read it back now and then, to program it
again after its chip was reset, and to close its latch once a person has acknowledged what opened it.
"""

import contextlib
from typing import Protocol

from halocline.control.acquisition.board import Board
from halocline.plant.settings import Settings

CHECK_EVERY_S = 2.0
"""A chip that was reset watches nothing for so long at most; each look costs a turn of the scan (chosen)."""
RELEASE_EVERY_S = 0.5
"""A latch that does not close at once is asked again, not at every turn (chosen)."""
TAKES_WITHIN_S = 0.5
"""Two conversions, a relay and its contact's debounce take less than a tenth of a second; what is not closed after this
was opened (chosen)."""
CONTACT_EVERY_S = 0.01
"""Much shorter than what is waited for (chosen)."""
CONTACT = "pressure_switch"


class Clock(Protocol):
    """Monotonic seconds that can be waited for."""

    def now(self) -> float:
        """Monotonic time in s."""

    def sleep(self, seconds: float) -> None:
        """Let so many seconds pass."""


class InterlockGuard:
    """One interlock. `lost` is true until its window was read back as programmed, and whenever it was not."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._check_due_s = float("-inf")
        self._release_due_s = float("-inf")
        self._release = False
        self.lost = True
        self.rearmed = 0

    def turn(self, now_s: float) -> None:
        """What is due now. Never raises for what the electronics do."""
        if self._release and now_s >= self._release_due_s:
            self._release, self._release_due_s = False, now_s + RELEASE_EVERY_S
            with contextlib.suppress(OSError):
                self._board.release_interlock()
        if now_s >= self._check_due_s:
            self._check_due_s = now_s + CHECK_EVERY_S
            self.lost = not self._holds()

    def _holds(self) -> bool:
        """Whether the chip holds its window. One that does not is programmed again; the next look tells whether it
        took, so that the time without a guard is not overlooked."""
        try:
            self._board.check_interlock()
        except OSError:
            with contextlib.suppress(OSError):
                self._board.arm_interlock()
                self.rearmed += 1
            return False
        return True

    def ask_release(self) -> None:
        """Close the latch at the next turn. From any thread."""
        self._release = True


def armed(board: Board, settings: Settings, clock: Clock) -> Board:
    """The board with its interlock programmed before anything is judged: until then the chip holds its relay open,
    which would be taken for overpressure. One that cannot be programmed is reported by the guard."""
    if settings.interlock is None:
        return board
    with contextlib.suppress(OSError):
        board.arm_interlock()
        give_up_s = clock.now() + TAKES_WITHIN_S
        while not board.read(CONTACT) and clock.now() < give_up_s:
            clock.sleep(CONTACT_EVERY_S)
    return board
