"""A file that others write, looked at again only when it has changed."""

from collections.abc import Callable
from pathlib import Path
from typing import Generic, TypeVar

T = TypeVar("T")
Stamp = tuple[int, int, int]


class WatchedFile(Generic[T]):
    """What `read` makes of the file at `path`, read anew whenever the file is another one than before. `read` is
    also asked when there is no such file."""

    def __init__(self, path: Path, read: Callable[[Path], T]) -> None:
        self._path = path
        self._read = read
        self._known: tuple[Stamp | None, T] | None = None

    def __call__(self) -> T:
        """What the file says now."""
        stamp = self._stamp()
        if self._known is None or self._known[0] != stamp:
            self._known = (stamp, self._read(self._path))
        return self._known[1]

    def _stamp(self) -> Stamp | None:
        try:
            status = self._path.stat()
        except OSError:
            return None
        return status.st_mtime_ns, status.st_ino, status.st_size
