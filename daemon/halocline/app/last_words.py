"""Why control could not start, left beside its socket for those who are asked by people: only the journal would know
otherwise. Removed as soon as a control runs."""

import contextlib
import os
from collections.abc import Iterable, Sequence
from pathlib import Path

from halocline.plant.regular_file import read_regular

NAME = "control.trouble"
LONGEST_BYTES = 8 * 1024


def beside(socket_path: Path) -> Path:
    """The file that belongs to control's socket."""
    return socket_path.with_name(NAME)


def leave(socket_path: Path, lines: Iterable[str]) -> None:
    """Write them, readable for the group of the folder; a place that cannot be written is no further trouble."""
    path = beside(socket_path)
    aside = path.with_name(f"{NAME}.new")
    with contextlib.suppress(OSError):
        aside.unlink(missing_ok=True)
        with aside.open("xb") as file:  # made anew: never what a link leads to
            file.write("\n".join(lines).encode()[:LONGEST_BYTES])
        os.chown(aside, -1, path.parent.stat().st_gid)
        aside.chmod(0o640)
        os.replace(aside, path)


def forget(socket_path: Path) -> None:
    """Control runs."""
    with contextlib.suppress(OSError):
        beside(socket_path).unlink()


def read(path: Path) -> Sequence[str]:
    """The lines at `path`; none if there are none, or nobody may read them."""
    try:
        return read_regular(path, LONGEST_BYTES, follow=False).decode(errors="replace").splitlines()
    except OSError:
        return ()
