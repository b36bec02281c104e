"""The boat's memory card under the latch file: it stops in the middle of a write, and loses what it had not kept.

After a kill the kernel still has all that was written. After a power cut only what was flushed is certain: a file that
was not may be cut short, full of zeros or of noise, and a rename may not have happened yet where its folder was not
flushed.
"""

import os
import random
from pathlib import Path

from halocline.control.retained import checked_file

STEPS = ("written", "flushed", "renamed", "kept")
"""Where a write of a checked file can be cut off, in their order."""


class CutOff(BaseException):
    """The process is gone at this very instruction; nothing catches it."""


class Card:
    """Cuts the next write off after one of `STEPS`; `lose_power` then takes what was not certain."""

    def __init__(self, path, patch, chance=None):
        self.path = Path(path)
        self._temporary = self.path.with_suffix(".new")
        self._chance = chance or random.Random(0)
        self._cut_after = None
        self._at = None
        self._old = None
        self._replace = Path.replace
        self._fsync = os.fsync
        patch.setattr(checked_file.os, "fsync", self._flush)

        def rename(source, target):
            self._rename(source, target)

        patch.setattr(Path, "replace", rename)

    def cut_off_after(self, step):
        """The next write ends with this step of it, and so does the process."""
        self._cut_after = step

    def lose_power(self):
        """What was not certain is as it may be."""
        if self._at == "written":
            whole = self._temporary.read_bytes()
            kept = whole[: self._chance.randrange(len(whole) + 1)]
            torn = (kept, bytes(len(whole)), self._chance.randbytes(len(whole)), whole)
            self._temporary.write_bytes(self._chance.choice(torn))
        if self._at == "renamed" and self._chance.random() < 0.5:
            self.path.unlink()
            if self._old is not None:
                self.path.write_bytes(self._old)
        self._at = self._cut_after = None

    def _flush(self, file):
        if not self._is_folder(file):
            self._reach("written")
        self._fsync(file)
        self._reach("kept" if self._is_folder(file) else "flushed")

    def _rename(self, source, target):
        if Path(target) == self.path:
            self._old = self.path.read_bytes() if self.path.exists() else None
        self._replace(source, target)
        if Path(target) == self.path:
            self._reach("renamed")

    @staticmethod
    def _is_folder(file):
        return os.path.isdir(f"/proc/self/fd/{file}")

    def _reach(self, step):
        self._at = step
        if self._cut_after == step:
            self._cut_after = None
            raise CutOff(step)
