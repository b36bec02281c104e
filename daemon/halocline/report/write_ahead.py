"""SQLite's write-ahead journal as a file: how far it holds, and what it could hold if its checksums were mended.

SQLite plays the journal up to the first frame that does not fit, and says nothing of what comes after it: one flipped
bit hides everything that was committed since. Each frame's checksum goes on from that of the frame before as it is
written there, so every frame behind the broken one can still be proved whole. Format: sqlite.org/fileformat2.html,
section 4.
"""

import struct
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from halocline.plant.regular_file import read_regular

MAGIC = 0x377F0682
VERSION = 3007000
HEADER_BYTES, FRAME_BYTES = 32, 24
USUAL_PAGE = 4096
LARGEST_BYTES = 64_000_000
"""It is read whole and seldom has more than eight million; a larger one would leave a small computer no memory."""

Sums = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Frame:
    """One page as it was after a change. `size` is that of the file in pages, of the last frame of a commit only;
    `whole`: it is what was written, judged by the checksum before it; `ours`: its mark is that of this journal, and
    not of an earlier one whose place it took."""

    page: int
    size: int
    content: bytes
    whole: bool
    ours: bool


@dataclass(frozen=True, slots=True)
class WriteAhead:
    """A journal. `held` frames are played by SQLite; `committed` were committed, as far as can be seen."""

    page_bytes: int
    salts: bytes
    frames: tuple[Frame, ...]
    held: int
    committed: int

    @property
    def rejected(self) -> int:
        """How many commits stand behind the place where SQLite stops."""
        return sum(1 for frame in self.frames[self.held : self.committed] if frame.ours and frame.size)


def beside(record: Path) -> Path:
    """The journal of a record."""
    return record.with_name(f"{record.name}-wal")


def read(record: Path) -> WriteAhead | None:
    """The journal beside a record; None where there is none with anything in it. Raises OSError."""
    path = beside(record)
    try:
        data = read_regular(path, LARGEST_BYTES)
    except FileNotFoundError:
        return None
    page_bytes, sound = _page_bytes(data), _header_is_sound(data)
    # A computer of the other byte order wrote it when the header says so; a broken header says nothing.
    order = ">" if sound and data[3] & 1 else "<"
    pieces = list(_pieces(data, page_bytes))
    if not pieces:
        return None
    salts = data[16:24] if sound else Counter(head[8:16] for head, _ in pieces).most_common(1)[0][0]
    frames, sums = [], struct.unpack(">II", data[24:32])
    held, goes_on = 0, sound
    for number, (head, content) in enumerate(pieces):
        page, size = struct.unpack(">II", head[:8])
        stored = struct.unpack(">II", head[16:24])
        whole = checksum(head[:8] + content, sums, order) == stored
        ours = head[8:16] == salts
        goes_on = goes_on and whole and ours
        held = number + 1 if goes_on and size else held
        frames.append(Frame(page, size, content, whole, ours))
        sums = stored
    committed = max((number + 1 for number, frame in enumerate(frames) if frame.ours and frame.size), default=0)
    return WriteAhead(page_bytes, salts, tuple(frames), held, max(held, committed))


def readable(record: Path) -> WriteAhead | None:
    """The journal beside a record; None also where it cannot be read, or is no file. Never raises."""
    try:
        return read(record)
    except OSError:
        return None


def written(journal: WriteAhead, frames: tuple[Frame, ...]) -> bytes:
    """A journal of these frames, with checksums that hold."""
    head = struct.pack(">IIII", MAGIC, VERSION, journal.page_bytes, 0) + journal.salts
    sums = checksum(head, (0, 0), "<")
    parts = [head, struct.pack(">II", *sums)]
    for frame in frames:
        about = struct.pack(">II", frame.page, frame.size)
        sums = checksum(about + frame.content, sums, "<")
        parts += [about, journal.salts, struct.pack(">II", *sums), frame.content]
    return b"".join(parts)


def mended(journal: WriteAhead) -> tuple[tuple[Frame, ...], ...]:
    """The ways to play all that was committed, the likeliest first: with the broken frames as they are, for a bit is
    less than a page, and without them, where an older state of the page does less harm. A frame that is neither whole
    nor ours was left there by an earlier journal."""
    committed = tuple(frame for frame in journal.frames[: journal.committed] if frame.whole or frame.ours)
    largest = max((frame.size for frame in committed if frame.whole), default=0)
    possible = tuple(frame for frame in committed if 0 < frame.page <= max(largest, 1))
    return possible, tuple(frame for frame in possible if frame.whole or frame.size)


def checksum(data: bytes, sums: Sums, order: str) -> Sums:
    """SQLite's checksum of whole pairs of words, going on from `sums`."""
    first, second = sums
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for one, other in zip(words[::2], words[1::2], strict=True):
        first = (first + one + second) & 0xFFFFFFFF
        second = (second + other + first) & 0xFFFFFFFF
    return first, second


def _header_is_sound(data: bytes) -> bool:
    magic, version = struct.unpack(">II", data[:8]) if len(data) >= HEADER_BYTES else (0, 0)
    if magic & ~1 != MAGIC or version != VERSION:
        return False
    return checksum(data[:24], (0, 0), ">" if magic & 1 else "<") == struct.unpack(">II", data[24:32])


def _page_bytes(data: bytes) -> int:
    """By the header, if it says something that can be."""
    if len(data) < HEADER_BYTES:
        return USUAL_PAGE
    (told,) = struct.unpack(">I", data[8:12])
    return told if 512 <= told <= 65536 and told & (told - 1) == 0 else USUAL_PAGE


def _pieces(data: bytes, page_bytes: int) -> Iterator[tuple[bytes, bytes]]:
    length = FRAME_BYTES + page_bytes
    begins = range(HEADER_BYTES, len(data) - length + 1, length)
    for begin in begins:
        yield data[begin : begin + FRAME_BYTES], data[begin + FRAME_BYTES : begin + length]
