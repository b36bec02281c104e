"""An operating system's error as one line a person can act on."""

import errno
from collections.abc import Mapping

REMEDIES: Mapping[int, str] = {
    errno.EROFS: "the card has become read-only, as a worn one does: start the computer anew, or change the card",
    errno.ENOSPC: "the card is full: make room",
    errno.EDQUOT: "no more room for this user: make room",
    errno.EIO: "the card or the device failed: journalctl -k -p err tells",
    errno.EMFILE: "too many files are open: start halocline anew",
    errno.ENFILE: "too many files are open on this computer: start it anew",
}
"""What to do, by the system's number; the others say enough by themselves."""


def in_words(error: OSError) -> str:
    """What went wrong and with which file, without the system's number for it, and what to do."""
    if error.strerror is None:
        return str(error)
    said = error.strerror if error.filename is None else f"{error.filename}: {error.strerror}"
    remedy = REMEDIES.get(error.errno or 0)
    # An error made by us has its remedy in its words already.
    return said if remedy is None or error.filename is None else f"{said} ({remedy})"
