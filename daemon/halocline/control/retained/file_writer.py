"""Puts files on the card in a thread of its own: a card that stands still holds up the files, not the link."""

import queue
import threading
import time
from collections.abc import Callable
from pathlib import Path

from halocline.control.retained import checked_file

Then = Callable[[OSError | None], None]


class FileWriter:
    """Writes one file at a time. `then` is called from `poll`, in the caller's own thread, with what went wrong.

    Without `threaded` everything happens within `begin`.
    """

    def __init__(self, *, threaded: bool) -> None:
        self._done: queue.SimpleQueue[tuple[Then, OSError | None]] = queue.SimpleQueue()
        self._jobs: queue.SimpleQueue[tuple[Path, bytes, Then]] | None = queue.SimpleQueue() if threaded else None
        self._busy_since_s: float | None = None
        if threaded:
            threading.Thread(target=self._work, name="file-writer", daemon=True).start()

    @property
    def busy_s(self) -> float | None:
        """How long the present write has taken, None while there is none."""
        return None if self._busy_since_s is None else time.monotonic() - self._busy_since_s

    def begin(self, path: Path, content: bytes, then: Then) -> None:
        """Start to write; the next may begin once `poll` has reported this one."""
        self._busy_since_s = time.monotonic()
        if self._jobs is None:
            self._write(path, content, then)
        else:
            self._jobs.put((path, content, then))

    def poll(self) -> None:
        """Report what has been written, or could not be."""
        while not self._done.empty():
            then, error = self._done.get_nowait()
            self._busy_since_s = None
            then(error)

    def _work(self) -> None:
        assert self._jobs is not None
        while True:
            self._write(*self._jobs.get())

    def _write(self, path: Path, content: bytes, then: Then) -> None:
        try:
            checked_file.write(path, content)
        except OSError as error:
            self._done.put((then, error))
        else:
            self._done.put((then, None))
