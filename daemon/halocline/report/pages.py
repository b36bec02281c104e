"""The rows on a record's pages, read without SQLite, whose own reading stops where a table's description, its head or
its inner pages are broken. Format: sqlite.org/fileformat2.html, sections 1.6 and 2.

SQLite's command-line program has a `.recover` that does the same and more; Python's module has not, and it may not be
installed aboard. Only the leaf pages of tables are needed to get the rows back, and those are simple.
"""

import struct
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from halocline.report import write_ahead

TABLE_LEAF = 0x0D
HEAD_BYTES = 100
USUAL_PAGE = write_ahead.USUAL_PAGE
LARGEST_ROW_BYTES = 1_000_000
MAGIC = b"SQLite format 3\x00"

Row = tuple[Any, ...]
_WIDTHS = (0, 1, 2, 3, 4, 6, 8, 8)


class BrokenError(Exception):
    """What stands here is no row."""


class Pages:
    """A file's pages as its journal leaves them. Raises OSError."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("rb")
        head = self._file.read(HEAD_BYTES)
        (told,) = struct.unpack(">H", head[16:18]) if len(head) >= HEAD_BYTES else (0,)
        self.size = told if told >= 512 and told & (told - 1) == 0 else 65536 if told == 1 else USUAL_PAGE
        journal = write_ahead.readable(path)
        frames = () if journal is None else journal.frames[: journal.committed]
        self._newer: Mapping[int, bytes] = {frame.page: frame.content for frame in frames if frame.whole}
        in_file = (path.stat().st_size + self.size - 1) // self.size
        self.count = max([in_file, *(page for page in self._newer if page <= in_file + len(frames))])

    def close(self) -> None:
        """Lets the file go."""
        self._file.close()

    def page(self, number: int) -> bytes:
        """A page by its number, from 1; shorter where the file ends."""
        if number in self._newer:
            return self._newer[number]
        self._file.seek((number - 1) * self.size)
        return self._file.read(self.size)

    def rows(self) -> Iterator[tuple[int, Row] | None]:
        """Number and values of every row on any leaf of any table; None for one that cannot be read."""
        for number in range(1, self.count + 1):
            content = self.page(number)
            begin = HEAD_BYTES if number == 1 else 0
            if len(content) < begin + 8 or content[begin] != TABLE_LEAF:
                continue
            (cells,) = struct.unpack_from(">H", content, begin + 3)
            for cell in range(min(cells, (len(content) - begin - 8) // 2)):
                (at,) = struct.unpack_from(">H", content, begin + 8 + 2 * cell)
                try:
                    yield self._row(content, at)
                except (BrokenError, IndexError, struct.error, UnicodeDecodeError, OverflowError):
                    yield None

    def _row(self, content: bytes, at: int) -> tuple[int, Row]:
        length, at = _varint(content, at)
        number, at = _varint(content, at)
        if length > LARGEST_ROW_BYTES:
            raise BrokenError
        return _signed(number, 8), _values(self._payload(content, at, length))

    def _payload(self, content: bytes, at: int, length: int) -> bytes:
        """What is on the page, and on the chain of pages for what does not fit."""
        if length <= self.size - 35:
            return _exactly(content[at : at + length], length)
        least = (self.size - 12) * 32 // 255 - 23
        local = least + (length - least) % (self.size - 4)
        local = local if local <= self.size - 35 else least
        parts, left = [_exactly(content[at : at + local], local)], length - local
        (next_page,) = struct.unpack_from(">I", content, at + local)
        while left > 0:
            if not 0 < next_page <= self.count:
                raise BrokenError
            more = self.page(next_page)
            parts.append(_exactly(more[4 : 4 + min(left, self.size - 4)], min(left, self.size - 4)))
            left -= self.size - 4
            (next_page,) = struct.unpack_from(">I", more)
        return b"".join(parts)


def _values(payload: bytes) -> Row:
    head_bytes, at = _varint(payload, 0)
    kinds = []
    while at < head_bytes:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    if at != head_bytes:
        raise BrokenError
    values = []
    for kind in kinds:
        value, at = _value(payload, at, kind)
        values.append(value)
    if at != len(payload):
        raise BrokenError
    return tuple(values)


def _value(payload: bytes, at: int, kind: int) -> tuple[Any, int]:
    if kind in (8, 9):
        return kind - 8, at
    if kind >= 12:
        end = at + (kind - 12) // 2
        content = _exactly(payload[at:end], end - at)
        return (content.decode() if kind % 2 else content), end
    if kind > 7:
        raise BrokenError
    end = at + _WIDTHS[kind]
    content = _exactly(payload[at:end], end - at)
    if kind == 0:
        return None, end
    return (struct.unpack(">d", content)[0] if kind == 7 else int.from_bytes(content, "big", signed=True)), end


def _varint(content: bytes, at: int) -> tuple[int, int]:
    """One to nine bytes, seven bits each, all eight of the ninth."""
    value = 0
    for number in range(8):
        byte = content[at + number]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + number + 1
    return value << 8 | content[at + 8], at + 9


def _signed(number: int, width: int) -> int:
    return number - (1 << 8 * width) if number >> (8 * width - 1) else number


def _exactly(content: bytes, length: int) -> bytes:
    if len(content) != length:
        raise BrokenError
    return content


def with_mended_head(head: bytes, file_bytes: int, *, journal: bool) -> bytes:
    """The first hundred bytes of a file as they have to be for SQLite to look further; what only writers need is
    emptied, so this is for a copy that is read."""
    mended = bytearray(head.ljust(HEAD_BYTES, b"\x00")[:HEAD_BYTES])
    (told,) = struct.unpack(">H", mended[16:18])
    page_bytes = told if told >= 512 and told & (told - 1) == 0 else USUAL_PAGE
    mended[:16] = MAGIC
    struct.pack_into(">H", mended, 16, page_bytes)
    mended[18:24] = bytes([2 if journal else 1, 2 if journal else 1, 0, 64, 32, 32])
    struct.pack_into(">I", mended, 28, file_bytes // page_bytes)
    mended[32:40] = bytes(8)
    struct.pack_into(">I", mended, 44, 4)
    mended[52:56] = bytes(4)
    struct.pack_into(">I", mended, 56, 1)
    mended[62:72] = bytes(10)
    mended[72:92] = bytes(20)
    mended[92:96] = mended[24:28]
    return bytes(mended)
