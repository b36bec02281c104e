"""Small files that hold either the old or the new content whatever happens, and say when they were damaged.

One line of JSON behind its checksum. Written to a temporary file first, flushed to the card, renamed, and the folder
flushed as well. An empty file beside it, `<name>.written`, tells one that was lost from one that never was: a card that
loses a name from its folder must not make an old boat look new.
"""

import contextlib
import json
import os
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any


class Unreadable(ValueError):
    """The file exists but does not say what was written."""


def encode(version: int, document: Mapping[str, Any]) -> bytes:
    """The file's content. Raises ValueError for numbers that are not finite."""
    body = json.dumps({"version": version, **document}, separators=(",", ":"), allow_nan=False).encode()
    return b"%08x %s\n" % (zlib.crc32(body), body)


def decode(content: bytes) -> tuple[int, dict[str, Any]]:
    """The version and the document in a file's content. Raises `Unreadable` for anything but what `encode` wrote."""
    checksum, _, body = content.removesuffix(b"\n").partition(b" ")
    if not content.endswith(b"\n") or checksum != b"%08x" % zlib.crc32(body):
        raise Unreadable("the checksum does not match")
    try:
        document = json.loads(body)
    except ValueError as error:
        raise Unreadable(str(error)) from error
    if not isinstance(document, dict) or not isinstance(version := document.pop("version", None), int):
        raise Unreadable("it does not say by which version it was written")
    return version, document


def _mark(path: Path) -> Path:
    return path.with_name(f"{path.name}.written")


def is_lost(path: Path) -> bool:
    """Whether the file was written once and is gone."""
    return _mark(path).exists() and not path.exists()


def write(path: Path, content: bytes) -> None:
    """Replace the file. Raises OSError."""
    temporary = path.with_suffix(".new")
    temporary.unlink(missing_ok=True)
    with temporary.open("xb") as file:  # made anew: never what a link leads to, never a pipe that waits
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    temporary.replace(path)
    with contextlib.suppress(FileExistsError):
        _mark(path).open("xb").close()  # once: the folder is flushed below anyway, and never through a link
    directory = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(directory)
    finally:
        os.close(directory)
