"""A mark on each row that tells whether it still says what was written: a CRC-32 of its values.

SQLite finds a page that has lost its shape, not a value that a worn card has changed within it. The mark is that of the
values that are there, in the alphabetical order of their columns, so columns that a later version adds change nothing.
`boot` is left out, because salvage gives boots other numbers, and so is an event's `wall_s`, which is learnt later.
Where a column or a text gets another name, its rows lose their marks.

The values are written down in the second format of Python's marshal, an eighth of the cost of any other here: `[` and
how many; a float as `g` and eight bytes, a whole number as `i` and four (a large one as `l`), a text as `u`, its length
and UTF-8, all little-endian. A test writes the same by hand, so that no later Python can change it unnoticed.
"""

import marshal
import zlib
from collections.abc import Sequence
from operator import itemgetter
from typing import Any

from halocline.report.schema import LEVELS, ROLLUP_COLUMNS, SAMPLE_COLUMNS, rollup_table

FORMAT = 2
EVENT_COLUMNS = ("seq", "mono_s", "kind", "body")


class Marker:
    """Makes the marks of rows of these columns, and looks whether they hold."""

    def __init__(self, columns: Sequence[str]) -> None:
        self.columns = tuple(columns)
        self._counts = [place for place, name in enumerate(columns) if name.endswith("_n")]
        self._rows = columns.index("rows") if self._counts else 0
        self._used = itemgetter(*(columns.index(name) for name in sorted(set(columns) - {"boot"})))

    def __call__(self, row: Sequence[Any]) -> int:
        """The row's mark, whatever its values are."""
        return zlib.crc32(marshal.dumps([value for value in self._used(row) if value is not None], FORMAT))

    def is_altered(self, row: Sequence[Any], mark: object, *, begun: bool = False) -> bool:
        """Whether the row says something else than was written. A broken length can push the mark out of its place;
        so one without a mark is believed only where marks had not `begun`, and as far as its counts can be."""
        if mark is not None:
            return mark != self(row)
        return begun or not all(_is_share(row[place], row[self._rows]) for place in self._counts)


def _is_share(count: object, rows: object) -> bool:
    """Of how many rows a quantity is, is written only where it is not of all."""
    return count is None or (isinstance(count, int) and isinstance(rows, int) and 0 < count < rows)


MARKERS = {
    "samples": Marker(SAMPLE_COLUMNS),
    "events": Marker(EVENT_COLUMNS),
    **{rollup_table(level_s): Marker(ROLLUP_COLUMNS) for level_s in LEVELS},
}
"""The tables whose rows carry marks: what was said, measured and made of it. The lists repeat what events say."""
