"""Reading a small file whatever stands in its place: nothing here waits, or reads more than it was told.

All that we read of settings, memory and secrets comes through here.
"""

import errno
import os
import stat
from pathlib import Path

OURS_MOST_BYTES = 1_000_000
"""No file that we write ourselves and read whole comes near it."""

_KINDS = (
    (stat.S_ISLNK, "a link"),
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


class TooLarge(OSError):
    """The file is larger than whoever reads it can use."""

    def __init__(self, path: Path, found_bytes: int, most_bytes: int) -> None:
        super().__init__(errno.EFBIG, f"it has {found_bytes} bytes, and at most {most_bytes} are read", str(path))


def read_regular(path: Path, most_bytes: int, *, follow: bool = True) -> bytes:
    """What is in the file. Raises OSError: `NotRegular` where reading might never end, `TooLarge`.

    Without `follow` no link is read either: what control must remember is where it was put, or not there. The name is
    looked at before it is opened, because opening alone has effects: a pipe waits for its other end, a watchdog starts
    to count. It is looked at again once open, because a name may change its meaning in between.
    """
    _refuse(path, os.stat(path, follow_symlinks=follow), most_bytes)
    no_link = 0 if follow else os.O_NOFOLLOW
    descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC | no_link)
    with open(descriptor, "rb") as stream:
        _refuse(path, os.fstat(descriptor), most_bytes)
        content = stream.read(most_bytes + 1)
    if len(content) > most_bytes:
        raise TooLarge(path, len(content), most_bytes)
    return content


def refuse_other_kinds(path: Path) -> None:
    """Raises NotRegular for what is there and no regular file, before others open it. Raises OSError."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return
    _refuse(path, found, found.st_size)


def _refuse(path: Path, found: os.stat_result, most_bytes: int) -> None:
    for is_kind, kind in _KINDS:
        if is_kind(found.st_mode):
            raise NotRegular(path, kind)
    if found.st_size > most_bytes:
        raise TooLarge(path, found.st_size, most_bytes)
