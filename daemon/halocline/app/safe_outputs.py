"""What `halocline-safe` needs once control has ended: left in the service's own folder, which is in memory."""

import os
from pathlib import Path

NAME = "outputs"


def leave(levels: str) -> None:
    """Write it where systemd gave a folder (RUNTIME_DIRECTORY); by hand there is none. Raises OSError."""
    folder = os.environ.get("RUNTIME_DIRECTORY")
    if not folder:
        return
    aside = Path(folder, f"{NAME}.new")
    aside.write_text(levels, encoding="ascii")
    aside.replace(Path(folder, NAME))
