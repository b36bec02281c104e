"""The firmware's own word on the computer's supply."""

from pathlib import Path

from halocline.plant.regular_file import OURS_MOST_BYTES, read_regular

FIRMWARE = "sys/devices/platform"
FLAG = "soc*/*firmware/get_throttled"
"""The folder's name differs between models; the file's does not (Raspberry Pi kernels)."""

LOW_NOW, WAS_LOW = 1 << 0, 1 << 16
"""Bits of the flag (Raspberry Pi documentation, vcgencmd get_throttled)."""


def flag_file(root: Path = Path("/")) -> Path | None:
    """The file with the flag, None on a computer that has none."""
    return next(iter(sorted((root / FIRMWARE).glob(FLAG))), None)


def flags(file: Path | None) -> int | None:
    """All bits, None where they are not told."""
    try:
        return None if file is None else int(read_regular(file, OURS_MOST_BYTES), 16)
    except (OSError, ValueError):
        return None
