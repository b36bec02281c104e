"""What the service needs once control has ended (ExecStopPost): left in its own folder, which is in memory."""

import os
from pathlib import Path

NAME = "outputs"
"""Of the file that `halocline-safe` reads."""

PROVED = "proved"
"""Of the file that is there once this start of control has done a good tick."""


def leave(levels: str) -> None:
    """Write it where systemd gave a folder (RUNTIME_DIRECTORY); by hand there is none. Raises OSError."""
    folder = _folder()
    if not folder:
        return
    aside = Path(folder, f"{NAME}.new")
    aside.write_text(levels, encoding="ascii")
    aside.replace(Path(folder, NAME))


def prove() -> None:
    """Tell that this start was worth it: one that never comes so far is tried again slowly. Raises OSError."""
    folder = _folder()
    if folder:
        Path(folder, PROVED).touch()


def _folder() -> str | None:
    return os.environ.get("RUNTIME_DIRECTORY")
