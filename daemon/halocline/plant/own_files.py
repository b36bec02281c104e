"""Folders, lock files and files that are ours alone: what others can change, or lead elsewhere, is refused."""

import contextlib
import errno
import os
import stat
from pathlib import Path

OPEN_TO_ALL = (
    "{folder}: everybody may write there, so anybody could change what the plant must remember. Take that right away: "
    "chmod o-w {folder}"
)


def refuse_open_to_all(folder: Path) -> None:
    """Raises OSError if everybody may write to this folder, or may put another in the place of one above it."""
    whole = folder.resolve()
    for place in (whole, *whole.parents):
        mode = place.stat().st_mode
        # In a sticky folder (as /tmp is) nobody can move what others have made.
        if mode & stat.S_IWOTH and (place == whole or not mode & stat.S_ISVTX):
            raise OSError(OPEN_TO_ALL.format(folder=place))


def owners_of(folder: Path) -> set[int]:
    """Whose files may stand in a folder of ours: its owner's, and those of whoever we are."""
    return {folder.stat().st_uid, os.geteuid()}


def open_lock(path: Path) -> int:
    """A descriptor of the lock file at `path`, made if need be for the folder's owner; it is not written to.

    Never through a link, never a file of other users. Raises OSError with the remedy.
    """
    try:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK, 0o600)
    except OSError as error:
        if error.errno != errno.ELOOP:
            raise
        raise OSError(f"a link stands at {path}, where a lock has to be; remove it: rm {path}") from None
    try:
        _check(descriptor, path)
    except OSError:
        os.close(descriptor)
        raise
    return descriptor


def replace_whole(path: Path, content: bytes, mode: int) -> None:
    """Puts `content` at `path`, for the owner of what stood there or of the folder; whole or not at all, also when the
    power fails. Raises OSError."""
    aside = path.with_name(path.name + ".new")
    aside.unlink(missing_ok=True)
    with os.fdopen(os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    owner = (path if path.exists() else path.parent).stat()
    with contextlib.suppress(PermissionError):
        os.chown(aside, owner.st_uid, owner.st_gid)
    aside.replace(path)


def _check(descriptor: int, path: Path) -> None:
    found, folder = os.fstat(descriptor), path.parent.stat()
    if not stat.S_ISREG(found.st_mode):
        raise OSError(f"no regular file stands at {path}, where a lock has to be; remove it: rm {path}")
    if found.st_uid not in owners_of(path.parent):
        raise OSError(f"{path} belongs to another user; remove it, or choose another folder with --data")
    # Whoever looks is often root, and the folder's owner has to be able to take the lock afterwards.
    with contextlib.suppress(PermissionError):
        os.fchown(descriptor, folder.st_uid, folder.st_gid)
