"""The card or disk that record and latch lie on: room, file system, errors, wear."""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from halocline.app.checkup.lines import Line
from halocline.app.checkup.system import System
from halocline.app.os_errors import in_words
from halocline.plant.regular_file import OURS_MOST_BYTES, read_regular

NO_ROOM_MB = 50.0
"""Less than what a day of recording and a database's journal can need (65 MB a day were measured)."""

IN_MEMORY = frozenset({"tmpfs", "ramfs"})
FOREIGN = frozenset({"vfat", "exfat", "ntfs", "ntfs3", "fuseblk", "nfs", "nfs4", "cifs", "smb3", "9p", "hfsplus"})
"""Without a journal against power cuts, or with locks that a database cannot rely on."""

WEARING, WORN = 0x09, 0x0B
"""Of ten steps; 11 is past the end (JEDEC eMMC 5.0, DEVICE_LIFE_TIME_EST)."""
PRE_EOL_WARNING, PRE_EOL_URGENT = 0x02, 0x03
"""Four fifths, and nearly all, of the spare blocks are used (JEDEC eMMC 5.0, PRE_EOL_INFO)."""


@dataclass(frozen=True, slots=True)
class Mount:
    """What a folder is mounted from."""

    device: str
    kind: str
    read_only: bool


def card_lines(system: System, folder: Path, *, record_mb: float, grows_to_mb: float) -> Iterator[Line]:
    """The card of a folder; `record_mb`: what the record takes there now, `grows_to_mb`: may take."""
    there = _existing(folder)
    try:
        room = shutil.disk_usage(there)
        device = os.stat(there).st_dev
    except OSError as error:
        yield Line("card_gone", {"place": folder, "text": in_words(error)})
        return
    mount = mount_of(system, device)
    free_mb = room.free / 1e6
    values = {"place": folder, "free": megabytes(free_mb), "kind": mount.kind}
    worst = _wear(system, mount.device)
    if mount.read_only:
        yield Line("card_read_only", values)
    elif mount.kind in IN_MEMORY:
        yield Line("card_in_memory", values)
    elif mount.kind in FOREIGN:
        yield Line("card_foreign", values)
    elif free_mb < NO_ROOM_MB:
        yield Line("card_full", values)
    elif record_mb + free_mb < grows_to_mb:
        yield Line("card_small", {**values, "grows": megabytes(grows_to_mb - record_mb)})
    else:
        said = (
            "it does not tell its wear" if worst is None else f"it says that at most {10 * worst} % of its life is used"
        )
        yield Line("card_fit", {**values, "wear": said})
    errors = _errors(system, mount.device)
    if errors:
        yield Line("card_errors", {"place": folder, "count": errors})
    if worst is not None and worst >= WEARING:
        yield Line("card_worn" if worst >= WORN else "card_wearing", {"place": folder, "percent": 10 * worst})


def _existing(folder: Path) -> Path:
    """The folder, or what it would be made in."""
    return next((place for place in (folder, *folder.absolute().parents) if place.exists()), Path("/"))


def mount_of(system: System, device: int) -> Mount:
    """The mount of a device's number, as the kernel lists it (proc_pid_mountinfo(5))."""
    wanted = f"{os.major(device)}:{os.minor(device)}"
    found = Mount(wanted, "an unknown file system", read_only=False)
    for line in (system.text("/proc/self/mountinfo") or "").splitlines():
        front, _, back = line.partition(" - ")
        fields, after = front.split(), back.split()
        if len(fields) > 5 and len(after) > 2 and fields[2] == wanted:
            # read-only is the mount or the whole file system, which the kernel makes it after an error
            read_only = "ro" in after[2].split(",")
            found = Mount(wanted, after[0], read_only)
    return found


def _disk(system: System, device: str) -> Path | None:
    """The folder of the whole disk that a partition lies on."""
    place = system.place(f"/sys/dev/block/{device}")
    if not place.exists():
        return None
    whole = place.resolve()
    return whole.parent if (whole / "partition").exists() else whole


def _errors(system: System, device: str) -> int:
    """What an ext4 has met since it was last checked."""
    place = system.place(f"/sys/dev/block/{device}")
    return system.number(f"/sys/fs/ext4/{place.resolve().name}/errors_count") or 0 if place.exists() else 0


def _wear(system: System, device: str) -> int | None:
    """Tenths of its life that an eMMC says are used, at least; None for what does not tell."""
    disk = _disk(system, device)
    if disk is None:
        return None
    told = _words(disk / "device/life_time")
    left = _words(disk / "device/pre_eol_info")
    at_least = {PRE_EOL_WARNING: WEARING, PRE_EOL_URGENT: WORN}.get(max(left, default=0), 0)
    used = max((step for step in told if step), default=0)
    return max(used, at_least) or None


def _words(file: Path) -> list[int]:
    try:
        return [int(word, 16) for word in read_regular(file, OURS_MOST_BYTES).split()]
    except (OSError, ValueError):
        return []


def megabytes(size_mb: float) -> str:
    """A size for people."""
    return f"{size_mb / 1000.0:.1f} GB" if size_mb >= 1000.0 else f"{size_mb:.0f} MB"
