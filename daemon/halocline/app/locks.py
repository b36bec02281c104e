"""One of each kind for each data folder: a second one would fight over sockets, files and pins."""

import contextlib
import fcntl
import os
import time
from collections.abc import Iterator
from pathlib import Path

from halocline.plant.own_files import open_lock

LOOK_EVERY_S = 0.05


class AlreadyRuns(Exception):
    """Another one has the folder; the message says what and where."""


@contextlib.contextmanager
def only_one(lock_path: Path, what: str) -> Iterator[None]:
    """Hold the lock that a second `what` would need. The kernel lets go of it however the process ends.

    Raises AlreadyRuns, or OSError if the file cannot be made.
    """
    with os.fdopen(open_lock(lock_path), "rb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise _already(what, lock_path) from None
        yield


def wait_until_free(lock_path: Path, what: str, patience_s: float) -> None:
    """Wait for one that is just ending. Raises AlreadyRuns if it does not, OSError if the file cannot be made."""
    give_up_s = time.monotonic() + patience_s
    while True:
        try:
            with only_one(lock_path, what):
                return
        except AlreadyRuns:
            if time.monotonic() > give_up_s:
                raise
            time.sleep(LOOK_EVERY_S)


def _already(what: str, lock_path: Path) -> AlreadyRuns:
    return AlreadyRuns(
        f"another {what} already runs on {lock_path.parent}; stop it first, or choose another folder with --data"
    )
