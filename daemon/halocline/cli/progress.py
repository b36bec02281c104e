"""A bar for work that takes a while: on a terminal only, never in a pipe or a log."""

import shutil
import sys
import time
from collections.abc import Callable
from types import TracebackType
from typing import Self, TextIO

EVERY_S = 0.1
LONGEST_BAR = 40


class Progress:
    """A context that draws `what` and a bar on standard error; call it with the share that is done, 0 to 1."""

    def __init__(self, what: str, stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._what = what
        self._stream = stream or sys.stderr
        self._clock = clock
        self._shown = self._stream.isatty()
        self._begun_s = clock()
        self._drawn_s = float("-inf")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._shown:
            self._stream.write("\r\x1b[K")
            self._stream.flush()

    def __call__(self, share: float) -> None:
        """This much is done."""
        now_s = self._clock()
        if not self._shown or (now_s - self._drawn_s < EVERY_S and share < 1.0):
            return
        self._drawn_s = now_s
        self._stream.write(f"\r\x1b[K{self._line(min(max(share, 0.0), 1.0), now_s - self._begun_s)}")
        self._stream.flush()

    def _line(self, share: float, passed_s: float) -> str:
        left = "" if share < 0.02 or share >= 1.0 else f", {passed_s * (1 - share) / share:.0f} s left"
        tail = f" {share:4.0%}{left}"
        room = shutil.get_terminal_size().columns - len(self._what) - len(tail) - 4
        bar = max(min(room, LONGEST_BAR), 0)
        full = round(share * bar)
        return f"{self._what} [{'#' * full}{'.' * (bar - full)}]{tail}"
