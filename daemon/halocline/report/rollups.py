"""Roll-ups: the lowest, mean and highest value of every quantity over 10 s up to a day, as sums that can be added.

A roll-up is a function of the samples dated into its span, whatever their order: late rows, rows of a clock that was
set back and rows of two boots simply add up.
"""

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from halocline.plant.vocabulary import CHANNELS
from halocline.report.row_checksum import MARKERS
from halocline.report.schema import LEVELS, MARK, PLACE, QUANTITIES, ROLLUP_COLUMNS, rollup_table

Sample = Sequence[Any]
Column = Sequence[Any]

_WALL, _ROWS = PLACE["wall_s"], PLACE["rows"]
_PLACES = tuple(
    (PLACE[name], PLACE[f"{name}_min"], PLACE[f"{name}_max"]) if name in CHANNELS else (PLACE[name],) * 3
    for name in QUANTITIES
)
_NUMBERS = frozenset({float, int, type(None)})
_HOLDERS = ",".join("?" * (len(ROLLUP_COLUMNS) + 1))
_NAMES = ",".join(ROLLUP_COLUMNS)
_READ = {level_s: f"SELECT {_NAMES} FROM {rollup_table(level_s)} WHERE start_s = ?" for level_s in LEVELS}
_WRITE = {
    level_s: f"INSERT OR REPLACE INTO {rollup_table(level_s)} ({_NAMES},{MARK}) VALUES ({_HOLDERS})"
    for level_s in LEVELS
}


class Part(NamedTuple):
    """One quantity: how many rows had a value, their lowest, sum and highest."""

    n: int
    low: float
    total: float
    high: float


class Summary(NamedTuple):
    """All quantities over one span; None where no row had a value."""

    rows: int
    parts: tuple[Part | None, ...]


def summarise(samples: Sequence[Sample]) -> Summary:
    """The samples of one span."""
    columns = list(zip(*samples, strict=True))
    rows = columns[_ROWS]
    parts = (_part(columns[value], columns[low], columns[high], rows) for value, low, high in _PLACES)
    return Summary(sum(rows), tuple(parts))


def _part(values: Column, lows: Column, highs: Column, rows: Sequence[int]) -> Part | None:
    if None in values:
        kept = [row for row in zip(values, lows, highs, rows, strict=True) if row[0] is not None]
        return _part(*zip(*kept, strict=True)) if kept else None
    if None in lows or None in highs:
        lows = [value if low is None else low for low, value in zip(lows, values, strict=True)]
        highs = [value if high is None else high for high, value in zip(highs, values, strict=True)]
    n = sum(rows)
    total = sum(values) if n == len(values) else sum(value * count for value, count in zip(values, rows, strict=True))
    return Part(n, min(lows), total, max(highs))


def combine(summaries: Iterable[Summary]) -> Summary:
    """The sum of at least one."""
    several = list(summaries)
    if len(several) == 1:
        return several[0]
    columns = zip(*(summary.parts for summary in several), strict=True)
    return Summary(sum(summary.rows for summary in several), tuple(_combined(parts) for parts in columns))


def _combined(parts: Iterable[Part | None]) -> Part | None:
    known = [part for part in parts if part is not None]
    if not known:
        return None
    if len(known) == 1:
        return known[0]
    n, low, total, high = zip(*known, strict=True)
    return Part(sum(n), min(low), sum(total), max(high))


def roll_up(samples: Iterable[Sample]) -> dict[int, dict[int, Summary]]:
    """Level → start → summary of these samples, all of them dated; those that make no sense are left out."""
    several = list(samples)
    try:
        return _rolled_up(several)
    except TypeError:
        return _rolled_up([sample for sample in several if _makes_sense(sample)])


def _rolled_up(samples: Sequence[Sample]) -> dict[int, dict[int, Summary]]:
    finest, *coarser = LEVELS
    groups: dict[int, list[Sample]] = {}
    for sample in samples:
        groups.setdefault(int(sample[_WALL] // finest) * finest, []).append(sample)
    level = {start_s: summarise(group) for start_s, group in groups.items()}
    found = {finest: level}
    for level_s in coarser:
        gathered: dict[int, list[Summary]] = {}
        for start_s, summary in level.items():
            gathered.setdefault(start_s // level_s * level_s, []).append(summary)
        found[level_s] = level = {start_s: combine(several) for start_s, several in gathered.items()}
    return found


def _makes_sense(sample: Sample) -> bool:
    """A page of zeros on a worn card can read as rows of anything; they must not keep the rest from being rolled up."""
    numbers = all(type(sample[place]) in _NUMBERS for places in _PLACES for place in places)
    return numbers and type(sample[_WALL]) is float and type(sample[_ROWS]) is int and sample[_ROWS] > 0


def add(connection: sqlite3.Connection, samples: Iterable[Sample]) -> None:
    """Adds these samples to the roll-ups on file, within the caller's transaction."""
    for level_s, summaries in roll_up(samples).items():
        add_summaries(connection, level_s, summaries)


def add_summaries(connection: sqlite3.Connection, level_s: int, summaries: Mapping[int, Summary]) -> None:
    """Adds these summaries to one roll-up on file."""
    rows = []
    for start_s, summary in summaries.items():
        row = connection.execute(_READ[level_s], (start_s,)).fetchone()
        try:
            known = [] if row is None else [from_row(row)]
            rows.append(to_row(start_s, combine([*known, summary])))
        except TypeError:
            rows.append(to_row(start_s, summary))
    mark = MARKERS[rollup_table(level_s)]
    connection.executemany(_WRITE[level_s], [(*row, mark(row)) for row in rows])


def to_row(start_s: int, summary: Summary) -> tuple[Any, ...]:
    """A summary as the values of `ROLLUP_COLUMNS`."""
    return (start_s, summary.rows, *_values(summary))


def _values(summary: Summary) -> Iterator[Any]:
    for part in summary.parts:
        if part is None:
            yield from (None, None, None, None)
        else:
            n, low, total, high = part
            yield from (low, total / n, high, None if n == summary.rows else n)


def from_row(row: Sequence[Any]) -> Summary:
    """The other way round."""
    rows = row[1]
    parts: list[Part | None] = []
    for place in range(2, len(ROLLUP_COLUMNS), 4):
        low, mean, high, n = row[place : place + 4]
        n = rows if n is None else n
        parts.append(None if mean is None else Part(n, low, mean * n, high))
    return Summary(rows, tuple(parts))
