"""The only way in which a check-up looks at the computer: files of the kernel, and what its services answer."""

import os
import subprocess
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from halocline.plant.regular_file import OURS_MOST_BYTES, read_regular

PATIENCE_S = 5.0


def ask(command: Sequence[str]) -> str | None:
    """What a command of the system prints, None where it is missing, fails or takes too long."""
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=PATIENCE_S, check=True, env={**os.environ, "LC_ALL": "C"}
        )
    except (OSError, subprocess.SubprocessError):
        return None
    return done.stdout


class System:
    """The computer below `root`."""

    def __init__(self, root: Path = Path("/"), ask: Callable[[Sequence[str]], str | None] = ask) -> None:
        self.root = root
        self._ask = ask

    def place(self, path: str | Path) -> Path:
        """Where a path of the computer is to be looked for."""
        return self.root / str(path).lstrip("/")

    def text(self, path: str | Path) -> str | None:
        """A file's content, stripped; None where it cannot be read."""
        try:
            return self.content(path).decode(errors="replace").strip("\n\0 ")
        except OSError:
            return None

    def content(self, path: str | Path) -> bytes:
        """A file's bytes. Raises OSError."""
        return read_regular(self.place(path), OURS_MOST_BYTES)

    def number(self, path: str | Path) -> int | None:
        """A file with one whole number in it."""
        try:
            return int(self.text(path) or "", 0)
        except ValueError:
            return None

    def names(self, pattern: str) -> list[str]:
        """The paths of the computer that fit a pattern, in order."""
        return sorted(f"/{found.relative_to(self.root)}" for found in self.root.glob(pattern.lstrip("/")))

    def exists(self, path: str | Path) -> bool:
        """Whether there is such a file."""
        return self.place(path).exists()

    def status(self, path: str | Path) -> os.stat_result | None:
        """Owner, group and mode; None where they cannot be had."""
        try:
            return self.place(path).stat()
        except OSError:
            return None

    def properties(self, *command: str) -> Mapping[str, str] | None:
        """What a command prints as NAME=VALUE lines."""
        said = self._ask(command)
        return None if said is None else dict(line.partition("=")[::2] for line in said.splitlines() if "=" in line)
