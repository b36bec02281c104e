"""Reading a file that a person named, whatever the name leads to."""

import errno
import os
import stat
from pathlib import Path

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISSOCK, "a socket"),
)


class NotRegular(OSError):
    """What the name leads to is no regular file; `kind` says what it is."""

    def __init__(self, path: Path, kind: str) -> None:
        super().__init__(errno.EINVAL, f"it is {kind}, not a regular file", str(path))
        self.kind = kind


def read_regular(path: Path, most_bytes: int = -1) -> bytes:
    """What is in the file, `most_bytes` of it at most. Raises OSError, `NotRegular` where reading might never end.

    The name is looked at before it is opened, because opening alone has effects: a pipe waits for its other end, a
    watchdog starts to count. It is looked at again once open, because a name may change its meaning in between.
    """
    _refuse_other_kinds(path, path.stat().st_mode)
    descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    with open(descriptor, "rb") as stream:
        _refuse_other_kinds(path, os.fstat(descriptor).st_mode)
        return stream.read(most_bytes)


def _refuse_other_kinds(path: Path, mode: int) -> None:
    for is_kind, kind in _KINDS:
        if is_kind(mode):
            raise NotRegular(path, kind)
