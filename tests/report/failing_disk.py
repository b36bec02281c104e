"""Disks that fail on demand: a small file system of its own where this process may mount one, and everywhere a
stand-in that makes SQLite itself say what such a disk makes it say."""

import contextlib
import os
import shutil
import sqlite3
import subprocess
import tempfile
import threading
import time
from functools import cache
from pathlib import Path

from halocline.report import database_open
from halocline.report import store as store_module

SIZE_MB = 24


@cache
def can_mount():
    """Whether a loop device may be mounted here."""
    if os.geteuid() != 0 or not shutil.which("mkfs.ext4"):
        return False
    with tempfile.TemporaryDirectory() as folder:
        try:
            LoopDisk(Path(folder)).end()
        except (OSError, subprocess.CalledProcessError):
            return False
    return True


def kinds():
    """The kinds of failing disk there are on this computer."""
    return ("stand_in", "loop") if can_mount() else ("stand_in",)


def run(*command):
    return subprocess.run(command, check=True, capture_output=True, timeout=60, text=True).stdout


class LoopDisk:
    """24 MB of ext4 on a loop device."""

    room_inside_is_room = False
    """Freed pages can be used again only through the journal, which needs a little room itself."""

    def __init__(self, folder):
        self.image = folder / "disk.img"
        self.folder = folder / "disk"
        self.folder.mkdir()
        with self.image.open("wb") as file:
            file.truncate(SIZE_MB * 1024 * 1024)
        run("mkfs.ext4", "-q", "-F", self.image)
        self._frozen = False
        self.device = run("losetup", "--find", "--show", self.image).strip()
        try:
            run("mount", self.device, self.folder)
        except BaseException:
            run("losetup", "--detach", self.device)
            raise

    def fill(self):
        """To the brim: nothing can be written any more."""
        with (self.folder / "others").open("ab", buffering=0) as file:
            for size in (1 << 20, 1 << 12, 1):
                with contextlib.suppress(OSError):
                    while True:
                        file.write(b"x" * size)
            with contextlib.suppress(OSError):
                os.fsync(file.fileno())

    def empty(self):
        """Somebody makes room."""
        (self.folder / "others").unlink()

    def read_only(self):
        """As a card that has had enough; only while nobody has a file open."""
        run("umount", self.folder)
        run("mount", "-o", "ro", self.device, self.folder)

    def writable(self):
        run("mount", "-o", "remount,rw", self.folder)

    def freeze(self):
        run("fsfreeze", "-f", self.folder)
        self._frozen = True

    def thaw(self):
        run("fsfreeze", "-u", self.folder)
        self._frozen = False

    def end(self):
        if self._frozen:
            self.thaw()
        for _ in range(50):
            if subprocess.run(["umount", self.folder], check=False, capture_output=True).returncode == 0:
                break
            time.sleep(0.1)  # the kernel tells nobody when the last user of a folder has gone
        else:
            run("umount", "--lazy", self.folder)
        run("losetup", "--detach", self.device)


class StandIn:
    """An ordinary folder; the recorder's connection is told how many pages there may be, or to write none."""

    room_inside_is_room = True

    def __init__(self, folder, monkeypatch):
        self.folder = folder / "disk"
        self.folder.mkdir()
        self._connections = []
        self._telling = threading.Lock()
        self._state = None
        self._lock = None
        monkeypatch.setattr(store_module, "connect_to_write", self._connect)
        closing = store_module.Store.close
        monkeypatch.setattr(store_module.Store, "close", lambda store: self._close(store, closing))

    def _connect(self, path):
        connection = database_open.connect_to_write(path)
        with self._telling:
            self._connections.append(connection)
            if self._state is not None:
                connection.execute(self._state)
        return connection

    def _close(self, store, closing):
        """Not while a connection is being told something from the test's own thread."""
        with self._telling:
            closing(store)

    def _tell(self, state):
        with self._telling:
            self._state = state
            for connection in self._connections:
                with contextlib.suppress(sqlite3.ProgrammingError):
                    connection.execute(state)

    def fill(self):
        self._tell("PRAGMA max_page_count = 1")

    def empty(self):
        self._tell("PRAGMA max_page_count = 1000000")
        self._state = None

    def read_only(self):
        self._tell("PRAGMA query_only = 1")

    def writable(self):
        self._tell("PRAGMA query_only = 0")
        self._state = None

    def freeze(self):
        """A commit that does not come back is, to the recorder, one that waits for a lock."""
        self._lock = sqlite3.connect(self.folder / "record.sqlite3", isolation_level=None)
        self._lock.execute("BEGIN IMMEDIATE")

    def thaw(self):
        self._lock.close()
        self._lock = None

    def end(self):
        if self._lock is not None:
            self.thaw()
